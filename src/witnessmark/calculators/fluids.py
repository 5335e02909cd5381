"""How much of a fluid: packs, stages, strokes, what stays inside, coolant, two-stroke mix, fork level, warmth."""

from __future__ import annotations

from typing import cast

from witnessmark.calculators.model import (
    Asked,
    Calculated,
    Calculator,
    Inputs,
    amount,
    amounts,
    number,
    share_percent,
    value_or,
    whole_number,
)
from witnessmark.calculators.places import placed
from witnessmark.charts.drawing import box, drawing, line, words
from witnessmark.fluids import containers, coolant, fork, mixing, stages, strokes
from witnessmark.units import exact, show

ARITHMETIC = "plain arithmetic"
HOT_OIL = "Hot oil burns: gloves, sleeves, eyes. The maker's manual comes first."
COOLANT = (
    "Never open a hot system: it scalds. Coolant is sweet and kills animals and children: catch it, "
    "close it, wash it off. It never goes into used oil. The maker's manual comes first."
)
PETROL = "Petrol burns and its vapour explodes: outside, engine cold, no spark, no flame."
LEGS_ALIKE = "Both legs alike: measure with the leg upright and pumped through, as the manual says."
ROOM = "Read a level as warm as the manual says. A brake reservoir filled to the brim can bind the brake."
FORK = "Springs are under load and legs may be: the maker's manual says how they come apart."


@placed("packs", volume="volume")
def _packs(inputs: Inputs) -> Calculated:
    need = amount(inputs, "volume")
    sizes = amounts(inputs, "packs", "volume", "L")
    found = containers(need.value, [size.value for size in sizes])
    named = {size.value: size.understood for size in sizes}
    opened = ", ".join(f"{number} × {named[size]}" for size, number in found.packs)
    left = f" ({show(found.left_over_ml, 'volume')} left over)" if found.left_over_ml else ""
    return Calculated(
        said=f"Open {opened}{left}.",
        lines=(("in all", show(found.total_ml, "volume")), ("packs", str(found.count)),
               ("in US quarts", exact(need.value, "volume", "US qt"))),
        formula="least left over, then fewest packs: every sum of packs is gone through",
        put_in=(),
        source=f"{ARITHMETIC}; US quart by NIST Handbook 44",
    )  # fmt: skip


@placed("held_back", filling="volume", hold_back="held_back")
def _stages(inputs: Inputs) -> Calculated:
    whole, held = amount(inputs, "volume"), amount(inputs, "held_back")
    made = stages(whole.value, held.value)
    first, rest = show(made.first_ml, "volume"), show(made.top_up_ml, "volume")
    return Calculated(
        said=f"First {first}; run the engine, let it settle; then up to {rest} to the mark.",
        lines=(("first", first), ("then, to the mark", rest),
               ("the whole in US quarts", exact(whole.value, "volume", "US qt"))),
        formula="first = whole − held back",
        put_in=(),
        source="common practice, no source: the filter fills only as the engine runs",
        picture=_stages_drawn(made.first_ml / whole.value, first, rest),
    )  # fmt: skip


def _stages_drawn(share: float, first: str, rest: str) -> str:
    height = 150.0
    level = 170 - height * share
    return drawing(
        f"A filling in two stages: first {first}, then {rest} to the mark",
        320, 190,
        box(20, 20, 90, height), box(20, level, 90, height * share, filled=True),
        line(110, level, 130, level), words(138, level + 5, f"first {first}"),
        line(110, 20, 130, 20, dashed=True), words(138, 25, f"then {rest}, to the mark"),
    )  # fmt: skip


@placed("syringe", volume="volume")
def _strokes(inputs: Inputs) -> Calculated:
    made = strokes(amount(inputs, "volume").value, amount(inputs, "syringe").value)
    return Calculated(
        said=f"Fill the syringe {made.count} {'times' if made.count > 1 else 'time'}: {made.words}.",
        lines=(("strokes", str(made.count)), ("the last one", show(made.last_ml, "volume"))),
        formula="strokes = volume ÷ syringe, taken up to whole ones; the last one is the rest",
        put_in=(),
        source=ARITHMETIC,
    )


@placed("came_out", whole="whole", stays="came_out", fills="fills", volume="whole")
def _stays(inputs: Inputs) -> Calculated:
    whole, out = amount(inputs, "whole").value, amount(inputs, "came_out").value
    stays, fills = mixing.stays_inside(whole, out), whole_number(inputs, "fills", 1)
    old = mixing.old_share(stays, whole, fills)
    wanted = number(inputs, "at_most", 5.0)
    times = mixing.fills_until(stays, whole, wanted / 100) if stays else 1
    return Calculated(
        said=f"{show(stays, 'volume') if stays else 'Nothing'} stays inside; after {fills} fill"
        f"{'s' if fills > 1 else ''} {old * 100:.3g} % of what is in there is old.",
        lines=(("stays inside", f"{stays / whole * 100:.3g} % of the whole"),
               (f"fills until at most {wanted:g} % is old", str(times))),
        formula="old share = (what stays ÷ whole) ^ fills",
        put_in=(),
        source=f"{ARITHMETIC}; each fill is taken to mix with all that stayed",
    )  # fmt: skip


@placed("wanted", percent="now", freeze_point="wanted", whole="whole", concentrate="concentrate")
def _coolant(inputs: Inputs) -> Calculated:
    glycol = cast("coolant.Glycol", inputs["glycol"])
    whole, now = amount(inputs, "whole").value, share_percent(inputs, "now")
    poured = share_percent(inputs, "concentrate", 100.0)
    goal = coolant.percent_for(glycol, amount(inputs, "wanted").value)
    lines = [("percent needed, by volume", f"{goal:.3g} %")]
    if now <= coolant.MOST_PERCENT:
        lines.insert(0, ("freezes now at", coolant.freeze_point(glycol, now).words))
    else:
        lines.insert(
            0,
            (
                "freezes now at",
                f"not known: the tables kept here end at {coolant.MOST_PERCENT:g} %",
            ),
        )
    if coolant.MOST_PERCENT >= now >= goal:
        said = f"Leave it: {now:g} % of {glycol} is good for that."
    else:
        step = coolant.refill(whole, now, goal, poured)
        said = f"Drain {show(step.drain_ml, 'volume')} and fill as much of {poured:g} % coolant."
        lines.append(("then freezes at", coolant.freeze_point(glycol, goal).words))
    return Calculated(
        said=said,
        lines=tuple(lines),
        formula="drain = whole × (wanted % − now %) ÷ (poured % − now %)",
        put_in=(),
        source="freeze points: ASHRAE Handbook, Fundamentals (from memory; within 0.3 K of a library that fits it) "
        "and Lange's Handbook, table 5.13; where both speak, the warmer counts",
        warnings=("A ready coolant's own label comes first; a refractometer tells what is really in it.",),
    )  # fmt: skip


@placed("ratio", petrol="petrol", tank="petrol", volume="petrol")
def _two_stroke(inputs: Inputs) -> Calculated:
    petrol, ratio = amount(inputs, "petrol").value, number(inputs, "ratio")
    made = mixing.two_stroke(petrol, ratio)
    lines: list[tuple[str, str]] = [
        ("oil in US fluid ounces", exact(made.oil_ml, "volume", "US fl oz"))
    ]
    if "ratio_in" in inputs:
        oil, more = mixing.two_stroke_correction(petrol, number(inputs, "ratio_in"), ratio)
        what = (
            f"add {show(oil, 'volume')} of oil" if oil else f"add {show(more, 'volume')} of petrol"
        )
        lines.append(("if that much is already mixed", what if oil or more else "it is right"))
    return Calculated(
        said=f"Add {made.words}.",
        lines=tuple(lines),
        formula="oil = petrol ÷ ratio",
        put_in=(),
        source=f"{ARITHMETIC}; the ratio is in the maker's manual",
    )


@placed("bore", measured="measured", wanted="wanted", bore="bore", rod="rod")
def _gap(inputs: Inputs) -> Calculated:
    measured, wanted, bore = (amount(inputs, name).value for name in ("measured", "wanted", "bore"))
    made = fork.set_gap(measured, wanted, bore, value_or(inputs, "rod"))
    words_said = made.words
    return Calculated(
        said=f"{words_said[0].upper()}{words_said[1:]} in this leg.",
        lines=(("oil per millimetre of gap", f"{made.ml_per_mm:.3g} mL"),
               ("the level moves by", show(abs(measured - wanted), "length"))),
        formula="oil = (gap measured − gap wanted) × π ÷ 4 × (bore² − rod²)",
        put_in=(),
        source="plain geometry; the gap wanted, and with which spring, is in the maker's manual",
        warnings=(LEGS_ALIKE,),
        picture=_gap_drawn(show(wanted, "length")),
    )  # fmt: skip


def _gap_drawn(gap: str) -> str:
    return drawing(
        f"A fork leg, cut: the gap of {gap} from the rim of the tube down to the oil",
        260, 240,
        line(60, 20, 60, 220, thick=3), line(120, 20, 120, 220, thick=3), line(60, 220, 120, 220, thick=3),
        box(61, 120, 58, 100, filled=True), line(120, 20, 165, 20, dashed=True), line(120, 120, 165, 120, dashed=True),
        line(150, 24, 150, 116), words(160, 75, f"gap {gap}"), words(130, 175, "oil"),
    )  # fmt: skip


@placed("volume", warmer="to")
def _warmth(inputs: Inputs) -> Calculated:
    volume = amount(inputs, "volume")
    warmer = amount(inputs, "to").value - amount(inputs, "from_").value
    grown = mixing.expansion_ml(volume.value, warmer)
    low, high = (mixing.expansion_ml(volume.value, warmer, k) for k in mixing.OIL_PER_KELVIN_RANGE)
    trapped_kpa = abs(mixing.trapped_rise_bar(warmer)) * 100
    verb = "grows" if grown >= 0 else "shrinks"
    return Calculated(
        said=f"It {verb} by about {_about(grown)}.",
        lines=(("by its density, between", f"{_about(low)} and {_about(high)}"),
               ("shut in without room, the pressure moves by", show(trapped_kpa, "pressure"))),
        formula="change = volume × 0.0007 per K × (to − from)",
        put_in=(),
        source="coefficients 0.0006 to 0.0008 per K: a hydraulics textbook, 0.0007 between them from memory; "
        "11 bar per K: a fluid-power rule of thumb",
        warnings=(ROOM,),
    )  # fmt: skip


def _about(ml: float) -> str:
    """Three significant digits: more would be pretended."""
    return show(float(f"{abs(ml):.3g}"), "volume")


GLYCOLS = ("ethylene glycol", "propylene glycol")
CALCULATORS: tuple[Calculator, ...] = (
    Calculator("packs", "Packs to open", "Which packs cover a volume, with the least left over.", (
        Asked("volume", "Volume needed", "volume", "4.5 L"),
        Asked("packs", "Sizes there are", "lines", "1 L\n4 L", help="One a line."),
    ), _packs,
       also=("bottles", "cans", "litres", "oil to open")),
    Calculator("stages", "Filling in two stages", "How much first, and how much to the mark once it has run.", (
        Asked("volume", "Whole filling", "volume", "4.5 L"),
        Asked("held_back", "Held back", "volume", "1 L"),
    ), _stages, HOT_OIL,
       also=("top up", "oil level", "dipstick", "sight glass")),
    Calculator("strokes", "Strokes of a syringe", "How often a syringe is filled for a volume.", (
        Asked("volume", "Volume", "volume", "180 mL"),
        Asked("syringe", "What the syringe holds", "volume", "60 mL"),
    ), _strokes,
       also=("bleeding", "draw off")),
    Calculator("left-inside", "What stays inside", "What a drain left, and how much old fluid is in the fresh fill.", (
        Asked("whole", "Whole filling, dry", "volume", "3.6 L"),
        Asked("came_out", "What came out", "volume", "3.1 L"),
        Asked("fills", "Drained and filled so many times", "number", "1", optional=True),
        Asked("at_most", "At most so much old", "number", "5", optional=True, unit="%"),
    ), _stays, HOT_OIL,
       also=("oil change", "flushing", "residue")),
    Calculator("coolant", "Coolant: freeze point and refill", "What to drain and fill so that it freezes no earlier.", (
        Asked("glycol", "Glycol", "choice", "ethylene glycol", GLYCOLS),
        Asked("whole", "Whole system", "volume", "2.2 L"),
        Asked("now", "Glycol in it now, by volume", "number", "30", unit="%"),
        Asked("wanted", "Good down to", "temperature", "-30 °C"),
        Asked("concentrate", "Glycol in what is poured", "number", "100", optional=True, unit="%"),
    ), _coolant, COOLANT,
       also=("antifreeze", "radiator", "frost")),
    Calculator("two-stroke", "Two-stroke mix", "Oil for a volume of petrol, and how to put a wrong mix right.", (
        Asked("petrol", "Petrol", "volume", "5 L"),
        Asked("ratio", "Oil to petrol", "ratio", "1:50", help="Or the parts of petrol to one of oil: 50; or 2 %."),
        Asked("ratio_in", "What is in the tank", "ratio", "1:30", optional=True),
    ), _two_stroke, PETROL,
       also=("premix", "petroil", "gasoline", "fuel mix")),
    Calculator("air-gap", "Fork oil by air gap", "How much to add or draw off so that the gap is right.", (
        Asked("measured", "Gap measured", "length", "118 mm"),
        Asked("wanted", "Gap wanted", "length", "130 mm"),
        Asked("bore", "Inside of the tube", "length", "37 mm"),
        Asked("rod", "Rod that stands in it", "length", "12 mm", optional=True),
    ), _gap, FORK,
       also=("fork level", "oil level", "suspension")),
    Calculator("warm-oil", "What warmth does to a filling", "How much oil grows when it warms.", (
        Asked("volume", "Volume", "volume", "3.6 L"),
        Asked("from_", "From", "temperature", "20 °C"),
        Asked("to", "To", "temperature", "90 °C"),
    ), _warmth,
       also=("expansion", "cold level", "overfull")),
)  # fmt: skip
