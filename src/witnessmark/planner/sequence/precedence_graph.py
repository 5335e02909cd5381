"""Times for a given order of steps, where no clock but the steps' own lengths decides.

``PrecedenceGraph`` says once which steps may change places. An order is then a permutation of numbers; its
times, its finish and the later goals are counted in well under a millisecond.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from witnessmark.planner.sequence.model.outline import Outline, Task
from witnessmark.planner.sequence.model.technicians import able
from witnessmark.planner.sequence.order import Ordered, is_walk, numbered
from witnessmark.planner.sequence.search import Solution

Order = Sequence[int]


@dataclass(frozen=True)
class Times:
    """Start and technicians per step, by the step's number; when all are over."""

    starts: list[int]
    crews: list[tuple[int, ...]]
    finish: int


class PrecedenceGraph:
    """The steps of an order, numbered, and what must come before what for it to stay a plan.

    Two steps keep their order where one changes what the other needs, changes or forbids, where
    ``after`` says so, and where both touch a scarce resource. Whatever else changes places, every
    condition runs through the same states, and so does every forbidden combination.
    """

    def __init__(self, outline: Outline, order: Ordered) -> None:
        self.outline, self.steps = outline, order
        self.size = len(order)
        self.tasks = [task for task, _ in order]
        touched = [_touched(outline, task) for task in self.tasks]
        names = [task.name for task in self.tasks]
        self.before: list[list[int]] = []
        for j, (sets, needs, kept) in enumerate(touched):
            if self.tasks[j].running is not None:
                self.before.append([])
                continue
            follows = outline.before.get(names[j], frozenset())
            self.before.append([
                i
                for i in range(j)
                if touched[i][0] & (sets | needs)
                or touched[i][1] & sets
                or touched[i][2] & kept
                or names[i] in follows
            ])  # fmt: skip
        self.crews = [self._able(task) for task in self.tasks]
        self._walks: dict[tuple[int, int], bool] = {}
        self.earliest = [0 if t.running is not None else t.release for t in self.tasks]
        self.lengths = [task.length for task in self.tasks]
        self.attended = [task.attended if task.step.hands else 0 for task in self.tasks]
        self.begun = [n for n, task in enumerate(self.tasks) if task.running is not None]
        self.alone = self.outline.hands == 1

    def _able(self, task: Task) -> tuple[int, ...]:
        technicians = self.outline.problem.technicians
        if task.running is not None:
            there = task.running.technicians
            return tuple(n for n, t in enumerate(technicians) if t.name in there)
        return tuple(n for n, t in enumerate(technicians) if able(t, task))

    @cached_property
    def later(self) -> list[list[int]]:
        """Per step those it must directly come before: ``before`` the other way round."""
        found: list[list[int]] = [[] for _ in range(self.size)]
        for j, before in enumerate(self.before):
            for i in before:
                found[i].append(j)
        return found

    @cached_property
    def after(self) -> list[int]:
        """Per step, as bits: all that must come after it, directly or not."""
        masks = [0] * self.size
        for j in reversed(range(self.size)):
            for i in self.before[j]:
                masks[i] |= masks[j] | 1 << j
        return masks

    @cached_property
    def tails(self) -> list[int]:
        """Per step: from its start to the finish at least, however many technicians there are."""
        tails = [task.length for task in self.tasks]
        for j in reversed(range(self.size)):
            for i in self.before[j]:
                tails[i] = max(tails[i], self.tasks[i].length + tails[j])
        return tails

    def times(self, order: Order) -> Times:
        """Each step as early as can be, technicians taking up work in this order, what is under way first."""
        if self.begun:
            order = [*self.begun, *(n for n in order if n not in self.begun)]
        if self.alone:
            return self._times_of_one(order)
        free = [0] * self.outline.hands
        starts, overs = [0] * self.size, [0] * self.size
        crews: list[tuple[int, ...]] = [()] * self.size
        for n in order:
            task = self.tasks[n]
            start = 0 if task.running is not None else task.release
            for i in self.before[n]:
                start = max(start, overs[i])
            if task.step.hands:
                crew = self._crew(n, free, start)
                if task.attended:
                    start = max([start, *(free[who] for who in crew)])
                    for who in crew:
                        free[who] = start + task.attended
                crews[n] = crew
            starts[n], overs[n] = start, start + task.length
        return Times(starts, crews, max(overs, default=0))

    def _times_of_one(self, order: Order) -> Times:
        """The same for one technician, whose crews are known."""
        free, starts, overs = 0, [0] * self.size, [0] * self.size
        before, attended, lengths = self._nearest_before, self.attended, self.lengths
        for n in order:
            start = self.earliest[n]
            for i in before[n]:
                start = max(start, overs[i])
            if attended[n]:
                start = max(start, free)
                free = start + attended[n]
            starts[n], overs[n] = start, start + lengths[n]
        return Times(starts, self._crews_of_one, max(overs, default=0))

    @cached_property
    def _nearest_before(self) -> list[list[int]]:
        """``before`` without the steps that come before another of them anyway."""
        return [
            [i for i in before if not any(self.after[i] >> m & 1 for m in before)]
            for before in self.before
        ]

    @cached_property
    def _crews_of_one(self) -> list[tuple[int, ...]]:
        steps = zip(self.tasks, self.crews, strict=True)
        return [crew[: task.step.hands] for task, crew in steps]

    def _crew(self, n: int, free: list[int], start: int) -> tuple[int, ...]:
        """Those able to do it who are free first; of those free by then, who was free last."""
        task = self.tasks[n]
        if len(free) == 1 or not task.attended or task.running is not None:
            return self.crews[n][: task.step.hands]
        by = sorted(self.crews[n], key=lambda who: (max(free[who], start), -free[who], who))
        return tuple(sorted(by[: task.step.hands]))

    def dispatched(self, rank: Sequence[tuple[int, ...]]) -> list[int]:
        """An order made from the front: what is under way, then of what can start first the step of least rank."""
        waiting = [len(before) for before in self.before]
        begun = set(self.begun)
        ready = {n for n in range(self.size) if not waiting[n]} - begun
        earliest = self.earliest.copy()
        free, order = [0] * self.outline.hands, list[int]()
        while begun or ready:
            now = sorted(free)
            n = min(begun or ready, key=lambda n: (self._start(n, now, earliest[n]), rank[n], n))
            (begun or ready).remove(n)
            order.append(n)
            task, start = self.tasks[n], self._start(n, now, earliest[n])
            if task.attended and task.step.hands:
                free = now
                free[: task.step.hands] = [start + task.attended] * task.step.hands
            for j in self.later[n]:
                earliest[j] = max(earliest[j], start + task.length)
                waiting[j] -= 1
                if not waiting[j]:
                    ready.add(j)
        return order

    def _start(self, n: int, free: list[int], earliest: int) -> int:
        task = self.tasks[n]
        if task.running is not None:
            return 0
        return max(earliest, free[task.step.hands - 1]) if task.effort else earliest

    def topological(self, rank: Sequence[tuple[int, ...]]) -> list[int]:
        """The order of least rank that keeps what must be kept."""
        waiting = [len(before) for before in self.before]
        ready = [(rank[n], n) for n in range(self.size) if not waiting[n]]
        ready.sort()
        order = []
        while ready:
            _, n = ready.pop(0)
            order.append(n)
            for j in self.later[n]:
                waiting[j] -= 1
                if not waiting[j]:
                    insort(ready, (rank[j], j))
        return order

    def found(self, order: Order) -> Solution:
        """The plan of this order."""
        times = self.times(order)
        at = sorted(order, key=lambda n: (times.starts[n], times.starts[n] + self.tasks[n].length))
        counts = {move.name: 0 for move in self.outline.moves}
        for task, copy in self.steps:
            if task.name in counts and task.running is None:
                counts[task.name] = max(counts[task.name], copy + 1)
        return Solution(
            starts=tuple((*self.steps[n], times.starts[n]) for n in at),
            crews=tuple(times.crews[n] for n in at),
            values={"finish": times.finish, "attended": sum(t.effort for t in self.tasks)},
            caps=counts,
            horizon=times.finish,
            solution=(),
            exposure=self.exposure(times),
        )

    @cached_property
    def _setters(self) -> dict[str, list[int]]:
        """Per condition with exposed states the steps that set it, in order."""
        return {
            name: [n for n, task in enumerate(self.tasks) if name in task.step.sets]
            for name, condition in self.outline.conditions.items()
            if condition.exposed
        }

    def exposed(self, times: Times) -> Iterator[tuple[int | None, int | None, int]]:
        """Each interval of exposed states: the steps that enter and leave it, how long it lasts."""
        for name, setters in self._setters.items():
            states = self.outline.conditions[name].exposed
            entered: int | None = None
            begin = 0 if self.outline.problem.start_state(name) in states else None
            for n in setters:
                into = self.tasks[n].step.sets[name] in states
                if into and begin is None:
                    begin, entered = times.starts[n], n
                elif not into and begin is not None:
                    yield entered, n, times.starts[n] + self.tasks[n].length - begin
                    begin, entered = None, None
            if begin is not None:
                yield entered, None, times.finish - begin

    def exposure(self, times: Times) -> int:
        """Tenths that exposed states last, entering and leaving included."""
        return sum(lasts for _, _, lasts in self.exposed(times))

    def walks(self, order: Order, times: Times) -> int:
        """Per technician neighbouring steps that differ in machine, place or job."""
        last: dict[int, int] = {}
        total = 0
        for n in sorted(order, key=times.starts.__getitem__):
            for who in times.crews[n]:
                total += who in last and self._is_walk(last[who], n)
                last[who] = n
        return total

    def _is_walk(self, i: int, j: int) -> bool:
        pair = i, j
        if pair not in self._walks:
            self._walks[pair] = is_walk(self.tasks[i], self.tasks[j])
        return self._walks[pair]

    def ranks(self, previous: Iterable[str]) -> list[int | None]:
        """Per step its place in a previous order, copies of a move matched in order."""
        place = {key: number for number, key in enumerate(numbered(list(previous)))}
        again = iter(numbered([task.name for task in self.tasks if not task.running]))
        return [None if task.running else place.get(next(again)) for task in self.tasks]


def inversions(ranks: Iterable[int | None]) -> int:
    """Pairs in the wrong order."""
    seen: list[int] = []
    total = 0
    for rank in ranks:
        if rank is not None:
            total += len(seen) - bisect_left(seen, rank)
            insort(seen, rank)
    return total


def _touched(outline: Outline, task: Task) -> tuple[int, int, int]:
    """As bits: what it sets, what it needs, and what must not be touched by two steps out of order."""
    bits = {name: 1 << n for n, name in enumerate(outline.conditions)}
    sets, needs = task.step.sets, task.step.needs
    kept = [row for row in outline.problem.never if sets.keys() & row.keys()]
    rows = sum(1 << n for n, row in enumerate(outline.problem.never) if row in kept)
    scarce = sorted(outline.scarce)
    first = len(outline.problem.never)
    for n, resource in enumerate(scarce):
        held = any(
            resource in units for c in sets for units in outline.conditions[c].holds.values()
        )
        if held or task.step.uses.get(resource):
            rows |= 1 << (first + n)
    return sum(bits[c] for c in sets), sum(bits[c] for c in needs), rows
