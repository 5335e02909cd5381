"""Torque wrenches: crow-foot, deviation and calibration, a weight on a lever, which one for which torque."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import date
from itertools import combinations

from witnessmark import units
from witnessmark.calculators import wrench_pictures as pictures
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    amount,
    amounts,
    lines_of,
    maybe_amount,
    number,
    value_or,
    whole_number,
)
from witnessmark.calculators.system import today
from witnessmark.facts import add_months
from witnessmark.units import UNITS, Span, ends, show, usual_unit
from witnessmark.wrenches import (
    CLASSES,
    GRAVITY,
    Adapter,
    Check,
    Fit,
    Lever,
    Point,
    TorqueTool,
    WrenchError,
    day,
    lever_torque,
    mass_for,
    per_cent,
    permitted_deviation,
    ranked,
    setting,
)
from witnessmark.wrenches.lever import CAUTION
from witnessmark.wrenches.standard import CYCLES, LOWER_LIMIT, MONTHS

FOLLOW = (
    "The torque itself comes from the machine's own manual; a fastener that holds a brake, a wheel or the steering is "
    "tightened by somebody who is trained for it."
)
SCALES = tuple(UNITS["torque"])
SOME_DAY = date(2000, 1, 1)  # for the program: of a wrench taken to be in calibration
MOST_WRENCHES = 12  # for the program: the fewest of them are sought
BASE_NM = 100.0  # for the program: of a size that every system shows in the larger of its units
COARSEST = 0.06  # rounding never takes more than the widest deviation that ISO 6789-1 permits
ISO = "ISO 6789-1:2017, 5.1.5 (2003: the same)"
MEMORY = "class II A read in a tester maker's manual; the other classes from memory"


# ---------------------------------------------------------------- crow-foot


def _crow_foot(inputs: Inputs) -> Calculated:
    torque, reach, arm = (amount(inputs, name) for name in ("torque", "reach", "arm"))
    adapter = Adapter(reach.value, value_or(inputs, "angle"), arm.value)
    made = setting(_tool(inputs), torque.value, adapter)
    if abs(made.rounding) > COARSEST:
        exact = show(made.exact_nm, "torque", unit=_scale(inputs))
        problem = f"divisions of {made.step_text} are too coarse for {exact}"
        raise CalculationError("step", problem, "take a wrench with finer ones")
    lines = [
        ("arm that counts", show(adapter.effective_mm, "length")),
        ("exactly", show(made.exact_nm, "torque", unit=_scale(inputs))),
        ("torque at the fastener", show(made.got_nm, "torque")),
    ]
    if made.step_text:
        lines.append(("rounded by", per_cent(made.rounding, signed=True)))
    if isinstance(torque, Span):
        at = [setting(_tool(inputs), end.value, adapter).text for end in ends(torque)]
        lines.append((f"the ends of {torque.understood}", " and ".join(at)))
    return Calculated(
        said=f"Set the wrench to {made.text}.",
        lines=tuple(lines),
        formula="setting = torque × arm / (arm + reach × cos angle)",
        put_in=(),
        source="the moment of one pull about square and fastener; at 0° the T × L / (L + E) of maintenance manuals, "
        "for an angle US Army TM 9-254 fig. 4-6 (its plus sign from memory)",
        warnings=(
            "Pull at the mark from which the arm was measured, square to the handle.",
            FOLLOW,
        ),
        picture=pictures.crow_foot(adapter, made),
    )


def _tool(inputs: Inputs) -> TorqueTool:
    step = number(inputs, "step") if "step" in inputs else None
    return TorqueTool("wrench", 10_000.0, 0.0, scale_unit=_scale(inputs), step=step)


def _scale(inputs: Inputs) -> str:
    return str(inputs.get("scale", usual_unit(BASE_NM, "torque")))


# ---------------------------------------------------------------- what a tool may deviate, when it is due


def _torque_tool(inputs: Inputs) -> Calculated:
    tool_class = str(inputs["class"]).partition(":")[0]
    largest = amount(inputs, "largest").value
    share = permitted_deviation(tool_class, largest)
    lowest = LOWER_LIMIT * largest
    lines = [
        ("at its largest torque", f"± {show(share * largest, 'torque')}"),
        ("at a fifth of it", f"± {show(share * lowest, 'torque')} on {show(lowest, 'torque')}"),
        ("class", f"{tool_class}: {CLASSES[tool_class].text}"),
    ]
    if "calibrated" in inputs:
        due = add_months(_day(str(inputs["calibrated"])), MONTHS)
        lines.append(("due on", day(due) + (", so it is overdue" if due < today() else "")))
        lines.append(("or after", _cycles_left(whole_number(inputs, "cycles", 0))))
    return Calculated(
        said=f"It may deviate by {per_cent(share)}.",
        lines=tuple(lines),
        formula="deviation = (shown − true) / true; due after 12 months or 5000 cycles, whichever comes first",
        put_in=(),
        source=f"{ISO}: {MEMORY}; recalibration: ISO 6789-2:2017, 4.1; lowest point a fifth of the largest: "
        "ISO 6789:2003, since 2017 the lowest torque marked",
        warnings=("A wrench that fell or was overloaded is out of use until it is checked.",),
    )


def _day(text: str) -> date:
    try:
        on = date.fromisoformat(text.strip())
    except ValueError:
        problem = f"“{text.strip()[:40]}” is no day"
        raise CalculationError(
            "calibrated", problem, "write year, month, day, such as 2026-03-31"
        ) from None
    if on > today():
        raise CalculationError("calibrated", f"{day(on)} is still to come", "look at the year")
    return on


def _cycles_left(cycles: int) -> str:
    if not 0 <= cycles < 1e9:
        raise CalculationError(
            "cycles", f"{cycles:g} cycles", "give how often it was used, 0 or more"
        )
    left = CYCLES - cycles
    return f"{left} more cycles" if left > 0 else "no more cycles: due now"


# ---------------------------------------------------------------- a weight on a lever


def _weight(inputs: Inputs) -> Calculated:
    lever, mass = _lever(inputs), amount(inputs, "mass").value
    found = lever_torque(mass, lever, mass_error_g=value_or(inputs, "scales"))
    torque = show(found.torque_nm, "torque")
    shown = maybe_amount(inputs, "shown")
    lines: tuple[tuple[str, str], ...] = ()
    if shown is not None:
        off = Point(shown.value, found.torque_nm).deviation
        lines = (("the wrench is off by", per_cent(off, signed=True)),)
    said = f"It pulls with {torque}, give or take {per_cent(found.uncertainty)}."
    return _weighed(lever, mass, said, lines)


def _for_torque(inputs: Inputs) -> Calculated:
    lever, torque = _lever(inputs), amount(inputs, "torque").value
    hung = mass_for(torque, lever)
    said = f"Hang {show(hung, 'mass')} for {show(torque, 'torque')}."
    return _weighed(lever, hung, said, ())


def _lever(inputs: Inputs) -> Lever:
    lever = Lever(amount(inputs, "arm").value, value_or(inputs, "own"), value_or(inputs, "own_arm"))
    if (lever.own_g > 0) != (lever.own_arm_mm > 0):
        place = "own_arm" if lever.own_g else "own"
        problem = "the lever's weight and where it balances belong together"
        raise CalculationError(place, problem, "give both or neither")
    return lever


def _weighed(
    lever: Lever, mass_g: float, said: str, lines: tuple[tuple[str, str], ...]
) -> Calculated:
    if lever.own_nm:
        lines += (("of that the lever itself", show(lever.own_nm, "torque")),)
    return Calculated(
        said=said,
        lines=(*lines, ("g", f"{GRAVITY} m/s²")),
        formula="torque = mass × g × arm + own mass × g × own arm; deviation = (shown − true) / true",
        put_in=(),
        source="plain arithmetic; g: 3rd CGPM 1901; ± 0.3 % for where on Earth (from memory), ± 0.14 % for a lever "
        "within 3° of level",
        picture=pictures.lever(lever, mass_g),
    )


# ---------------------------------------------------------------- which wrench

_RANGE = re.compile(
    r"(?:(?P<name>[^:]*):)?(?P<low>.+?)\s*(?:[-–−]|\bto\b)\s*(?P<high>.+?)(?:\bby\b(?P<step>.+))?",
    re.IGNORECASE,
)


def _which(inputs: Inputs) -> Calculated:
    torques = amounts(inputs, "torques", "torque", "N·m", span=True)
    tools = _tools(lines_of(inputs, "wrenches"))
    fits = {one.understood: ranked(tools, one.value, SOME_DAY) for one in torques}
    without = [text for text, found in fits.items() if not found[0].suits]
    return Calculated(
        said=_covered(tools, fits, without),
        lines=tuple((text, _best(found)) for text, found in fits.items()),
        formula="in range, and permitted deviation + rounding to its scale at most 6 %, or a quarter more than the "
        "tool's own deviation",
        put_in=(),
        source=f"{ISO} class II A: 4 %, or 6 % to 10 N·m; each wrench taken to be in calibration",
        warnings=(FOLLOW,),
    )


def _best(found: Sequence[Fit]) -> str:
    first = found[0]
    if first.suits:
        return f"{first.tool.name}, set {first.setting.text}"
    return ". ".join(fit.words for fit in found[:3])


def _covered(
    tools: Sequence[TorqueTool], fits: dict[str, list[Fit]], without: Sequence[str]
) -> str:
    if without:
        return f"No wrench for {', '.join(without)}."
    for size in range(1, len(tools) + 1):
        for some in combinations(tools, size):
            if all(any(f.suits and f.tool in some for f in found) for found in fits.values()):
                return _alone_or_together([tool.name for tool in some])
    raise AssertionError(without)  # every torque has a wrench, so all of them together do


def _alone_or_together(names: Sequence[str]) -> str:
    if len(names) == 1:
        return f"{names[0]} sets all of them."
    return f"{', '.join(names[:-1])} and {names[-1]} set all of them; fewer do not."


def _tools(given: tuple[str, ...]) -> list[TorqueTool]:
    if len(given) > MOST_WRENCHES:
        raise CalculationError(
            "wrenches", f"{len(given)} wrenches", f"give at most {MOST_WRENCHES}"
        )
    tools = [_tool_of(place, text) for place, text in enumerate(given, 1)]
    return list(_named_apart(tools))


def _named_apart(tools: Iterable[TorqueTool]) -> Iterable[TorqueTool]:
    """Two of one name would be taken for one another in the answer."""
    seen: set[str] = set()
    for tool in tools:
        if tool.name in seen:
            raise CalculationError(
                "wrenches", f"“{tool.name}” stands there twice", "name them apart"
            )
        seen.add(tool.name)
        yield tool


def _tool_of(place: int, text: str) -> TorqueTool:
    found = _RANGE.fullmatch(text)
    if found is None:
        problem = f"line {place}: “{text[:40]}” is no range"
        raise CalculationError("wrenches", problem, "write it as 20 to 100 N·m by 1")
    try:
        high = units.read(units.with_unit(found["high"].strip(), "N·m"), "torque", place="wrenches")
        unit = units.unit_written(high)
        low = units.read(units.with_unit(found["low"].strip(), unit), "torque", place="wrenches")
        step = (
            units.read_number(found["step"], unit=unit, place="wrenches") if found["step"] else None
        )
        name = (found["name"] or "").strip() or f"{found['low'].strip()} to {found['high'].strip()}"
        return TorqueTool(
            name, high.value, low.value, scale_unit=unit, step=step, history=(Check(SOME_DAY),)
        )
    except (units.QuantityError, WrenchError) as error:
        raise CalculationError(
            "wrenches", f"line {place}: {error.problem}", error.expected
        ) from None


LEVER = (
    Asked("arm", "Square to the weight", "length", "400 mm"),
    Asked("own", "Weight of the lever itself", "mass", "900 g", optional=True),
    Asked("own_arm", "Square to where it balances", "length", "180 mm", optional=True),
)
CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        "crow-foot",
        "Crow-foot or extension",
        "What to set on a torque wrench when a crow-foot or an extension is on its square.",
        (
            Asked("torque", "Torque at the fastener", "torque", "60 N·m", span=True,
                  help="Of a range, 45–55 N·m, the middle is set."),
            Asked("reach", "Reach of the adapter", "length", "80 mm", help="centre to centre"),
            Asked("arm", "Arm of the wrench", "length", "400 mm", help="square to the hand"),
            Asked("angle", "Angle to the handle", "angle", "0°", optional=True,
                  help="0° straight ahead, 90° square to it: no change, 180° back"),
            Asked("scale", "Unit of its scale", "choice", "N·m", SCALES, optional=True),
            Asked("step", "One division of its scale", "number", "1", optional=True),
        ),
        _crow_foot,
        also=("crowfoot", "adapter", "open jaw", "offset"),
    ),
    Calculator(
        "torque-tool",
        "What a torque tool may deviate, and when it is due",
        "The permitted deviation of a class of hand torque tools, and the end of its calibration.",
        (
            Asked("class", "Class", "choice", "II A: setting, wrench, adjustable, graduated",
                  tuple(f"{name}: {one.type}, {one.text}" for name, one in CLASSES.items())),
            Asked("largest", "Largest torque on its scale", "torque", "100 N·m"),
            Asked("calibrated", "Calibrated on", "words", "2026-03-02", optional=True),
            Asked("cycles", "Cycles since", "number", "1200", optional=True),
        ),
        _torque_tool,
        also=("torque wrench", "recalibration", "accuracy"),
    ),
    Calculator(
        "weight-on-lever",
        "A weight on a lever",
        "The torque of a weight hung from a level lever: a check of a wrench in house.",
        (
            Asked("mass", "Weight", "mass", "12.5 kg"),
            *LEVER,
            Asked("scales", "The scales may be off by", "mass", "10 g", optional=True),
            Asked("shown", "The wrench clicked or showed", "torque", "50 N·m", optional=True),
        ),
        _weight,
        caution=CAUTION,
        also=("testing a torque wrench", "calibration"),
    ),
    Calculator(
        "weight-for-torque",
        "The weight for a torque",
        "What to hang from a level lever for a torque.",
        (Asked("torque", "Torque wanted", "torque", "50 N·m"), *LEVER),
        _for_torque,
        caution=CAUTION,
        also=("testing a torque wrench", "calibration"),
    ),
    Calculator(
        "which-wrench",
        "Which wrench for which torque",
        "Which torque wrenches set a list of torques, what each is set to, and how few will do.",
        (
            Asked("torques", "Torques, one a line", "lines", "20 N·m\n60 N·m\n12 N·m\n28 N·m\n11 N·m"),
            Asked("wrenches", "Wrenches, one a line", "lines",
                  "Small: 5 to 25 N·m by 0.5\nLarge: 20 to 100 N·m by 1",
                  help="Range, in N·m or with its unit, and what one division is."),
        ),
        _which,
        also=("choosing a torque wrench", "range"),
    ),
)  # fmt: skip
