"""Which shim goes where: fewest bought, then closest to the targets, then fewest taken from the box.

An assignment problem, solved exactly: each valve takes one piece (a shim that came out, one from
the box, or a bought one), each piece goes under one valve at most, and the cost of a pair is a
whole number that weighs the three aims one above the other (`SimpleLinearSumAssignment` of
OR-Tools, an exact cost-scaling push-relabel method).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from witnessmark.shims.one_valve import (
    MOST_CLEARANCE_MM,
    SHIMS_MM,
    ShimError,
    Valve,
    clearance_with,
    to_mm,
    to_um,
    window,
)

From = Literal["stays", "came out", "box", "to buy"]
MOST_VALVES = 32  # for the program: no motorcycle has more
_TAKEN: dict[From, int] = {"stays": 0, "came out": 0, "box": 1, "to buy": 0}
_NO = 1 << 40  # for the program: dearer than any plan that can be


@dataclass(frozen=True, slots=True)
class Shelf:
    """Shims in the box (mm → how many), and the sizes that can be bought: a range in steps, mm.

    ``step`` None: none can be bought.
    """

    box: Mapping[float, int] = field(default_factory=dict)
    # Common kits; from memory.
    step: float | None = 0.025
    least: float = 1.2  # the same
    most: float = 4.0  # the same

    def __post_init__(self) -> None:
        """Raise ShimError for sizes that are none."""
        low, high = SHIMS_MM
        if self.step is not None and not 0.001 <= self.step <= 0.5:
            raise ShimError(
                "step", f"{self.step:g} mm", "give the step of the sizes, such as 0.025 mm"
            )
        if not low <= self.least <= self.most <= high:
            problem = f"{self.least:g} to {self.most:g} mm"
            raise ShimError(
                "sizes", problem, f"give the sizes that are sold, within {low:g} to {high:g} mm"
            )
        for size, count in self.box.items():
            if not low <= size <= high or count < 0:
                raise ShimError(
                    "box", f"{count} shims of {size:g} mm", f"give sizes of {low:g} to {high:g} mm"
                )


@dataclass(frozen=True, slots=True)
class Fitting:
    """What one valve gets: the shim, where it comes from, the clearance that follows. All mm."""

    valve: Valve
    shim: float
    source: From
    came_from: str = ""  # the valve it came out of

    @property
    def clearance(self) -> float:
        """The clearance with it: measured + fitted − new."""
        return clearance_with(self.valve.fitted, self.valve.measured, self.shim)

    @property
    def off(self) -> float:
        """How far that is from the target."""
        return abs(to_mm(to_um(self.clearance) - to_um(self.valve.aim)))


@dataclass(frozen=True, slots=True)
class Work:
    """The whole plan, proven best: what each valve gets, what to buy, what goes into the box."""

    fittings: tuple[Fitting, ...]
    left_over: tuple[float, ...]  # came out and went under no valve, mm

    @property
    def to_buy(self) -> tuple[float, ...]:
        """Sizes to buy, mm, thinnest first."""
        return tuple(sorted(one.shim for one in self.fittings if one.source == "to buy"))

    @property
    def off(self) -> float:
        """The sum of distances from the targets, mm."""
        return to_mm(sum(to_um(one.off) for one in self.fittings))


@dataclass(frozen=True, slots=True)
class _Piece:
    size: int
    source: From
    came_from: str = ""


def assign(valves: Sequence[Valve], shelf: Shelf, *, all_valves: bool = False) -> Work:
    """The plan that buys fewest shims; of those the one closest to the targets in sum; of those the
    one that takes fewest from the box. Valves within limits keep their shim unless ``all_valves``.

    Raises ShimError where a valve can get no shim: none in the box fits, and none is sold in that
    step. The message names the valve.
    """
    if not 1 <= len(valves) <= MOST_VALVES:
        raise ShimError("valves", f"{len(valves)} valves", f"give 1 to {MOST_VALVES}")
    if len({valve.name for valve in valves}) < len(valves):
        raise ShimError("valves", "two valves have one name", "name each valve once")
    moved = [valve for valve in valves if all_valves or not valve.within]
    found = dict(zip((valve.name for valve in moved), _matched(moved, shelf), strict=True))
    fittings = tuple(
        found.get(valve.name) or Fitting(valve, valve.fitted, "stays") for valve in valves
    )
    return Work(fittings, _left_over(moved, fittings))


def _matched(valves: Sequence[Valve], shelf: Shelf) -> list[Fitting]:
    if not valves:
        return []
    pieces = [_Piece(to_um(valve.fitted), "came out", valve.name) for valve in valves]
    pieces += _from_box(len(valves), shelf)
    bought = [_to_buy(valve, shelf) for valve in valves]
    columns = [*pieces, *(piece for piece in bought if piece)]
    owner = {id(piece): valve.name for valve, piece in zip(valves, bought, strict=True) if piece}
    costs = [[_cost(valve, piece, owner, len(valves)) for piece in columns] for valve in valves]
    for valve, row in zip(valves, costs, strict=True):
        if min(row) >= _NO:
            raise _none_fits(valve, shelf)
    chosen = _solve(costs)
    for valve, row, column in zip(valves, costs, chosen, strict=True):
        if row[column] >= _NO:  # its only pieces went elsewhere, and it can buy none
            raise _none_fits(valve, shelf)
    return [_fitting(valve, columns[column]) for valve, column in zip(valves, chosen, strict=True)]


def _from_box(most: int, shelf: Shelf) -> Iterable[_Piece]:
    """The box's shims; of one size never more than there are valves."""
    return [
        _Piece(to_um(size), "box")
        for size, count in sorted(shelf.box.items())
        for _ in range(min(count, most))
    ]


def _to_buy(valve: Valve, shelf: Shelf) -> _Piece | None:
    """The size on sale that comes closest to the target and leaves the valve within its limits."""
    if shelf.step is None:
        return None
    step, least = to_um(shelf.step), to_um(shelf.least)
    ideal = to_um(valve.fitted) + to_um(valve.measured) - to_um(valve.aim)
    below = least + max(0, (ideal - least) // step) * step
    sizes = [size for size in (below, below + step) if least <= size <= to_um(shelf.most)]
    fit = [size for size in sizes if _fits(valve, size)]
    best = min(fit, key=lambda size: (abs(size - ideal), size), default=None)
    return None if best is None else _Piece(best, "to buy")


def _fits(valve: Valve, size: int) -> bool:
    clearance = to_um(valve.measured) + to_um(valve.fitted) - size
    return to_um(valve.least) <= clearance <= to_um(valve.most)


def _cost(valve: Valve, piece: _Piece, owner: Mapping[int, str], count: int) -> int:
    """Bought, then distance from the target, then taken from the box: each above all sums of the next."""
    if not _fits(valve, piece.size) or owner.get(id(piece), valve.name) != valve.name:
        return _NO
    off = abs(to_um(valve.measured) + to_um(valve.fitted) - piece.size - to_um(valve.aim))
    bought = piece.source == "to buy"
    per_off = count + 1
    per_bought = (to_um(MOST_CLEARANCE_MM) + 1) * count * per_off
    return bought * per_bought + off * per_off + _TAKEN[piece.source]


def _solve(costs: Sequence[Sequence[int]]) -> list[int]:
    """The column of each row at least cost in sum; rows of no cost make it square."""
    from ortools.graph.python.linear_sum_assignment import (  # noqa: PLC0415 - a second to import
        SimpleLinearSumAssignment,
    )

    width = len(costs[0])
    solver = SimpleLinearSumAssignment()
    for row in range(width):
        for column in range(width):
            solver.add_arc_with_cost(row, column, costs[row][column] if row < len(costs) else 0)
    status = solver.solve()
    assert status == SimpleLinearSumAssignment.OPTIMAL, status  # every row reaches every column
    return [solver.right_mate(row) for row in range(len(costs))]


def _fitting(valve: Valve, piece: _Piece) -> Fitting:
    if piece.source == "came out" and piece.came_from == valve.name:
        return Fitting(valve, to_mm(piece.size), "stays")
    return Fitting(valve, to_mm(piece.size), piece.source, piece.came_from)


def _left_over(moved: Sequence[Valve], fittings: Iterable[Fitting]) -> tuple[float, ...]:
    out = Counter(to_um(valve.fitted) for valve in moved)
    used = Counter(
        to_um(one.shim)
        for one in fittings
        if one.source == "came out" or (one.source == "stays" and one.valve in moved)
    )
    return tuple(to_mm(size) for size in sorted((out - used).elements()))


def _none_fits(valve: Valve, shelf: Shelf) -> ShimError:
    low, high = window(valve.fitted, valve.measured, valve.least, valve.most)
    problem = f"{valve.name} needs a shim of {low:.3f} to {high:.3f} mm, and none is there or sold"
    sold = f"sizes are {shelf.least:g} to {shelf.most:g} mm in steps of {shelf.step or 0:g} mm"
    if shelf.step is None:
        sold = "say which sizes are sold"
    expected = f"{sold}: look at the figures again, or at the seat"
    return ShimError(valve.name, problem, expected)
