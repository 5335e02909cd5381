"""The order in which a plan changes states, as precedences between its steps.

With that order fixed, the plan's times are a question of scheduling alone: any times that keep these
precedences, and the technicians, resources and nights, make a sound plan. Times in whole tenths.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product

from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import Condition, Operation, tenths
from witnessmark.planner.problem.plan import PlanStep
from witnessmark.planner.sequence.model.outline import Task, runs, task_of

ORIGIN = -1  # minute 0
FINISH = -2  # the finish of all


@dataclass(frozen=True)
class Point:
    """A time: so long after an item's start, after minute 0 (ORIGIN), or the FINISH."""

    item: int
    after: int


@dataclass(frozen=True)
class Arc:
    """``then`` is no earlier than ``first``."""

    first: Point
    then: Point


@dataclass(frozen=True)
class Hold:
    """Units of a resource taken from one time to another."""

    resource: str
    units: int
    begin: Point
    end: Point


@dataclass(frozen=True)
class Open:
    """A condition stands exposed from one time to another; ``by``: the item that opened it."""

    begin: Point
    end: Point
    by: int | None


@dataclass
class Path:
    """All that binds the times of the items."""

    items: list[Task]
    arcs: list[Arc] = field(default_factory=list)
    holds: list[Hold] = field(default_factory=list)
    opens: list[Open] = field(default_factory=list)


@dataclass(frozen=True)
class _Stay:
    """A state of a condition from the step that set it to the step that changes it, lapses included."""

    state: str
    begin: Point  # where it is entered
    reached: Point
    left: Point
    end: Point  # where the step that changes it is over
    by: int | None
    to: int | None


@dataclass(frozen=True)
class _StateInterval:
    begin: Point
    end: Point
    by: int | None
    order: tuple[int, int]  # begin and end in the plan the path was made from


def path_of(problem: Problem, steps: Sequence[PlanStep]) -> Path:
    """The path that a sound plan of this problem takes. ``steps`` in order of their starts."""
    return _PathReader(problem, steps).path


def items_of(problem: Problem, steps: Sequence[PlanStep]) -> tuple[list[Task], list[int]]:
    """The items of a plan and their starts: what runs already first, then the plan's steps."""
    items, starts = list[Task](), list[int]()
    for running in problem.now.running if problem.now else ():
        items.append(task_of(problem.step(running.name), running))
        starts.append(0)
    for listed in steps:
        items.append(task_of(problem.step(listed.name)))
        starts.append(tenths(listed.start))
    return items, starts


class _PathReader:
    """Reads the stays of each condition off a plan, and what follows from them."""

    def __init__(self, problem: Problem, steps: Sequence[PlanStep]) -> None:
        self.problem = problem
        items, self.starts = items_of(problem, steps)
        self.path = Path(items)
        self.named = {name for row in problem.never for name in row}
        self.finish = max(
            (s + i.length for s, i in zip(self.starts, items, strict=True)), default=0
        )
        self.setters: dict[str, list[int]] = defaultdict(list)
        self.users: dict[str, list[int]] = defaultdict(list)
        for n in sorted(range(len(items)), key=lambda n: (self.starts[n], n)):
            for name in items[n].step.sets:
                self.setters[name].append(n)
            for name in items[n].step.needs:
                if name not in items[n].step.sets:
                    self.users[name].append(n)
        self._after()
        watched = self._watched()
        self.stays = {name: self._stays(name) for name in problem.conditions}
        for name, condition in problem.conditions.items():
            self._changes(name, condition, keep_segments=name in watched)
            self._uses(name, condition)
        self._finish_states()
        self._holds()
        self._opens()
        for row in problem.never:
            self._never(row)

    def at(self, point: Point) -> int:
        """When a point lies in the plan the path is made from."""
        if point.item == FINISH:
            return self.finish
        return point.after + (0 if point.item == ORIGIN else self.starts[point.item])

    def add(self, first: Point, then: Point, gap: int = 0) -> None:
        self.path.arcs.append(Arc(Point(first.item, first.after + gap), then))

    def over(self, n: int) -> Point:
        return Point(n, self.path.items[n].length)

    def _after(self) -> None:
        place = {item.step.name: n for n, item in enumerate(self.path.items)}
        for n, item in enumerate(self.path.items):
            if isinstance(item.step, Operation) and item.running is None:
                for name in item.step.after:
                    if name in place:
                        self.add(self.over(place[name]), Point(n, 0))

    def _watched(self) -> set[str]:
        """Conditions whose lapses matter beyond what steps need: what is held, exposed, forbidden."""
        return {
            name
            for name, condition in self.problem.conditions.items()
            if condition.lapse and (condition.finish is not None or self._limits(name))
        }

    def _stays(self, name: str) -> list[_Stay]:
        state = self.problem.start_state(name)
        begin = Point(ORIGIN, 0)
        reached = Point(ORIGIN, -tenths(self.problem.start_age(name)))
        found, by = [], None
        for n in self.setters[name]:
            found.append(_Stay(state, begin, reached, Point(n, 0), self.over(n), by, n))
            state = self.path.items[n].step.sets[name]
            begin, reached, by = Point(n, 0), self.over(n), n
        end = Point(FINISH, 0)
        return [*found, _Stay(state, begin, reached, end, end, by, None)]

    def _changes(self, name: str, condition: Condition, *, keep_segments: bool) -> None:
        """A setter starts when the one before is over, in a state it accepts."""
        for stay in self.stays[name]:
            if stay.to is not None:
                if stay.by is not None:
                    self.add(self.over(stay.by), Point(stay.to, 0))
                item = self.path.items[stay.to]
                needs = item.step.needs.get(name, condition.states)
                if condition.lapse and item.running is None:
                    self._within(condition, stay, needs, Point(stay.to, 0), Point(stay.to, 1))
            if keep_segments:
                for state in condition.states:
                    self._keep_segment(name, stay, state)

    def _keep_segment(self, name: str, stay: _Stay, state: str) -> None:
        """The stay is left in the state in which it was left in the plan at hand."""
        condition = self.problem.conditions[name]
        for begin, end in runs(condition, stay.state, (state,)):
            inside = self.at(stay.left) - self.at(stay.reached)
            free = stay.to is None and condition.finish != state and not self._limits(name)
            if begin <= inside and (end is None or inside < end):
                self.add(stay.reached, stay.left, begin)
                if end is not None and not free:
                    self.add(stay.left, stay.reached, 1 - end)

    def _limits(self, name: str) -> bool:
        condition = self.problem.conditions[name]
        return bool(name in self.named or condition.holds or condition.exposed)

    def _within(
        self, condition: Condition, stay: _Stay, allowed: Sequence[str], start: Point, over: Point
    ) -> None:
        """[start, over) lies in the run of allowed states in which it lies in the plan at hand."""
        since = self.at(start) - self.at(stay.reached)
        for begin, end in runs(condition, stay.state, allowed):
            if begin <= since and (end is None or since < end):
                self.add(stay.reached, start, begin)
                if end is not None:
                    self.add(over, stay.reached, -end)
                return

    def _uses(self, name: str, condition: Condition) -> None:
        """A step that needs a state without setting it lies within one stay."""
        stays, place = self.stays[name], 0
        for n in self.users[name]:
            while stays[place].to is not None and self.starts[n] >= self.at(stays[place].end):
                place += 1
            stay = stays[place]
            if stay.by is not None:
                self.add(self.over(stay.by), Point(n, 0))
            if stay.to is not None:
                self.add(self.over(n), Point(stay.to, 0))
            if condition.lapse and self.path.items[n].running is None:
                needs = self.path.items[n].step.needs[name]
                self._within(condition, stay, needs, Point(n, 0), self.over(n))

    def _finish_states(self) -> None:
        """A finish state that only a lapse reaches is waited for."""
        for name, condition in self.problem.conditions.items():
            stay = self.stays[name][-1]
            if condition.finish is None or stay.state == condition.finish:
                continue
            for begin, _ in runs(condition, stay.state, (condition.finish,)):
                self.add(stay.reached, Point(FINISH, 0), begin)

    def intervals(self, name: str, states: Sequence[str]) -> Iterator[_StateInterval]:
        """When a condition is in some states, entered and left included, as in the plan at hand."""
        condition = self.problem.conditions[name]
        open_: _StateInterval | None = None
        for stay in self.stays[name]:
            inside = self.at(stay.left) - self.at(stay.reached)
            for begin, end in runs(condition, stay.state, states):
                if begin > inside:
                    continue
                starts = stay.begin if begin == 0 else _later(stay.reached, begin)
                lapsed = end is not None and end <= inside
                ends = _later(stay.reached, end) if lapsed and end is not None else stay.end
                by = stay.by if begin == 0 else None
                if open_ is not None and open_.end == self._entered(stay) and begin == 0:
                    starts, by = open_.begin, open_.by
                elif open_ is not None:
                    yield open_
                open_ = _StateInterval(starts, ends, by, (self.at(starts), self.at(ends)))
        if open_ is not None:
            yield open_

    def _entered(self, stay: _Stay) -> Point | None:
        """Where the stay before ends, if the step that sets this one ends it."""
        return None if stay.by is None else self.over(stay.by)

    def _holds(self) -> None:
        """Level by level, so that a change from one holding state to another takes the larger amount."""
        for name, condition in self.problem.conditions.items():
            for resource in sorted({r for held in condition.holds.values() for r in held}):
                units = {state: held.get(resource, 0) for state, held in condition.holds.items()}
                below = 0
                for level in sorted(set(units.values()) - {0}):
                    states = [state for state, count in units.items() if count >= level]
                    self.path.holds += [
                        Hold(resource, level - below, interval.begin, interval.end)
                        for interval in self.intervals(name, states)
                    ]
                    below = level

    def _opens(self) -> None:
        for name, condition in self.problem.conditions.items():
            if condition.exposed:
                self.path.opens += [
                    Open(interval.begin, interval.end, interval.by)
                    for interval in self.intervals(name, condition.exposed)
                ]

    def _never(self, row: Mapping[str, Sequence[str]]) -> None:
        """Of each group of intervals that would make up a forbidden combination, two keep apart."""
        groups = [list(self.intervals(name, states)) for name, states in row.items()]
        if len(groups) == 2:
            for one in groups[0]:
                for other in groups[1]:
                    self._apart((one, other))
        elif all(groups):
            for together in product(*groups):
                self._apart(together)

    def _apart(self, together: Sequence[_StateInterval]) -> None:
        ends = min(together, key=lambda interval: interval.order[1])
        begins = max(together, key=lambda interval: interval.order[0])
        if ends is not begins and ends.end.item != FINISH:
            self.add(ends.end, begins.begin)


def _later(point: Point, by: int) -> Point:
    return Point(point.item, point.after + by)
