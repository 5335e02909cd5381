"""What every dispatch of a path needs, computed once: predecessors, chains, scarce resources."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from witnessmark.planner.board.path import FINISH, ORIGIN, Path
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import tenths
from witnessmark.planner.problem.shifts import day_ends

NEVER = 10**9


class Prepared:
    """What is the same for every run over one path."""

    def __init__(self, problem: Problem, path: Path, reference: Sequence[int]) -> None:
        """``reference``: starts of some plan of this path, each part alone; for estimates only."""
        self.problem, self.path = problem, path
        self.change = None if problem.change_minutes is None else tenths(problem.change_minutes)
        count = len(path.items)
        self.before: list[list[tuple[int, int]]] = [[] for _ in range(count)]
        self.after: list[list[int]] = [[] for _ in range(count)]
        self.least = [item.release for item in path.items]
        self.deadlines: list[tuple[int, int, int]] = []
        self.to_finish: list[tuple[int, int]] = []
        self._read_arcs()
        self.lengths = [item.length for item in path.items]
        self.attended = [item.attended if item.step.hands else 0 for item in path.items]
        self.hands = [item.step.hands if item.attended else 0 for item in path.items]
        self.machine = [item.step.machine for item in path.items]
        self.scarce = self._scarce()
        self.begins = _numbered(count, (hold.begin.item for hold in path.holds))
        self.ends = _numbered(count, (hold.end.item for hold in path.holds))
        self.opens = _numbered(count, (interval.begin.item for interval in path.opens))
        self.shuts = _numbered(count, (interval.end.item for interval in path.opens))
        self.nights = [tenths(end) for end in day_ends(problem)]
        self.spans = [self._span(number, reference) for number in range(len(path.opens))]
        self.tails = self._tails()
        self.skills = [frozenset(item.step.skills) for item in path.items]

    def _read_arcs(self) -> None:
        for arc in self.path.arcs:
            first, then, gap = arc.first.item, arc.then.item, arc.first.after - arc.then.after
            if first >= 0 and then >= 0:
                if gap >= 0:
                    self.before[then].append((first, gap))
                    self.after[first].append(then)
                else:
                    self.deadlines.append((first, then, gap))
            elif first == ORIGIN and then >= 0:
                self.least[then] = max(self.least[then], gap)
            elif then == FINISH and first != FINISH:
                self.to_finish.append((first, gap))
            else:
                self.deadlines.append((first, then, gap))

    def _scarce(self) -> frozenset[str]:
        asked: dict[str, int] = {}
        for item in self.path.items:
            for resource, units in item.step.uses.items():
                asked[resource] = asked.get(resource, 0) + units
        for hold in self.path.holds:
            asked[hold.resource] = asked.get(hold.resource, 0) + hold.units
        return frozenset(r for r, n in asked.items() if n > self.problem.resources.get(r, 0))

    def _span(self, number: int, reference: Sequence[int]) -> int:
        """How long a condition stands open in the reference plan."""
        interval = self.path.opens[number]
        if interval.end.item < 0 or interval.begin.item < 0:
            return 0 if interval.end.item != FINISH else NEVER
        begin = reference[interval.begin.item] + interval.begin.after
        return reference[interval.end.item] + interval.end.after - begin

    def _tails(self) -> list[int]:
        """Per item the longest chain of lengths from its start to the end."""
        tails = list(self.lengths)
        waiting = [len(later) for later in self.after]
        ready = [n for n, count in enumerate(waiting) if not count]
        while ready:
            n = ready.pop()
            for first, gap in self.before[n]:
                tails[first] = max(tails[first], gap + tails[n])
                waiting[first] -= 1
                if not waiting[first]:
                    ready.append(first)
        return tails


def _numbered(count: int, items: Iterable[int]) -> list[list[int]]:
    """Per item the numbers of the entries that name it."""
    found: list[list[int]] = [[] for _ in range(count)]
    for number, item in enumerate(items):
        if item >= 0:
            found[item].append(number)
    return found
