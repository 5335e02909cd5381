"""Of what: oil grades, clutch ratings, viscosity, fork oil blends, brake fluid and the water in it."""

from __future__ import annotations

from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    amount,
    maybe_amount,
    number,
)
from witnessmark.calculators.places import placed
from witnessmark.fluids import Bottle, FluidError, Wanted, brake, clutch, grades, judge, viscosity
from witnessmark.fluids.bottle import BottleFit
from witnessmark.units import show

MM2 = "mm²/s"
NOT_BY_W = "Both viscosities at one temperature, from the data sheets; never by the W, which follows no standard here."
ESTIMATE = "Oils with viscosity index improvers may come out differently: an estimate."
BRAKE = (
    "Brake fluid burns eyes and strips paint: goggles, gloves, water at hand. Brakes are work for "
    "those who know them; the maker's manual and local law come first."
)
FAMILIES = (
    "engine oil", "gear oil", "fork oil", "glycol brake fluid", "silicone brake fluid", "mineral clutch oil", "coolant",
)  # fmt: skip


@placed("wanted")
def _blend(inputs: Inputs) -> Calculated:
    wanted, first, second = (number(inputs, name) for name in ("wanted", "first", "second"))
    total = amount(inputs, "volume").value
    made = viscosity.share(wanted, first, second, total)
    straight = (first * made.first_ml + second * made.second_ml) / total
    return Calculated(
        said=f"{show(round(made.first_ml, 1), 'volume')} of the first and "
        f"{show(round(made.second_ml, 1), 'volume')} of the second.",
        lines=(("share of the first", f"{made.first_share * 100:.3g} %"),
               ("by straight proportion it would be", f"{straight:.3g} {MM2}, which is wrong")),
        formula="log log z of the blend = mean of log log z by volume; z = viscosity + 0.7",
        put_in=(),
        source="ASTM blending method of ASTM D7152 on the function of ASTM D341 (equation from memory)",
        warnings=(NOT_BY_W, ESTIMATE),
    )  # fmt: skip


@placed("at_40", viscosity="at_40", temperature="at")
def _at(inputs: Inputs) -> Calculated:
    at_40, at_100, at = number(inputs, "at_40"), number(inputs, "at_100"), amount(inputs, "at")
    found = viscosity.walther((40, at_40), (100, at_100)).at(at.value)
    index = viscosity.viscosity_index(at_40, at_100)
    grade = viscosity.iso_grade(at_40)
    named = ", ".join(one.words for one in grades.grade_of(at_100)) if at_100 < 1000 else ""
    return Calculated(
        said=f"About {found:.3g} {MM2} at {at.understood}.",
        lines=(("viscosity index", f"{index:.0f}"),
               ("ISO grade", f"VG {round(grade)}" if grade else "between two grades"),
               ("grades with that viscosity at 100 °C", named or "none")),
        formula="log log (viscosity + 0.7) = A − B log T, through the two viscosities",
        put_in=(),
        source="ASTM D341 (equation); ASTM D2270 / ISO 2909 (index; its coefficients from memory, held "
        "against a general library); ISO 3448 (grades); SAE J300, SAE J306",
        warnings=() if at.value >= 0 else ("Below 0 °C an oil is thicker than the line says once wax forms.",),
    )  # fmt: skip


@placed("bottle")
def _bottle(inputs: Inputs) -> Calculated:
    family, asked, label = (str(inputs[name]) for name in ("family", "wanted", "bottle"))
    wet = inputs.get("clutch") == "in the oil"
    for field, text in (("bottle", label), ("wanted", asked)):
        _readable(field, text)
    verdict = judge(Wanted(family, asked, wet_clutch=wet), Bottle(family, label))
    return Calculated(
        said=f"{_verdict(verdict)}.",
        lines=tuple(_ranges(label)),
        formula="family, then base, then grade and class as the book names them, then the clutch rating",
        put_in=(),
        source="SAE J300 (2015 and later), SAE J306 (2019), JASO T903, FMVSS 116, ISO 4925 (from memory); "
        "what is allowed is in the machine's own manual",
        warnings=(BRAKE,) if "brake" in family or "clutch" in family else (),
    )  # fmt: skip


def _readable(field: str, text: str) -> None:
    """Refuse a grade, rating or class that does not exist."""
    for read in (grades.grades_in, clutch.printed, brake.classes_in):
        try:
            read(text)
        except FluidError as error:
            raise CalculationError(field, error.problem, error.expected) from error


def _verdict(verdict: BottleFit) -> str:
    said = verdict.words
    return f"{said[0].upper()}{said[1:]}"


def _ranges(label: str) -> list[tuple[str, str]]:
    found = []
    for grade in grades.grades_in(label):
        low, high = grade.range_100
        most = f" to less than {high:g}" if high else " or more"
        found.append((f"{grade.words}, at 100 °C", f"{low:g}{most} {MM2}"))
    for name in brake.classes_in(label):
        limits = brake.CLASSES[name]
        dry, wet = (show(celsius, "temperature") for celsius in (limits.dry_c, limits.wet_c))
        found.append((f"{name} boils at", f"{dry} dry, {wet} wet, at least; {limits.base}"))
    found += [(f"JASO {rating}", _for(rating)) for rating in clutch.printed(label).ratings]
    return found


def _for(rating: str) -> str:
    return "for a wet clutch" if rating in clutch.WET else "not for a wet clutch"


@placed("water", class_="class_", boiling_point="boils")
def _brake(inputs: Inputs) -> Calculated:
    label = str(inputs["label"])
    try:
        name = brake.read_class(label)
        base = brake.base_in(label)
    except FluidError as error:
        raise CalculationError("label", error.problem, error.expected) from error
    water, measured = inputs.get("water"), maybe_amount(inputs, "boils")
    if water is not None and base == "silicone":
        problem = (
            f"{name} is silicone, which takes up no water to speak of: its share tells nothing"
        )
        expected = "leave it empty; give where it boils, if that was measured"
        raise CalculationError("water", problem, expected)
    test = brake.judged(
        label,
        water=None if water is None else number(inputs, "water"),
        boils_c=measured.value if measured else None,
    )
    limits = brake.CLASSES[name]
    lines = [(f"{name}, at least", f"{show(limits.dry_c, 'temperature')} dry, {show(limits.wet_c, 'temperature')} wet"),
             ("base", f"{base}: it never mixes with another"), ("source of the class", limits.source)]  # fmt: skip
    if water is not None and name != brake.CURVE_OF:
        lines.insert(0, ("the curve of water", (f"is of {brake.CURVE_OF} and of glycol fluids of the 1970s; "
                         f"{name} may boil later: measure where it boils")))  # fmt: skip
    return Calculated(
        said=f"{test.said[:1].upper()}{test.said[1:]}."
        if test.said
        else f"{name} is a {base} fluid.",
        lines=tuple(lines),
        formula="where it boils, measured or by the curve of water, against the least, wet, of its class and 5 K; "
        "water against 3 %; the one that is worse decides",
        put_in=(),
        source="TRRL report LR903 and a trade article (water and boiling, of DOT 3 fluid); FMVSS 116; ISO 4925 and "
        "SAE J1704 from memory; 3 %: common practice, no source; 5 K: judged by us",
        warnings=(brake.AGE_SAYS_LITTLE,),
    )


@placed("dfi", DFI="dfi", SFI="sfi", STI="sti")
def _clutch(inputs: Inputs) -> Calculated:
    indices = [number(inputs, name) for name in ("dfi", "sfi", "sti")]
    rating = clutch.classify(*indices)
    bands = clutch.BANDS[rating]
    return Calculated(
        said=f"JASO {rating}: {_for(rating)}.",
        lines=tuple((name, f"{band.least:g} to {band.most:g}")
                    for name, band in zip(clutch.INDICES, bands, strict=True)),
        formula="MA2 or MA1 only with all three indices in it; a low one makes MB; the rest is MA",
        put_in=(),
        source="JASO T903:2016 Annex A; MA2's lowest DFI and class MB from memory",
    )  # fmt: skip


CALCULATORS: tuple[Calculator, ...] = (
    Calculator("bottle", "Is this bottle allowed?", "A label held against what the machine's book asks for.", (
        Asked("family", "Fluid", "choice", "engine oil", FAMILIES),
        Asked("wanted", "What the book asks for", "words", "SAE 10W-40, JASO MA2"),
        Asked("bottle", "What the label says", "words", "SAE 10W-40, API SN"),
        Asked("clutch", "Clutch", "choice", "in the oil", ("in the oil", "dry or elsewhere"), optional=True),
    ), _bottle,
       also=("right oil", "grade", "JASO", "wet clutch")),
    Calculator("fork-oil-blend", "Blending two fork oils", "How much of each for a viscosity, by mm²/s and not by W.", (
        Asked("wanted", "Viscosity wanted", "number", "30", unit=MM2),
        Asked("first", "First oil", "number", "22", unit=MM2),
        Asked("second", "Second oil", "number", "46", unit=MM2),
        Asked("volume", "Blend in all", "volume", "1 L"),
    ), _blend,
       also=("suspension fluid", "mixing", "5W", "10W")),
    Calculator("viscosity", "Viscosity at a temperature", "An oil's viscosity between and beyond 40 and 100 °C.", (
        Asked("at_40", "At 40 °C", "number", "73.3", unit=MM2),
        Asked("at_100", "At 100 °C", "number", "8.86", unit=MM2),
        Asked("at", "Asked at", "temperature", "60 °C"),
    ), _at,
       also=("SAE", "centistokes", "cSt", "thick", "thin")),
    Calculator("brake-fluid", "Brake fluid and water", "What a test of the fluid says of it.", (
        Asked("label", "What is in the circuit", "words", "DOT 4"),
        Asked("water", "Water measured", "number", "2", optional=True, unit="%"),
        Asked("boils", "Boiling point measured", "temperature", "165 °C", optional=True),
    ), _brake, BRAKE,
       also=("DOT 4", "moisture", "wet boiling point", "tester")),
    Calculator("clutch-rating", "Clutch rating from its indices", "The JASO class of an oil by its data sheet.", (
        Asked("dfi", "Dynamic friction index, DFI", "number", "1.9"),
        Asked("sfi", "Static friction index, SFI", "number", "1.8"),
        Asked("sti", "Stop time index, STI", "number", "1.95"),
    ), _clutch,
       also=("JASO MA2", "slipping clutch", "wet clutch")),
)  # fmt: skip
