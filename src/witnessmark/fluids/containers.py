"""Which packs to open so that a volume is covered: least left over, then fewest packs."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from witnessmark.fluids.volume import FluidError, exact_ml
from witnessmark.units import show

MOST_ML = 100_000.0  # judged by us: more is not covered from packs at one go
MOST_SIZES = 12  # for the program
_MOST_STEPS = 100_000  # for the program: keeps the sum under a second or so
_NEVER = 1 << 60  # for the program


@dataclass(frozen=True, slots=True)
class Containers:
    """Packs to open: (size in mL, how many), largest first; what they hold; what is left over."""

    packs: tuple[tuple[float, int], ...]
    total_ml: float
    left_over_ml: float

    @property
    def count(self) -> int:
        """Packs in all."""
        return sum(number for _, number in self.packs)

    @property
    def words(self) -> str:
        """For the kit. Example: ``1 × 4 L, 1 × 1 L (0.5 L left over)``."""
        packs = ", ".join(f"{number} × {show(size, 'volume')}" for size, number in self.packs)
        left = f" ({show(self.left_over_ml, 'volume')} left over)" if self.left_over_ml else ""
        return packs + left


def containers(
    volume_ml: float,
    sizes_ml: Iterable[float],
    *,
    at_hand: Mapping[float, int] | None = None,
) -> Containers:
    """Cover a volume from packs of these sizes: the least left over, then the fewest packs. Exact.

    ``at_hand``: how many there are of each size (absent: as many as it takes). Dynamic programming
    over the greatest common divisor of the sizes: per size, the fewest packs for every sum. Sizes
    with no coarser common divisor (a US quart beside a litre) are compared to the millilitre.
    Raises FluidError where no sizes are given, a volume is none, there is too much to cover
    (`MOST_ML`, `MOST_SIZES`), or the packs at hand do not suffice.
    """
    volume, sizes = exact_ml(volume_ml, "volume"), _sizes(sizes_ml)
    need, widths = _in_steps(volume, sizes)
    limits = [_limit(size, width, need, at_hand) for size, width in zip(sizes, widths, strict=True)]
    if sum(width * most for width, most in zip(widths, limits, strict=True)) < need:
        problem = f"the packs at hand do not hold {show(volume_ml, 'volume')}"
        raise FluidError("packs", problem, "get more of it")
    taken = _fewest(need, widths, limits)
    packs = [(size, number) for size, number in zip(sizes, taken, strict=True) if number]
    total = sum((size * number for size, number in packs), Fraction(0))
    return Containers(
        tuple((float(size), number) for size, number in packs), float(total), float(total - volume)
    )


def _sizes(sizes_ml: Iterable[float]) -> list[Fraction]:
    sizes = sorted({exact_ml(size, "pack") for size in sizes_ml}, reverse=True)
    if not sizes:
        raise FluidError("packs", "there is no pack to open", "name the packs this fluid comes in")
    if len(sizes) > MOST_SIZES:
        raise FluidError("packs", f"{len(sizes)} sizes", f"give at most {MOST_SIZES}")
    return sizes


def _in_steps(volume: Fraction, sizes: list[Fraction]) -> tuple[int, list[int]]:
    """The number of steps to cover, and the steps in each size.

    The step is what all sizes are multiples of; where that is too fine to count in (a US quart
    beside a litre), a millilitre: the volume is then taken up to the next, each size down.
    """
    if volume > MOST_ML:
        problem = f"{show(float(volume), 'volume')} is too much to cover from packs at one go"
        raise FluidError("volume", problem, f"give at most {show(MOST_ML, 'volume')}")
    scale = math.lcm(*(size.denominator for size in sizes))
    step = Fraction(math.gcd(*(int(size * scale) for size in sizes)), scale)
    if volume / step > _MOST_STEPS and min(sizes) >= 1:
        step = Fraction(1)
    if volume / step > _MOST_STEPS:
        problem = f"a pack of {float(min(sizes))} mL is too small to count with"
        raise FluidError("packs", problem, "give packs of 1 mL or more")
    return math.ceil(volume / step), [math.floor(size / step) for size in sizes]


def _limit(size: Fraction, width: int, need: int, at_hand: Mapping[float, int] | None) -> int:
    enough = -(-need // width)
    return enough if at_hand is None else min(enough, max(0, at_hand.get(float(size), 0)))


def _fewest(need: int, widths: list[int], limits: list[int]) -> list[int]:
    """How many of each width make up the least sum not under ``need`` with the fewest packs."""
    reach = need + max(widths)  # the best sum overshoots by less than its largest pack
    fewest = [0] + [_NEVER] * reach
    used: list[list[int]] = []
    for width, most in zip(widths, limits, strict=True):
        fewest, numbers = _with_size(fewest, width, most)
        used.append(numbers)
    rest = next(total for total in range(need, reach + 1) if fewest[total] < _NEVER)
    taken = [0] * len(widths)
    for place in reversed(range(len(widths))):
        taken[place] = used[place][rest]
        rest -= taken[place] * widths[place]
    return taken


def _with_size(fewest: list[int], width: int, most: int) -> tuple[list[int], list[int]]:
    """Per sum the fewest packs once up to ``most`` of this width may be added, and how many were.

    Sums of one remainder form a line; along it a window of ``most`` + 1 keeps its least value.
    """
    best, numbers = fewest[:], [0] * len(fewest)
    for remainder in range(min(width, len(fewest))):
        window: deque[tuple[int, int]] = deque()  # (packs before less their place, place)
        for place, total in enumerate(range(remainder, len(fewest), width)):
            value = fewest[total] - place
            while window and window[-1][0] >= value:
                window.pop()
            window.append((value, place))
            while window[0][1] < place - most:
                window.popleft()
            if window[0][0] + place < _NEVER:
                best[total], numbers[total] = window[0][0] + place, place - window[0][1]
    return best, numbers
