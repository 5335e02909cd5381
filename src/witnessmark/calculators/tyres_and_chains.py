"""Tyres and chains: what is marked on them, how old, how worn, and a pressure at another temperature."""

from __future__ import annotations

from witnessmark import decode, units
from witnessmark.calculators.decoder_pictures import tyre_picture
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    amount,
    believable,
    maybe_amount,
    number,
    value_or,
    whole_number,
)
from witnessmark.calculators.system import today
from witnessmark.decode.chains import LIMIT_SOURCE, WEAR_SOURCE, pitch_by_rule, width_by_rule
from witnessmark.decode.chains import SOURCE as CHAIN_SOURCE
from witnessmark.decode.tyre_dates import SOURCE as DATE_SOURCE
from witnessmark.decode.tyre_pressure import ATMOSPHERE_KPA, COLD, KELVIN
from witnessmark.decode.tyre_pressure import SOURCE as GAS
from witnessmark.decode.tyre_tables import DIRECTION, TREAD_LIMITS
from witnessmark.decode.tyres import SOURCE as MARKING_SOURCE
from witnessmark.facts import belief

TYRE = (
    "A tyre that is worn, cracked, too old or of the wrong size throws the rider: the machine's manual "
    "and local law decide."
)
SHORTEST_PERCENT = -5.0  # judged by us: shorter than that, links or unit are wrong
UNEVEN = "Measure under tension, at the tightest place and the slackest: wear is uneven (common practice, no source)."
LAW = "Laws change: where it matters, read the law of the place."


def _marking(inputs: Inputs) -> Calculated:
    written = str(inputs["marking"])
    read = decode.read_marking(written, today(), place="marking")
    lines: list[tuple[str, str]] = []
    if size := read.size:
        lines.append(
            (
                "size",
                f"{size.written}: {size.width_mm:.0f} mm wide, rim {size.rim_in:g} in, {size.construction}",
            )
        )
        lines.append(("nominal diameter", f"{size.diameter_mm:.0f} mm"))
    if read.rating:
        lines.append(("load and speed", read.rating.words))
    elif read.words_of_speed:
        lines.append(("speed", read.words_of_speed))
    if read.made:
        lines += [("made", read.made.words), ("age", decode.age_words(read.made, today()))]
    lines += list(read.words)
    lines += [("direction", DIRECTION)] if read.directed else []
    lines += [(f"not read: {part}", why) for part, why in read.unread]
    return Calculated(
        said=f"{lines[0][1]}." if lines else "Nothing of it could be read.",
        lines=tuple(lines),
        formula="outer diameter = rim × 25.4 mm + 2 × width × height in percent",
        put_in=(("marking", written),),
        source=MARKING_SOURCE,
        warnings=(f"{len(read.unread)} of its parts could not be read.",) if read.unread else (),
        picture=tyre_picture(read),
    )


def _age(inputs: Inputs) -> Calculated:
    made = decode.read_date_code(str(inputs["code"]), today(), place="code")
    old = decode.age_words(made, today())
    return Calculated(
        said=f"{made.words[:1].upper()}{made.words[1:]}; {old}.",
        lines=(("made", made.words), ("age", old)),
        formula="week and year; four digits since July 2000, three before, which do not tell the decade",
        put_in=(("code", made.written),),
        source=f"{DATE_SOURCE}; what an age asks for: common practice, no source",
    )


def _pressure(inputs: Inputs) -> Calculated:
    pressure, at, to = (amount(inputs, name) for name in ("pressure", "at", "to"))
    atmosphere = value_or(inputs, "atmosphere", ATMOSPHERE_KPA)
    then = decode.pressure_at(pressure.value, at.value, to.value, atmosphere_kpa=atmosphere)
    bar, psi = (units.show(then, "pressure", unit=unit) for unit in ("bar", "psi"))
    hot = (
        ("Measured hot: let no air out, it will be too low when cold.",)
        if at.value > to.value
        else ()
    )
    return Calculated(
        said=f"{pressure.understood} at {at.understood} is {bar} ({psi}) at {to.understood}.",
        lines=(
            ("difference", units.show(then - pressure.value, "pressure")),
            ("per 10 °C", _per_ten(pressure.value, at.value, atmosphere)),
        ),
        formula=f"(gauge + {atmosphere:g} kPa) × (t2 + {KELVIN}) / (t1 + {KELVIN}) − {atmosphere:g} kPa",
        put_in=(
            ("pressure", f"{pressure.understood}, above the air outside"),
            ("at", at.understood), ("to", to.understood),
            ("air outside", f"{atmosphere:g} kPa"),
        ),
        source=GAS,
        warnings=hot,
    )  # fmt: skip


def _per_ten(gauge_kpa: float, celsius: float, atmosphere: float) -> str:
    step = (gauge_kpa + atmosphere) * 10 / (celsius + KELVIN)
    return units.show(step, "pressure")


def _tread(inputs: Inputs) -> Calculated:
    depth, gauge = amount(inputs, "depth"), maybe_amount(inputs, "resolution")
    believable("depth", [depth], belief.TREAD)
    limit = decode.tread_limit(str(inputs["country"]))
    said = decode.tread_words(depth.value, limit, value_or(inputs, "resolution"))
    lines = [("limit", f"{limit.depth_mm:g} mm, {limit.place}, {limit.applies_to}")]
    lines += [("measured where", limit.note)] if limit.note else []
    return Calculated(
        said=f"{said}.",
        lines=tuple(lines),
        formula="depth against the least depth of the law, the gauge's resolution on both sides",
        put_in=(
            ("depth", depth.understood),
            ("country", limit.key),
            ("resolution", gauge.understood if gauge else "none given"),
        ),
        source=limit.source,
        warnings=(LAW,),
    )


def _chain(inputs: Inputs) -> Calculated:
    read = decode.read_chain(str(inputs["marking"]), place="marking")
    chain = read.chain
    lines = [
        ("pitch", f"{chain.pitch_mm:g} mm"),
        ("roller, at most", f"{chain.roller_mm:g} mm"),
        ("inner width, at least", f"{chain.inner_mm:g} mm"),
    ]
    lines += [("by its number", _by_number(chain.name))] if chain.name.isdecimal() else []
    lines += [("strands", str(read.strands))] if read.strands > 1 else []
    lines += (
        [("links", str(read.links)), ("length new", f"{read.links * chain.pitch_mm:g} mm")]
        if read.links
        else []
    )
    lines += [("not a size", f"{read.rest}: the maker's own letters")] if read.rest else []
    return Calculated(
        said=f"{chain.name}: pitch {chain.pitch_mm:g} mm, roller {chain.roller_mm:g} mm, inside {chain.inner_mm:g} mm.",
        lines=tuple(lines),
        formula="three digits: first / 8 in is the pitch, the others / 80 in the inner width (not for 428 and 532)",
        put_in=(("marking", str(inputs["marking"])),),
        source=f"{chain.source}; {CHAIN_SOURCE}",
        warnings=(
            "Chain and sprockets are of one size: renew them together (common practice, no source).",
        ),
    )


def _by_number(number: str) -> str:
    width = width_by_rule(number)
    inside = "its width does not follow the rule" if width is None else f"{width:.2f} mm inside"
    return f"pitch {pitch_by_rule(number):.3f} mm, {inside}"


def _wear(inputs: Inputs) -> Calculated:
    read = decode.read_chain(str(inputs["chain"]), place="chain")
    links = whole_number(inputs, "links")
    length = amount(inputs, "length")
    grown = decode.elongation_percent(length.value, links, read.chain.pitch_mm)
    new = links * read.chain.pitch_mm
    if grown < SHORTEST_PERCENT:
        problem = f"{length.understood} is {-grown:.1f} % shorter than {links:g} links are new"
        raise CalculationError(
            "length",
            problem,
            f"count the links and measure again, {units.show(new, 'length')} or more",
        )
    limit, source = _limit(inputs)
    doubt = value_or(inputs, "resolution") / new * 100
    if limit is not None:
        said = decode.wear_words(grown, limit, doubt)
    elif grown < 0:
        said = f"{-grown:.2f} % shorter than new: measured slack, or links miscounted"
    else:
        said = f"{grown:.2f} % longer than new"
    lines = [("not a size", f"{read.rest}: the maker's own letters")] if read.rest else []
    lines += [
        ("length new", units.show(new, "length")),
        ("grown", units.show(round(length.value - new, 2), "length")),
    ]
    if limit is not None:
        lines += [
            ("limit", f"{limit:g} %, {source}"),
            (
                "length at the limit",
                units.show(decode.length_at(limit, links, read.chain.pitch_mm), "length"),
            ),
        ]
    return Calculated(
        said=f"{said}.",
        lines=tuple(lines),
        formula=WEAR_SOURCE,
        put_in=(
            ("chain", f"{read.chain.name}, pitch {read.chain.pitch_mm:g} mm"),
            ("links", f"{links:g}"),
            ("length", length.understood),
        ),
        source=f"plain arithmetic; limit: {source}",
        warnings=(UNEVEN,),
    )


def _limit(inputs: Inputs) -> tuple[float | None, str]:
    """The manual's limit, else the chain makers' general one where the teeth are told."""
    general = decode.published_limit(whole_number(inputs, "teeth")) if "teeth" in inputs else None
    if "limit" in inputs:
        limit = number(inputs, "limit")
        if not 0 < limit <= 10:
            raise CalculationError(
                "limit", f"{limit:g} % is no limit of a chain", "give more than 0 to 10 %"
            )
        return limit, "from the machine's manual, as entered"
    if general is not None:
        return general, LIMIT_SOURCE
    return None, "none given: the machine's manual has it"


CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        name="tyre-marking",
        title="Tyre marking",
        text="Size, load, speed, date and direction, as they stand on its side.",
        asked=(Asked("marking", "What stands on the tyre", "words", "120/70 ZR 17 M/C (58W) TUBELESS DOT 2319"),),
        calculate=_marking,
        caution=TYRE,
        also=("tire", "sidewall", "load index", "speed index", "dimension"),
    ),
    Calculator(
        name="tyre-age",
        title="Tyre age",
        text="The last digits after DOT: week and year.",
        asked=(Asked("code", "Date code", "words", "2319", help="Three digits: made before 2000."),),
        calculate=_age,
        caution=TYRE,
        also=("tire", "DOT code", "old tyre", "made"),
    ),
    Calculator(
        name="tyre-pressure",
        title="Tyre pressure at another temperature",
        text="What a pressure becomes when the tyre is warmer or colder.",
        asked=(
            Asked("pressure", "Pressure on the gauge", "pressure", "2.5 bar"),
            Asked("at", "Temperature of the tyre then", "temperature", "40 °C"),
            Asked("to", "Temperature wanted", "temperature", "20 °C"),
            Asked("atmosphere", "Air pressure outside", "pressure", "1013 hPa", optional=True,
                  help="Left empty: 1013.25 hPa. In the mountains it is lower."),
        ),
        calculate=_pressure,
        caution=COLD,
        also=("tire", "cold pressure", "inflation"),
    ),
    Calculator(
        name="tread-depth",
        title="Tread depth by law",
        text="A measured depth against the least that the law of the place allows.",
        asked=(
            Asked("depth", "Depth", "length", "1.7 mm"),
            Asked("country", "Place and class", "choice", "germany", tuple(limit.key for limit in TREAD_LIMITS)),
            Asked("resolution", "The gauge reads to", "length", "0.1 mm", optional=True),
        ),
        calculate=_tread,
        caution=TYRE,
        also=("tire", "profile", "legal limit", "worn tyre"),
    ),
    Calculator(
        name="chain",
        title="Chain marking",
        text="Pitch, roller and width of a chain by its number.",
        asked=(Asked("marking", "Number on the side plate", "words", "520"),),
        calculate=_chain,
        also=("drive chain", "chain size", "520", "525", "530"),
    ),
    Calculator(
        name="chain-wear",
        title="Chain wear",
        text="How much a chain has grown, against the limit of the machine's manual.",
        asked=(
            Asked("chain", "Chain", "words", "520"),
            Asked("links", "Links measured", "number", "20", help="Pin to pin: 20 links are 21 pins."),
            Asked("length", "Length measured", "length", "320.7 mm"),
            Asked("limit", "Limit of the manual", "number", "2", optional=True, unit="%"),
            Asked("teeth", "Teeth of the large sprocket", "number", "42", optional=True,
                  help="Without a limit of the manual: the chain makers' general one."),
            Asked("resolution", "The rule reads to", "length", "0.5 mm", optional=True),
        ),
        calculate=_wear,
        caution="Never turn the wheel by the engine with a hand near chain or sprocket.",
        also=("stretched chain", "elongation", "chain kit"),
    ),
)  # fmt: skip
