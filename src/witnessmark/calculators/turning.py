"""Tightening by torque and angle, and wire thread inserts. Never what a torque or an angle must be."""

from __future__ import annotations

import re
from contextlib import suppress
from dataclasses import dataclass

from witnessmark import units
from witnessmark.calculators import fastener_pictures as pictures
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    amount,
)
from witnessmark.calculators.threads import THREAD, kn, metric_thread
from witnessmark.fasteners import (
    CLAMPED,
    CLASSES,
    LENGTHS_D,
    MATERIALS,
    Friction,
    InsertHole,
    PropertyClass,
    Thread,
    Turned,
    bolt_class,
    friction_of,
    holds_from_d,
    in_flats,
    least_ultimate_load_n,
    material,
    preload_n,
    preload_of_torque_n,
    strips_at_n,
    turned,
)
from witnessmark.fasteners.plausible import REAL_YIELD
from witnessmark.units import Amount

MOST_DEG = 1080.0  # three turns; judged by us
MOST_GRIP_D = 40.0  # grip in diameters, the longest stud of an engine has fewer; judged by us
RENEW = "Bolts turned by an angle are usually renewed each time: as the machine's own manual says."
FOLLOW = "Torque and angle are those of the machine's own manual. This tells what they do, never what they must be."
_PARTS = re.compile(
    r"\s*(?:\+|;|\n|, |\bthen\b|\band\b(?=\s*\d))\s*"
    r"|(?<=[A-WYZa-wyz°])\s+(?=\d)"  # 40 Nm 90°, but 2 x 90°
)
_TIMES = re.compile(r"([2-9])\s*[x×*]\s*(\S.*)|(\S.*?)\s*[x×*]\s*([2-9])")


@dataclass(frozen=True)
class Tightening:
    """A torque, or none, and then angles one after the other."""

    torque: Amount | None
    angles_deg: tuple[float, ...]

    @property
    def angle_deg(self) -> float:
        """All angles together."""
        return sum(self.angles_deg)

    @property
    def words(self) -> str:
        """Example: ``40 N·m, then 90°, then 90°``."""
        torque = [self.torque.understood] if self.torque else []
        return ", then ".join([*torque, *(f"{one:g}°" for one in self.angles_deg)])


def read_tightening(text: str, place: str = "tightening") -> Tightening:
    """Read "40 Nm + 90°", "40 N·m then 2 x 90°", "1/4 turn". Raises CalculationError or QuantityError."""
    torque: Amount | None = None
    angles: list[float] = []
    for part in filter(None, _PARTS.split(text.strip())):
        times, each = _times(part)
        one = _part(each, place)
        if one.quantity == "angle":
            if not 0 < one.value <= MOST_DEG:
                raise CalculationError(
                    place, f"{one.understood} is no angle to turn by", "look again"
                )
            angles += [one.value] * times
        elif angles or times > 1:
            problem = (
                f"a torque, {one.understood}, {'after an angle' if angles else 'several times'}"
            )
            raise CalculationError(place, problem, "write the last torque first, then the angles")
        else:
            torque = one  # of stages the last one counts
    if not angles:
        raise CalculationError(
            place, "no angle is given", "write for instance 40 N·m + 90°, or 90° alone"
        )
    if sum(angles) > MOST_DEG:
        problem = f"{sum(angles):g}° are more than {MOST_DEG / 360:g} turns"
        raise CalculationError(place, problem, "look again at the angles")
    return Tightening(torque, tuple(angles))


def _times(part: str) -> tuple[int, str]:
    """How often, and what: 2 x 90°, 90° x 2."""
    found = _TIMES.fullmatch(part)
    if found is None:
        return 1, part
    return int(found[1] or found[4]), found[2] or found[3]


def _part(text: str, place: str) -> Amount:
    """An angle, or a torque, which may be a range."""
    try:
        one = units.read_any(text, place=place)
        if one.quantity in ("angle", "torque"):
            return one
        problem = f"{one.understood} is {units.with_article(one.quantity)}"
    except units.QuantityError as error:
        with suppress(units.QuantityError):
            return units.read_span(text, "torque", place=place)
        problem = error.problem
    expected = "give a torque with its unit, and each angle in degrees: 40 N·m + 90°"
    raise CalculationError(place, problem, expected)


def _turning(inputs: Inputs) -> Calculated:
    given, thread = read_tightening(str(inputs["tightening"])), metric_thread(inputs)
    grip = amount(inputs, "grip").value
    if not 0.5 * thread.diameter_mm <= grip <= MOST_GRIP_D * thread.diameter_mm:
        problem = f"{units.show(grip, 'length')} is no grip of an {thread.name}"
        raise CalculationError(
            "grip", problem, "give how thick the parts are that the bolt holds together"
        )
    bolt = bolt_class(str(inputs["class"]), thread.diameter_mm) if "class" in inputs else None
    parts = CLAMPED[str(inputs.get("parts", "steel"))]
    least, most = turned(thread, given.angle_deg, grip, parts)
    lines = [
        ("on the head", f"{in_flats(given.angle_deg)} of a hexagon, 60° each"),
        ("the thread goes on", _mm(most.way_mm)),
        ("of that the bolt stretches", f"{_mm(most.stretch_mm)} to {_mm(least.stretch_mm)}"),
        ("the angle adds, if all stays elastic", f"{kn(least.added_n)} to {kn(most.added_n)}"),
    ]
    if len(given.angles_deg) > 1:
        each = ", ".join(f"{one:g}° is {in_flats(one)}" for one in given.angles_deg)
        lines.insert(1, ("each", each))
    low, high = friction_of(str(inputs.get("treated", "")))
    first = _first(given.torque, thread, low, high)
    if given.torque:
        lines.append((f"before it, by friction {high:g} to {low:g}", " to ".join(map(kn, first))))
    said = f"{given.angle_deg:g}° is {in_flats(given.angle_deg)} of a hexagon."
    if bolt:
        told, more = _against_yield(given, thread, bolt, (least, most), (low, high))
        said, lines = f"{said} {told}", lines + more
    else:
        said += f" Elastic, it adds {kn(least.added_n)} to {kn(most.added_n)}."
    snug = () if given.torque else ("Count the angle from where all parts lie against each other.",)
    return Calculated(
        said=said,
        lines=tuple(lines),
        formula="way = pitch × angle / 360°; force = way / (1/k_bolt + 1/k_parts); k_bolt = A_d·A_t·E / (A_d·l_t + "
        "A_t·l_d); k_parts = E·d·A·exp(B·d/l)",
        put_in=(("tightening", given.words), ("thread", thread.name)),
        source="stiffness: Shigley's Mechanical Engineering Design, Table 8-7, Eq. 8-17 and 8-23, aluminium from "
        "memory; torque and yield: VDI 2230 Part 1, from memory; from thread all along the grip to a plain shank",
        warnings=(
            RENEW,
            *snug,
            "Without an angle gauge: mark a corner of the head and the part beside it, then turn flat by flat.",
        ),
        picture=pictures.turn(given.angles_deg, left_hand=thread.left_hand),
    )


def _first(torque: Amount | None, thread: Thread, low: float, high: float) -> tuple[float, float]:
    """The least and the most preload of the first torque (N); none without it."""
    if torque is None:
        return 0.0, 0.0
    ends = units.ends(torque)
    return (
        preload_of_torque_n(thread, ends[0].value, Friction(high, high)),
        preload_of_torque_n(thread, ends[-1].value, Friction(low, low)),
    )


def _against_yield(
    given: Tightening,
    thread: Thread,
    bolt: PropertyClass,
    adds: tuple[Turned, Turned],
    friction: tuple[float, float],
) -> tuple[str, list[tuple[str, str]]]:
    """Whether the bolt stays elastic: the least force against its strongest yield, the most against its weakest."""
    low, high = friction
    first = _first(given.torque, thread, low, high)
    yields = [
        preload_n(thread, bolt.yield_mpa, high, 1.0),
        preload_n(thread, bolt.yield_mpa * REAL_YIELD, low, 1.0),
    ]
    per_degree = [one.added_n / given.angle_deg for one in adds]
    soonest = max(0.0, (yields[0] - first[1]) / per_degree[1])
    latest = max(0.0, (yields[1] - first[0]) / per_degree[0])
    name = f"an {thread.name} {bolt.name}"
    lines = [(f"class {bolt.name} yields at", f"{kn(yields[0])} to {kn(yields[1])}")]
    if given.angle_deg < soonest:
        return f"By calculation it leaves {name} within its elastic range.", lines
    lines.append(("yields after", f"{soonest:.0f}° to {latest:.0f}°"))
    if given.angle_deg > latest:
        return f"By calculation it takes {name} past its yield.", lines
    return f"It may take {name} to its yield or past it, by its friction.", lines


def _mm(value: float) -> str:
    return units.show(round(value, 3), "length")


# ---------------------------------------------------------------- thread inserts


def _insert(inputs: Inputs) -> Calculated:
    thread = metric_thread(inputs)
    bolt = bolt_class(str(inputs["class"]), thread.diameter_mm)
    into = material(str(inputs["into"]), place="into")
    hole, breaks = InsertHole(thread), least_ultimate_load_n(thread.stress_area_mm2, bolt)
    from_d = holds_from_d(thread, bolt, into)
    lines = [
        ("drill, at least", f"{hole.drill_mm:.2f} mm"),
        (
            "tap of the insert's set, across",
            f"{hole.tapped.diameter_mm:.2f} mm, pitch {thread.pitch_mm:g} mm",
        ),
        ("the bolt breaks at no less than", kn(breaks)),
    ]
    for times in LENGTHS_D:
        long = times * thread.diameter_mm
        holds = hole.torn_out_at_n(long, into)
        plain = strips_at_n(thread, long, bolt, into, most=False)
        deep = " or ".join(f"{hole.drilled_mm(long, bottoming=b):.1f}" for b in (True, False))
        lines.append(
            (
                f"{times:g} d, {long:g} mm",
                f"torn out at {kn(holds)}, a plain thread at {kn(plain)}; drilled {deep} mm deep",
            )
        )
    name = f"an {thread.name} {bolt.name}"
    said = (
        f"In {into.name} {name} breaks before its insert is torn out from {from_d:g} d on, "
        f"{from_d * thread.diameter_mm:g} mm long."
        if from_d
        else f"In {into.name} no insert up to {LENGTHS_D[-1]:g} d holds as much as {name} does."
    )
    return Calculated(
        said=said,
        lines=tuple(lines),
        formula="hole: each diameter of the thread + 3/2·H; torn out as a thread of the hole's size strips, over the "
        "length less 3/4 of a pitch; depth: length + 4·P with a bottoming tap, + 6·P (and d/2 to M8) with a plug tap",
        put_in=(("thread", thread.name),),
        source="ASME B18.29.2M, formulas from memory; strength VDI 2230-1 clause 5.5.5 after Alexander, from memory; "
        f"{into.source}",
        warnings=(
            "Holds for wire inserts cut with the tap of their own set; a solid bush has its maker's own sizes.",
            "Brake calipers, steering and wheel: an insert only where the machine's maker allows it.",
        ),
        picture=pictures.insert(hole),
    )  # fmt: skip


CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        "torque-angle",
        "Torque and angle",
        "What an angle after a torque does to a bolt, and how to turn it without an angle gauge.",
        (
            Asked("tightening", "Torque and angle, as written", "words", "40 N·m + 90°",
                  help="Several angles one after the other: 40 N·m + 90° + 90°. An angle alone: 90°."),
            THREAD,
            Asked("grip", "Grip", "length", "60 mm", help="How thick the parts are that the bolt holds together."),
            Asked("class", "Property class, on the head", "choice", "10.9", CLASSES, optional=True),
            Asked("parts", "The parts are of", "choice", "aluminium", tuple(CLAMPED), optional=True,
                  help="Left empty: steel."),
            Asked("treated", "Thread is", "choice", "oiled", ("dry", "oiled", "locking compound"), optional=True),
        ),
        _turning,
        caution=FOLLOW,
        also=("turn further", "degree wheel", "stretch bolt", "yield"),
    ),
    Calculator(
        "thread-insert",
        "Wire thread insert",
        "Hole and length of a wire insert, and from which length on the bolt breaks first.",
        (
            Asked("thread", "Thread of the bolt", "words", "M8", help="M8 has the coarse pitch."),
            Asked("class", "Property class of the bolt", "choice", "8.8", CLASSES),
            Asked("into", "Set into", "choice", "aluminium casting", tuple(MATERIALS)),
        ),
        _insert,
        also=("stripped thread", "thread repair", "coil"),
    ),
)  # fmt: skip
