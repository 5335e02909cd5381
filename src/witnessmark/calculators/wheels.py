"""Wheels: run-out read round a wheel or disc, and how evenly its spokes pull."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from witnessmark import units
from witnessmark.calculators import wheel_pictures as pictures
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    lines_of,
    maybe_amount,
    read_line,
    share_percent,
    value_or,
)
from witnessmark.facts import Limit, judge

LEAST_POINTS, MOST_POINTS = 6, 72  # round a wheel: fewer show no shape; judged by us
ONCE_ROUND = (
    0.75  # so much of the run-out (as squares) goes once round: one high side; judged by us
)
ONE_PLACE = 0.6  # so much of what is left stands at one point: a dent or a bump; judged by us
FAR_MM = 15.0  # more than any wheel runs out that still turns; judged by us
LEAST_SPOKES, MOST_SPOKES = 4, 40  # of one side; judged by us
MOST_NAMED = 5  # for the program: more are counted
MOST_TIMES = 5.0  # so many times its fellows, or a fifth, is a slip of the pen; judged by us
QUARTERS = ("first", "second", "third", "last")
_SEVERAL = re.compile(r"\s*;\s*|,\s+|\s+(?=[+−-]?[\d.,])")
_THREES = re.compile(r"\d{3}(?:\s+\d{3}){2,}")
_ONE_OR_SEVERAL = re.compile(r"\d\s+\d{3}(?!\d)|\d,\d+,\d")


def values_in(inputs: Inputs, name: str) -> list[tuple[int, str]]:
    """What stands in a field, one a line or several with blanks or ; between them, each with its line.

    Raises CalculationError where blanks or commas may part one number: 1 000 1 050, 20,21,22.
    """
    found: list[tuple[int, str]] = []
    for place, line in enumerate(lines_of(inputs, name), 1):
        shown = f"line {place}: “{line[:40]}”"
        if ":" in line:
            expected = "write the readings alone, in their order"
            raise CalculationError(name, f"{shown} has a colon", expected)
        if _ONE_OR_SEVERAL.search(line) and not _THREES.fullmatch(line):
            expected = "write one a line, or ; between them"
            raise CalculationError(name, f"{shown} may be one number or several", expected)
        found += [(place, part) for part in _SEVERAL.split(line) if part]
    return found


# ---------------------------------------------------------------- run-out


@dataclass(frozen=True)
class RunOut:
    """What readings at equal steps round a wheel say.

    ``total`` is highest less lowest; ``offset`` how far its middle stands off (radial) or half of its tilt (axial);
    ``share`` of the squares that once round explains; ``place`` (from 0) the point that stands alone, None without
    one, and ``alone`` by how much: the offset is then that of all others.
    """

    total: float
    high: int
    low: int
    offset: float
    once_round_high: float
    share: float
    place: int | None
    alone: float
    twice: bool


def run_out(readings: Sequence[float]) -> RunOut:
    """The shape in readings: mean, once round (least squares), and what is left of each point.

    A point stands alone where leaving it out takes most of what is left: e²/(1 − 3/n) of it, for equal steps.
    """
    count = len(readings)
    mean = fmean(readings)
    rest = [one - mean for one in readings]
    all_squares = sum(one**2 for one in rest)
    high = max(range(count), key=lambda k: readings[k])
    low = min(range(count), key=lambda k: readings[k])
    total = readings[high] - readings[low]
    cos, sin = _wave(rest, 1)
    left = [
        one - cos * math.cos(2 * math.pi * k / count) - sin * math.sin(2 * math.pi * k / count)
        for k, one in enumerate(rest)
    ]
    squares = sum(one**2 for one in left)
    share = 1 - squares / all_squares if all_squares else 0.0
    most = max(range(count), key=lambda k: abs(left[k]))
    kept = 1 - 3 / count
    alone = left[most] / kept
    stands_alone = share < ONCE_ROUND and left[most] * alone > ONE_PLACE * squares
    again = math.hypot(*_wave(left, 2))
    if stands_alone:  # what the others say without it
        cos -= 2 / count * alone * math.cos(2 * math.pi * most / count)
        sin -= 2 / count * alone * math.sin(2 * math.pi * most / count)
    return RunOut(
        total,
        high,
        low,
        math.hypot(cos, sin),
        math.degrees(math.atan2(sin, cos)) % 360,
        share,
        most if stands_alone else None,
        alone,
        twice=count / 2 * again**2 > ONE_PLACE * squares,
    )


def _wave(values: Sequence[float], times: int) -> tuple[float, float]:
    """The cosine and the sine part of what comes so many times round."""
    count = len(values)
    turn = [2 * math.pi * times * k / count for k in range(count)]
    cos = 2 / count * sum(v * math.cos(t) for v, t in zip(values, turn, strict=True))
    return cos, 2 / count * sum(v * math.sin(t) for v, t in zip(values, turn, strict=True))


CAUTION = (
    "A wheel that fails throws its rider: what is beyond the limit of the maker's manual is not ridden; wheels are "
    "built and trued by somebody who is trained for it."
)
_WHERE = ("rim, sideways", "rim, up and down", "brake disc")


def _runout(inputs: Inputs) -> Calculated:
    read = [_signed(place, text) for place, text in values_in(inputs, "points")]
    if not LEAST_POINTS <= len(read) <= MOST_POINTS:
        problem = f"{len(read)} points"
        expected = f"read {LEAST_POINTS} to {MOST_POINTS} points at equal steps, one turn in all"
        raise CalculationError("points", problem, expected)
    found = run_out(read)
    if found.total > FAR_MM:
        shown = units.show(found.total, "length")
        problem = f"{shown} between the highest point and the lowest"
        raise CalculationError("points", problem, "look at the decimal point and the unit")
    where = str(inputs.get("where", _WHERE[0]))
    total = units.show(found.total, "length")
    limit = maybe_amount(inputs, "limit")
    resolution = value_or(inputs, "resolution")
    told = judge(
        found.total, "length", high=Limit(limit.value, "as put in") if limit else None,
        resolution=resolution,
    )  # fmt: skip
    lines = [("total indicator reading", total)]
    if found.total <= resolution or not found.total:
        shape, hint = "no more than the gauge tells apart", _HINTS[""]
    else:
        shape, hint = _shape(found, len(read), where), _HINTS[where]
        lines += [
            ("highest", f"point {found.high + 1} of {len(read)}"),
            ("lowest", f"point {found.low + 1}"),
            ("once round, either side of the middle", units.show(round(found.offset, 3), "length")),
            ("share of it that goes once round", f"{found.share:.0%}"),
        ]
    said = f"{told.words}: " if limit else f"It runs out by {total}: "
    return Calculated(
        said=f"{said}{shape}.",
        lines=tuple(lines),
        formula="total = highest − lowest; once round: a·cos + b·sin by least squares, a = 2/n·Σ r·cos, "
        "b = 2/n·Σ r·sin; a point stands alone where e²/(1 − 3/n) is most of what is left",
        put_in=(),
        source="total indicator reading and least-squares circle: NIST Engineering Statistics Handbook 2.3.4.4 and "
        f"plain arithmetic; one high side from {ONCE_ROUND:.0%}, one place from {ONE_PLACE:.0%}: judged by us",
        warnings=hint if limit else (*hint, "The limit is in the machine's own manual."),
        picture=pictures.round_wheel(read, found.high, found.place, total),
    )


def _signed(place: int, text: str) -> float:
    """A reading of a dial gauge, in mm or with its unit; below nought with its sign."""
    bare = text.lstrip()
    sign = -1 if bare[:1] in ("-", "−", "–") else 1
    bare = bare[1:] if bare[:1] in ("-", "−", "–", "+") else bare
    if not bare[:1].isdigit() and bare[:1] not in (".", ","):
        problem = f"line {place}: “{text[:40]}” is no reading"
        raise CalculationError("points", problem, "write for instance 0.15 or -0.05")
    return sign * read_line(bare, place, "points", "length", "mm").value


def _shape(found: RunOut, count: int, where: str) -> str:
    """In words: off its middle or tilted, a place of its own, twice round, or uneven."""
    if found.share >= ONCE_ROUND:
        middle = units.show(round(found.offset, 3), "length")
        side = round(found.once_round_high / 360 * count) % count + 1
        if where == "rim, up and down":
            return f"one high side, towards point {side}; its middle stands off by {middle}"
        return f"it stands aslant, out towards point {side}"
    if found.place is not None:
        size = units.show(abs(round(found.alone, 3)), "length")
        way = "out" if found.alone > 0 else "in"
        others = units.show(2 * round(found.offset, 3), "length")
        rest = f"; without it {others} once round" if 2 * found.offset > found.total / 4 else ""
        return f"one place, point {found.place + 1}, stands {way} by about {size} alone{rest}"
    if found.twice:
        return "high at two opposite places and low between: bent, or oval"
    return "uneven, with no one high side"


_HINTS: dict[str, tuple[str, ...]] = {
    "": (),
    "rim, sideways": ("Feel the wheel bearings first. Spokes cure a slant, no dent; a cast wheel is not bent back.",),
    "rim, up and down": ("Feel the wheel bearings first. Spokes move it, no dent; a cast wheel is not bent back.",),
    "brake disc": (
        "Clean hub and disc, turn the disc one hole on: if the high side goes along, the disc is bent, else the hub.",
        "Brakes stop the machine: beyond the manual's limit the disc is renewed.",
    ),
}  # fmt: skip


# ---------------------------------------------------------------- spokes


@dataclass(frozen=True)
class Spoke:
    """A spoke of a side, numbered from the valve on, with what it is off the mean of its side (0.1: a tenth more)."""

    side: str
    number: int
    of: int
    off: float

    @property
    def quarter(self) -> int:
        """From 0, at the valve, on round the wheel."""
        return 4 * (self.number - 1) // self.of


def spokes_of(side: str, readings: Sequence[float]) -> list[Spoke]:
    """The spokes of a side against its mean."""
    mean = fmean(readings)
    return [Spoke(side, k, len(readings), one / mean - 1) for k, one in enumerate(readings, 1)]


def _spokes(inputs: Inputs) -> Calculated:
    allowed = share_percent(inputs, "allowed") / 100
    if not 0 < allowed <= 1:
        raise CalculationError(
            "allowed", f"{100 * allowed:g} %", "give more than 0 and at most 100 %"
        )
    power = 2 if inputs.get("read", _READ[0]) == _READ[1] else 1
    sides = {
        side: [one**power for one in _readings(inputs, side)] for side in ("left", "right") if side in inputs
    }  # fmt: skip
    every = [spoke for side, values in sides.items() for spoke in spokes_of(side, values)]
    lines = [line for side in sides for line in _side(side, sides[side], every, allowed, power)]
    return Calculated(
        said=f"{_judged(every, allowed)} {_pulling(every, allowed)}",
        lines=tuple(lines),
        formula="off = reading / mean of its side − 1; tension goes by the square of the tone",
        put_in=(),
        source="plain arithmetic; each side against itself, for disc or sprocket make the sides unlike; "
        "tension by tone: Mersenne's law; a quarter that is half of the per cent off its side pulls: judged by us",
        warnings=(
            "Even is not tight: how tight they are is in the manual of machine or wheel.",
            "A loose spoke between tight ones may be bent or broken at its nipple: look before it is turned.",
        ),
        picture=pictures.spoked(every, allowed),
    )  # fmt: skip


def _readings(inputs: Inputs, side: str) -> list[float]:
    read = []
    for place, text in values_in(inputs, side):
        try:
            read.append(units.read_number(text, place=side))
        except units.QuantityError as error:
            raise CalculationError(side, f"line {place}: {error.problem}", error.expected) from None
    if not LEAST_SPOKES <= len(read) <= MOST_SPOKES:
        expected = f"give {LEAST_SPOKES} to {MOST_SPOKES}, in their order from the valve on"
        raise CalculationError(side, f"{len(read)} spokes of one side", expected)
    if min(read) <= 0:
        place = read.index(min(read)) + 1
        expected = "a spoke that hangs loose is made hand-tight and read again, or renewed"
        raise CalculationError(side, f"spoke {place} reads {min(read):g}", expected)
    middle = sorted(read)[len(read) // 2]
    odd = next(
        (k for k, one in enumerate(read, 1) if not 1 / MOST_TIMES < one / middle < MOST_TIMES), None
    )
    if odd:
        problem = f"spoke {odd} reads {read[odd - 1]:g}, far from the others"
        raise CalculationError(side, problem, "look at the decimal point, or read it again")
    return read


def _side(
    side: str, values: Sequence[float], every: Sequence[Spoke], allowed: float, power: int
) -> list[tuple[str, str]]:
    """A side's mean and spread, and its spokes outside."""
    own = [one for one in every if one.side == side]
    mean = fmean(values) ** (1 / power)
    apart = f"{_per_cent(min(own, key=_off).off)} to {_per_cent(max(own, key=_off).off)}"
    lines = [(f"{side}, {len(values)} spokes", f"mean {mean:.3g}, spread {apart}")]
    told = [f"{one.number} ({_per_cent(one.off)})" for one in own if _outside(one, allowed)]
    return [*lines, (f"{side}, outside", ", ".join(told))] if told else lines


def _off(spoke: Spoke) -> float:
    return spoke.off


def _outside(spoke: Spoke, allowed: float) -> bool:
    return abs(spoke.off) > allowed + 1e-9


def _per_cent(share: float) -> str:
    return f"{share:+.0%}".replace("-", "−")


def _judged(every: Sequence[Spoke], allowed: float) -> str:
    """How many are outside; a few by their numbers."""
    outside = [one for one in every if _outside(one, allowed)]
    off = f"{100 * allowed:g} % off the mean of their side"
    if not outside:
        return f"All within ± {100 * allowed:g} % of the mean of their side."
    if len(outside) > MOST_NAMED:
        return f"{len(outside)} of {len(every)} are more than {off}."
    told = ", ".join(f"{one.side} {one.number} ({_per_cent(one.off)})" for one in outside)
    return f"{told} {'is' if len(outside) == 1 else 'are'} more than {off}."


def _pulling(every: Sequence[Spoke], allowed: float) -> str:
    """Which quarter pulls the rim in or out most, and which to a side, where its mean stands out."""

    def off(quarter: int, side: str) -> float:
        return fmean(one.off for one in every if (one.side, one.quarter) == (side, quarter))

    sides = sorted({one.side for one in every})
    inward = [fmean(off(quarter, side) for side in sides) for quarter in range(4)]
    across = [off(k, "left") - off(k, "right") if len(sides) > 1 else 0.0 for k in range(4)]
    told = []
    for pull, more, less in (
        (inward, "pulls the rim in", "lets the rim out"),
        (across, "pulls the rim to the left", "pulls the rim to the right"),
    ):
        most = max(range(4), key=lambda k: abs(pull[k]))
        if abs(pull[most]) > allowed / 2:
            told.append(f"the {QUARTERS[most]} quarter {more if pull[most] > 0 else less}")
    if not told:
        return "No quarter pulls more than the others."
    return f"From the valve on, {' and '.join(told)}."


_READ = ("tension, or divisions of a gauge", "tone in Hz")
CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        "wheel-runout",
        "Run-out of a wheel or disc",
        "What a dial gauge read round it: how much, where, and whether it is one side or one place.",
        (
            Asked("points", "Readings, in order once round", "lines", "0.00\n0.15\n0.40\n0.55\n0.60\n0.40\n0.20\n0.05",
                  help="At equal steps, in mm or with another unit; below nought with −."),
            Asked("where", "Read at", "choice", _WHERE[0], _WHERE, optional=True),
            Asked("limit", "Most run-out of the manual", "length", "0.5 mm", optional=True),
            Asked("resolution", "What the gauge tells apart", "length", "0.01 mm", optional=True),
        ),
        _runout,
        caution=CAUTION,
        also=("buckled rim", "true", "wobble", "warped"),
    ),
    Calculator(
        "spoke-tension",
        "Spokes against one another",
        "Which spokes pull more or less than their side, and which quarter pulls the rim.",
        (
            Asked("left", "Left side, from the valve on", "lines", "21 20 22 20 19 20 21 20 16",
                  help="In order round the wheel, any scale; the same way round on both sides."),
            Asked("allowed", "Allowed off the mean, either side", "number", "20", unit="%"),
            Asked("right", "Right side, from the valve on", "lines", "24 25 24 23 25 24 24 26 24", optional=True),
            Asked("read", "What was read", "choice", _READ[0], _READ, optional=True),
        ),
        _spokes,
        caution=CAUTION,
        also=("spoke key", "wheel building", "truing", "nipples"),
    ),
)  # fmt: skip
