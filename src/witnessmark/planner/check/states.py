"""Replay what the steps do to each condition: a timeline of states, and the rules that rest on it.

A timeline is a list of spans without gaps from minute 0 to just past the finish. A span holds one
state, or the old and the new one while a step changes the condition. Times are whole tenths of a
minute, intervals half-open.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby

from witnessmark.planner.check.layout import Placed, PlanFault, Rule, minutes
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import Condition, tenths

Minutes = tuple[int, int]


@dataclass(frozen=True)
class Span:
    """One stretch [start, stop) of a condition: its state, or (old, new) with the step that is
    changing it.
    """

    start: int
    stop: int
    states: tuple[str, ...]
    changing: Placed | None = None


class ConditionClock:
    """The state of one condition between changes, and when it was reached: it lapses as time
    goes on.
    """

    def __init__(self, condition: Condition, state: str, reached: int) -> None:
        self.condition, self.state, self.reached = condition, state, reached

    def next_lapse(self) -> int | None:
        """When the present state gives way by itself; None if it lasts."""
        lapse = self.condition.lapse.get(self.state)
        return None if lapse is None else self.reached + tenths(lapse.after)

    def run(self, start: int, stop: int) -> Iterator[Span]:
        """Let time pass from start to stop: the spans of states in between; the clock then stands
        at stop.
        """
        while (due := self.next_lapse()) is not None and due <= stop:
            if due > start:
                yield Span(start, due, (self.state,))
                start = due
            self.state, self.reached = self.condition.lapse[self.state].to, due
        if start < stop:
            yield Span(start, stop, (self.state,))

    def set(self, state: str, at: int) -> None:
        """A step has put the condition into a state; its clock starts again."""
        self.state, self.reached = state, at


class Timelines:
    """Every condition of the problem through the whole plan.

    ``finish``: the earliest instant, not before all steps are over, at which all finish states hold
    together, and ``end_of_steps`` where there is no such instant (then ``faults`` says so).
    """

    def __init__(self, problem: Problem, placed: list[Placed]) -> None:
        self.problem, self.placed = problem, placed
        self.faults: list[PlanFault] = []
        self.end_of_steps = max((one.over for one in placed), default=0)
        self._setters: dict[str, list[Placed]] = defaultdict(list)
        for one in sorted(placed, key=lambda one: (one.start, one.over)):
            for name in one.step.sets:
                self._setters[name].append(one)
        self.spans: dict[str, list[Span]] = {}
        self._clocks: dict[str, ConditionClock] = {}
        for name, condition in problem.conditions.items():
            self.spans[name] = self._replay(name, condition)
        self.finish = self._finish()
        for name, clock in self._clocks.items():
            # one tenth past the finish: the states reached at that very instant count
            self.spans[name] += clock.run(self.end_of_steps, self.finish + 1)
        self.day_ends = day_ends(problem)
        over_night = max(self.day_ends, default=0) + 1
        self.afterwards = {
            name: list(clock.run(self.finish + 1, over_night))
            for name, clock in self._clocks.items()
        }
        self._starts = {name: [span.start for span in spans] for name, spans in self.spans.items()}

    def _replay(self, name: str, condition: Condition) -> list[Span]:
        clock = self._clocks[name] = ConditionClock(condition, *_at_zero(self.problem, name))
        spans: list[Span] = []
        now = 0
        for setter in self._setters[name]:
            if setter.start < now:
                self._overlap(name, spans[-1].changing, setter)
            start = max(now, setter.start)
            spans += clock.run(now, start)
            now = max(now, setter.over)
            new = setter.step.sets[name]
            if start < now:
                spans.append(Span(start, now, (clock.state, new), setter))
            clock.set(new, now)
        spans += clock.run(now, self.end_of_steps)
        return spans

    def _overlap(self, name: str, other: Placed | None, setter: Placed) -> None:
        names = (setter.name,) if other is None else (other.name, setter.name)
        words = f"{' and '.join(names)} both change {name} at minute {minutes(setter.start):g}"
        self.faults.append(PlanFault(Rule.OCCUPATION, names, minutes(setter.start), words))

    def _finish(self) -> int:
        """Let the clocks run on, in thought, until every finish state is there."""
        wanted = {n: c.finish for n, c in self.problem.conditions.items() if c.finish is not None}
        clocks = {
            name: ConditionClock(clock.condition, clock.state, clock.reached)
            for name, clock in self._clocks.items()
            if name in wanted
        }
        at = self.end_of_steps
        while True:  # lapses lead nowhere in circles: each round uses one up
            missing = [name for name, clock in clocks.items() if clock.state != wanted[name]]
            if not missing:
                return at
            lapses = [clocks[name].next_lapse() for name in missing]
            if None in lapses:  # that one stays as it is for ever
                missing = [n for n, due in zip(missing, lapses, strict=True) if due is None]
                break
            at = max(due for due in lapses if due is not None)
            for clock in clocks.values():
                list(clock.run(at, at))
        for name in missing:
            words = f"{name} is left {clocks[name].state} at the end; it must finish {wanted[name]}"
            last = tuple(one.name for one in self._setters[name][-1:])
            self.faults.append(PlanFault(Rule.ORDER, last, minutes(self.end_of_steps), words))
        return self.end_of_steps

    def between(self, name: str, start: int, stop: int) -> Iterator[Span]:
        """The spans of a condition that overlap [start, stop)."""
        spans = self.spans[name]
        first = max(0, bisect_right(self._starts[name], start) - 1)
        for span in spans[first:]:
            if span.start >= stop:
                return
            if span.stop > start:
                yield span

    def exposed(self, name: str) -> list[Minutes]:
        """When a condition is in an exposed state, entered and left included, till the finish."""
        states = self.problem.conditions[name].exposed
        return [(a, min(b, self.finish)) for a, b in self.holding(name, states) if a < self.finish]

    def left_exposed(self, name: str) -> list[Minutes]:
        """The same, until the last day ends: what stands exposed at the finish goes on standing so."""
        spans = self.spans[name] + self.afterwards[name]
        return _joined(spans, self.problem.conditions[name].exposed)

    def holding(self, name: str, states: Iterable[str]) -> list[Minutes]:
        """When a condition is in one of these states, or is leaving or entering one: joined
        intervals.
        """
        return _joined(self.spans[name], states)


def _joined(spans: Iterable[Span], states: Iterable[str]) -> list[Minutes]:
    wanted = set(states)
    joined: list[Minutes] = []
    for span in spans:
        if wanted.isdisjoint(span.states):
            continue
        if joined and joined[-1][1] == span.start:
            joined[-1] = (joined[-1][0], span.stop)
        else:
            joined.append((span.start, span.stop))
    return joined


def _at_zero(problem: Problem, name: str) -> tuple[str, int]:
    """State at minute 0 and when it was reached (0 or before)."""
    condition, now = problem.conditions[name], problem.now
    state, age = condition.start, condition.age
    if now is not None and name in now.states:
        state, age = now.states[name], 0.0
    if now is not None and name in now.ages:
        age = now.ages[name]
    return state, -tenths(age)


def needs(timelines: Timelines) -> list[PlanFault]:
    """Rules 1 and 2: what a step needs is there, from start to over, and no other step changes it
    meanwhile.
    """
    faults = list(timelines.faults)
    for one in timelines.placed:
        for name, allowed in one.step.needs.items():
            if name in one.step.sets:
                faults += [] if one.running else _at_start(timelines, one, name, allowed)
            else:
                faults += _throughout(timelines, one, name, allowed)
    return faults


def _at_start(
    timelines: Timelines, one: Placed, name: str, allowed: tuple[str, ...]
) -> Iterator[PlanFault]:
    for span in timelines.between(name, one.start, one.start + 1):
        if span.states[0] not in allowed:
            yield _not_there(one, name, allowed, span.states[0], one.start)


def _throughout(
    timelines: Timelines, one: Placed, name: str, allowed: tuple[str, ...]
) -> Iterator[PlanFault]:
    for span in timelines.between(name, one.start, one.over):
        at = max(span.start, one.start)
        if span.changing is not None:
            words = (
                f"{one.name} needs {name} while {span.changing.name} changes it, at "
                f"minute {minutes(at):g}"
            )
            names = (one.name, span.changing.name)
            yield PlanFault(Rule.OCCUPATION, names, minutes(at), words)
        elif span.states[0] not in allowed:
            yield _not_there(one, name, allowed, span.states[0], at)


def _not_there(one: Placed, name: str, allowed: tuple[str, ...], state: str, at: int) -> PlanFault:
    words = (
        f"{one.name} needs {name} {' or '.join(allowed)}, but it is {state} at "
        f"minute {minutes(at):g}"
    )
    return PlanFault(Rule.NEED, (one.name,), minutes(at), words)


def limits(timelines: Timelines) -> list[PlanFault]:
    """Rule 5: capacities, forbidden combinations, nothing exposed over the end of a day's last
    shift.
    """
    return [*_capacities(timelines), *_forbidden(timelines), *_over_night(timelines)]


def _capacities(timelines: Timelines) -> Iterator[PlanFault]:
    """``uses`` and ``holds`` against capacity; a condition being changed takes the larger of old
    and new.
    """
    changes: dict[str, list[tuple[int, int, str]]] = defaultdict(list)
    for one in timelines.placed:
        for resource, units in one.step.uses.items():
            changes[resource] += [(one.start, units, one.name), (one.over, -units, one.name)]
    for name, condition in timelines.problem.conditions.items():
        for span in timelines.spans[name]:
            by = span.changing.name if span.changing else ""
            for resource, units in _held(condition, span.states).items():
                changes[resource] += [(span.start, units, by), (span.stop, -units, by)]
    for resource, events in changes.items():
        yield from _overfull(resource, timelines.problem.resources.get(resource, 0), events)


def _overfull(
    resource: str, capacity: int, events: list[tuple[int, int, str]]
) -> Iterator[PlanFault]:
    """Each stretch in which more is taken than there is, told where it begins."""
    taken = 0
    for at, together in groupby(sorted(events), key=lambda event: event[0]):
        before, names = taken, []
        for _, units, by in together:
            taken += units
            names += [by] if units > 0 and by else []
        if before <= capacity < taken:
            words = f"{resource}: {taken} taken at minute {minutes(at):g}, there are {capacity}"
            yield PlanFault(Rule.LIMIT, tuple(dict.fromkeys(names)), minutes(at), words)


def _held(condition: Condition, states: tuple[str, ...]) -> dict[str, int]:
    held: dict[str, int] = {}
    for state in states:
        for resource, units in condition.holds.get(state, {}).items():
            held[resource] = max(held.get(resource, units), units)
    return held


def _forbidden(timelines: Timelines) -> Iterator[PlanFault]:
    for combination in timelines.problem.never:
        together: list[Minutes] | None = None
        for name, states in combination.items():
            here = timelines.holding(name, states)
            together = here if together is None else _both(together, here)
        for start, _ in together or []:
            at_work = tuple(
                span.changing.name
                for name in combination
                for span in timelines.between(name, start, start + 1)
                if span.changing is not None
            )
            told = " with ".join(f"{n} {' or '.join(s)}" for n, s in combination.items())
            words = f"never {told}: it holds at minute {minutes(start):g}"
            yield PlanFault(Rule.LIMIT, tuple(dict.fromkeys(at_work)), minutes(start), words)


def _both(ours: list[Minutes], theirs: list[Minutes]) -> list[Minutes]:
    """Where both lists of intervals (each in order, without overlap) hold."""
    both: list[Minutes] = []
    i = j = 0
    while i < len(ours) and j < len(theirs):
        start, stop = max(ours[i][0], theirs[j][0]), min(ours[i][1], theirs[j][1])
        if start < stop:
            both.append((start, stop))
        if ours[i][1] < theirs[j][1]:
            i += 1
        else:
            j += 1
    return both


def day_ends(problem: Problem) -> list[int]:
    """The end of the last shift of each day, in tenths; none where a technician is always at work.

    A day has 1440 minutes, ``clock`` of them gone at minute 0; a shift belongs to the day in which it begins.
    """
    last: dict[int, int] = {}
    for technician in problem.technicians:
        if technician.shifts is None:
            return []
        for start, stop in technician.shifts:
            day = (tenths(start) + tenths(problem.clock)) // 14_400
            last[day] = max(last.get(day, tenths(stop)), tenths(stop))
    return sorted(last.values())


def _over_night(timelines: Timelines) -> Iterator[PlanFault]:
    for name, condition in timelines.problem.conditions.items():
        for start, stop in timelines.left_exposed(name):
            later = [end for end in timelines.day_ends if start < end < stop]
            if later:
                words = (
                    f"{name} is left {' or '.join(condition.exposed)} over the end "
                    f"of the day's last shift, minute {minutes(later[0]):g}"
                )
                opened = tuple(
                    span.changing.name
                    for span in timelines.between(name, start, start + 1)
                    if span.changing is not None
                )
                yield PlanFault(Rule.LIMIT, opened, minutes(later[0]), words)
