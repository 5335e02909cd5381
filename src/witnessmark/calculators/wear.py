"""Wear of brakes: the smallest of several readings against its limit, and when a limit is reached."""

from __future__ import annotations

import math
from dataclasses import dataclass

from witnessmark import units
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    amount,
    amounts,
    believable,
    maybe_amount,
    value_or,
)
from witnessmark.charts.drawing import circle, drawing, line, words
from witnessmark.facts import Limit, Verdict, belief, judge
from witnessmark.units import Amount

MEMORY = "from memory"
LEAST_POINTS, MOST_POINTS = 4, 8  # where a disc is measured: workshop practice, from memory
RUNOUT_MM = 0.3  # workshop practice, from memory
RUNOUT_SOURCE = f"workshop practice, {MEMORY}; machines' figures differ"
LINING_MM = 1.0  # workshop practice, from memory
LINING_SOURCE = f"workshop practice, {MEMORY}; the machine's manual decides"
MARKING = "the mark MIN TH on a disc is its least thickness in millimetres (trade usage)"
BRAKES = (
    "Brakes stop the machine: what is at or below its limit is renewed, pads in pairs; the maker's "
    "manual decides. Dust of linings is not blown off or breathed in."
)


@dataclass(frozen=True)
class Forecast:
    """A straight line through two readings.

    ``per_1000_km`` is how much goes in that distance, towards the limit; ``left_km`` what remains,
    None where no wear was seen, 0 at the limit or past it.
    """

    per_1000_km: float
    left_km: float | None


def forecast(
    first: float, first_km: float, second: float, second_km: float, limit: float
) -> Forecast:
    """When a limit is reached if wear goes on as between two readings, the second the later.

    Raises CalculationError for readings on one odometer. What grew away from its limit gives no distance.
    """
    if second_km <= first_km:
        problem = "the later reading was not taken at a higher odometer"
        raise CalculationError("now_at", problem, "give the odometer of each reading")
    down = 1.0 if first >= limit else -1.0
    rate = down * (first - second) / (second_km - first_km)
    if down * (second - limit) <= 0:
        return Forecast(rate * 1000, 0.0)
    if rate <= 0:
        return Forecast(rate * 1000, None)
    return Forecast(rate * 1000, down * (second - limit) / rate)


# ---------------------------------------------------------------- disc and pads


def _disc(inputs: Inputs) -> Calculated:
    points = amounts(inputs, "thickness", "length", "mm")
    believable("thickness", points, belief.DISC)
    believable("least", [amount(inputs, "least")], belief.DISC)
    marked = amount(inputs, "least")
    least = Limit(marked.value, "as marked on the disc")
    thinnest = min(points, key=lambda point: point.value)
    told = judge(thinnest.value, "length", low=least, resolution=value_or(inputs, "resolution"))
    spread = max(point.value for point in points) - thinnest.value
    lines = [("thinnest", units.show(thinnest.value, "length")),
             ("thickness varies by", units.show(spread, "length")),
             ("least", marked.understood),
        ("left to it", _left(thinnest, marked))]  # fmt: skip
    warnings = list(_few(points))
    if runout := maybe_amount(inputs, "runout"):
        limit = maybe_amount(inputs, "runout_limit")
        most = Limit(limit.value, "as put in") if limit else Limit(RUNOUT_MM, RUNOUT_SOURCE)
        lines.append(("run-out", judge(runout.value, "length", high=most).words))
    return Calculated(
        said=f"{told.words}.",
        lines=tuple(lines),
        formula="the smallest of the points, against the least thickness",
        put_in=(),
        source=f"{MARKING}; judged by the smallest of {LEAST_POINTS} to {MOST_POINTS} points: workshop practice, "
        f"{MEMORY}" + (f"; run-out: {RUNOUT_SOURCE}" if "runout" in inputs else ""),
        warnings=tuple(warnings) + _renew(told),
        picture=_disc_picture(points, thinnest),
    )  # fmt: skip


def _pad(inputs: Inputs) -> Calculated:
    pads = amounts(inputs, "lining", "length", "mm")
    believable("lining", pads, belief.LINING, alike=False)  # one may be worn to its plate
    given = maybe_amount(inputs, "least")
    believable("least", [given] if given else [], belief.LINING)
    least = Limit(given.value, "as put in") if given else Limit(LINING_MM, LINING_SOURCE)
    thinnest = min(pads, key=lambda pad: pad.value)
    told = judge(thinnest.value, "length", low=least, resolution=value_or(inputs, "resolution"))
    spread = max(pad.value for pad in pads) - thinnest.value
    return Calculated(
        said=f"{told.words}.",
        lines=(
            ("least", units.show(least.value, "length")),
            ("linings differ by", units.show(spread, "length")),
        ),
        formula="the thinnest lining, against the least",
        put_in=(),
        source="the limit as put in" if given else LINING_SOURCE,
        warnings=_renew(told),
    )


def _left(thinnest: Amount, least: Amount) -> str:
    left = thinnest.value - least.value
    return units.show(left, "length") if left > 1e-9 else "nothing"


def _few(points: list[Amount]) -> list[str]:
    if len(points) >= LEAST_POINTS:
        return []
    return [
        f"Measure at {LEAST_POINTS} to {MOST_POINTS} points round the disc; here are {len(points)}."
    ]


def _renew(told: Verdict) -> tuple[str, ...]:
    if told.stand == "below the limit":
        return ("Below its limit: renew before the machine is ridden.",)
    if told.stand == "at the limit":
        return ("At its limit: nothing is left; renew now.",)
    return ()


def _disc_picture(points: list[Amount], thinnest: Amount) -> str:
    """The points round the disc, numbered from the top, clockwise; the thinnest is filled."""
    shapes = [circle(150, 150, 92), circle(150, 150, 50)]
    for place, point in enumerate(points[:24]):
        turn = 2 * math.pi * place / min(len(points), 24) - math.pi / 2
        x, y = 150 + 71 * math.cos(turn), 150 + 71 * math.sin(turn)
        shapes.append(circle(x, y, 6, filled=point is thinnest))
        x, y = 150 + 120 * math.cos(turn), 155 + 120 * math.sin(turn)
        shapes.append(words(x, y, f"{point.value:.4g}", anchor="middle"))
    title = f"Disc with {len(points)} points measured; thinnest {thinnest.understood}"
    return drawing(title, 300, 300, *shapes)


# ---------------------------------------------------------------- forecast


def _wear(inputs: Inputs) -> Calculated:
    then, now, limit = (amount(inputs, name) for name in ("then", "now", "limit"))
    then_at, now_at = amount(inputs, "then_at"), amount(inputs, "now_at")
    found = forecast(then.value, then_at.value, now.value, now_at.value, limit.value)
    road = units.usual_unit(0, "distance")
    rate = units.show(found.per_1000_km / units.convert(1, "distance", road), "length")
    lines = [(f"wear per 1000 {road}", rate)]
    warnings = ["Two readings give no measure of how sure this is; measure again before it is due."]
    if found.left_km:
        at = units.show(now_at.value + found.left_km, "distance")
        lines.append(("reached at about", at))
        lines += _with_resolution(inputs)
    if found.left_km is None:
        warnings = ["Measure both again: nothing that wears grows."]
    return Calculated(
        said=_how_far(found),
        lines=tuple(lines),
        formula="distance left = (now − limit) × (odometer now − then) / (then − now)",
        put_in=(),
        source="plain arithmetic: a straight line through two readings",
        warnings=tuple(warnings),
        picture=_line_picture(inputs, found) if found.left_km else None,
    )


def _how_far(found: Forecast) -> str:
    if found.left_km is None:
        return "No wear was seen between the readings: there is nothing to calculate with."
    if not found.left_km:
        return "The limit is reached: due now."
    if found.left_km > units.BOUNDS["distance"].high:
        return "So little wear that no distance can be told."
    return f"About {units.show(_rounded(found.left_km), 'distance')} until the limit."


def _rounded(km: float) -> float:
    """Three significant digits: more would be pretended."""
    return round(km, 2 - math.floor(math.log10(km))) if km >= 1 else km


def _with_resolution(inputs: Inputs) -> list[tuple[str, str]]:
    """The same line where both readings were off by what the instrument tells apart, to the worse and to the better."""
    resolution = value_or(inputs, "resolution")
    if not resolution:
        return []
    then, now, limit = (amount(inputs, name).value for name in ("then", "now", "limit"))
    at, until = amount(inputs, "then_at").value, amount(inputs, "now_at").value
    toward = resolution if then >= limit else -resolution
    worst = forecast(then + toward, at, now - toward, until, limit)
    best = forecast(then - toward, at, now + toward, until, limit)
    low = "now" if not worst.left_km else units.show(_rounded(worst.left_km), "distance")
    far = best.left_km is None or best.left_km > units.BOUNDS["distance"].high
    high = "unknown" if far or not best.left_km else units.show(_rounded(best.left_km), "distance")
    return [("with what the instrument tells apart", f"{low} to {high}")]


def _line_picture(inputs: Inputs, found: Forecast) -> str | None:
    """Two readings, the line through them, and where it meets the limit."""
    then, now, limit = (amount(inputs, name).value for name in ("then", "now", "limit"))
    at, until = amount(inputs, "then_at").value, amount(inputs, "now_at").value
    end = until + (found.left_km or 0.0)
    if end > units.BOUNDS["distance"].high:
        return None
    high, low = max(then, limit), min(then, limit)

    def spot(km: float, value: float) -> tuple[float, float]:
        return 20 + (km - at) / (end - at) * 280, 34 + (high - value) / (high - low) * 130

    a, b, c = spot(at, then), spot(until, now), spot(end, limit)
    shapes = [
        line(10, spot(at, limit)[1], 320, spot(at, limit)[1], thick=1),
        words(10, spot(at, limit)[1] + 20, f"limit {_length(limit)}"),
        line(*a, *b, thick=3), line(*b, *c, dashed=True),
        circle(*a, 6, filled=True), circle(*b, 6, filled=True), circle(*c, 6),
        words(a[0] + 12, a[1] + (-8 if then > limit else 20), f"{_length(then)}"),
        words(b[0] + 12, b[1] + (-8 if then > limit else 20), f"{_length(now)}"),
    ]  # fmt: skip
    title = f"Wear from {_length(then)} to {_length(now)}, and on to the limit of {_length(limit)}"
    return drawing(title, 330, 200, *shapes)


def _length(mm: float) -> str:
    return units.show(mm, "length")


RESOLUTION = Asked(
    "resolution", "What the instrument tells apart", "length", "0.01 mm", optional=True
)
CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        name="brake-disc",
        title="Brake disc",
        text="The smallest thickness of a disc against its mark, how it varies, and its run-out.",
        asked=(
            Asked("thickness", "Thickness at each point", "lines", "4.02\n4.01\n3.98\n4.00",
                  help="A line each, in mm or with another unit; 4 to 8 points."),
            Asked("least", "Least thickness, as marked", "length", "3.5 mm"),
            RESOLUTION,
            Asked("runout", "Run-out", "length", "0.08 mm", optional=True),
            Asked("runout_limit", "Most run-out of the manual", "length", "0.2 mm", optional=True),
        ),
        calculate=_disc,
        caution=BRAKES,
        also=("rotor", "warped", "judder", "pulsing"),
    ),
    Calculator(
        name="brake-pad",
        title="Brake pads",
        text="The thinnest lining against the least of the manual.",
        asked=(
            Asked("lining", "Lining of each pad", "lines", "3.1\n2.8\n3.0\n2.9",
                  help="A line each, in mm or with another unit; the lining without its plate."),
            Asked("least", "Least of the manual", "length", "1.5 mm", optional=True,
                  help="Left empty: 1 mm, common practice only."),
            Asked("resolution", "What the instrument tells apart", "length", "0.1 mm", optional=True),
        ),
        calculate=_pad,
        caution=BRAKES,
        also=("friction material", "pad thickness"),
    ),
    Calculator(
        name="wear-forecast",
        title="When a limit is reached",
        text="How far until a limit, if wear goes on as between two readings.",
        asked=(
            Asked("then", "Reading then", "length", "4.0 mm"),
            Asked("then_at", "Odometer then", "distance", "12000 km"),
            Asked("now", "Reading now", "length", "3.1 mm"),
            Asked("now_at", "Odometer now", "distance", "18000 km"),
            Asked("limit", "Limit", "length", "1.0 mm"),
            Asked("resolution", "What the instrument tells apart", "length", "0.1 mm", optional=True),
        ),
        calculate=_wear,
        also=("remaining life", "how long will it last", "trend"),
    ),
)  # fmt: skip
