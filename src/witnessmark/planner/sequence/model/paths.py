"""How conditions change: one path through their setters, and who may rely on each state.

Per condition one circuit: node 0 is before the start and after the finish, node i the i-th setter; a
setter outside the path loops on itself. ``v.stays[condition][i]`` is the state reached by node i.
"""

from __future__ import annotations

from ortools.sat.python import cp_model

from witnessmark.planner.sequence.model.outline import Run, lasts
from witnessmark.planner.sequence.model.variables import Freedom, Literal, Placed, Stay, Variables
from witnessmark.planner.sequence.model.visits import Visits


def a_condition_changes_only_by_its_setters(v: Variables) -> None:
    """Setters of a condition follow one another, each in a state it accepts, to the finish."""
    for condition in v.outline.conditions:
        _Path(v, condition).constrain()


def a_needed_state_holds_to_the_end(v: Variables) -> None:
    """A step that needs a state without setting it starts and is over within one interval of it."""
    for placed in v.placed:
        for condition, states in placed.task.step.needs.items():
            if not placed.sets(condition):
                _rely(v, placed, condition, states)


class _Path:
    """The circuit of one condition."""

    def __init__(self, v: Variables, name: str) -> None:
        self.v, self.name = v, name
        self.condition = v.outline.conditions[name]
        self.stays = v.stays[name]
        self.visits = Visits(v, name)
        self.freedom = v.freedom.get(name)
        self.arcs: list[tuple[int, int, cp_model.LiteralT]] = []
        self.follows = v.follows.setdefault(name, {})

    def constrain(self) -> None:
        for number, stay in enumerate(self.stays):
            if stay.by is not None:
                self._let_out(number, stay, stay.by)
        for i, stay in enumerate(self.stays):
            for j, later in enumerate(self.stays):
                if later.by is not None and self._may_follow(stay, later.by):
                    self._let_follow(i, j, stay, later.by)
            self._let_finish(i, stay)
        if len(self.stays) > 1:
            self.v.cp.add_circuit(self.arcs)

    def _may_follow(self, stay: Stay, later: Placed) -> bool:
        return may_follow(self.v, stay.by, later) and self.visits.may_follow(
            stay.by, stay.state, later
        )

    def _let_out(self, number: int, stay: Stay, placed: Placed) -> None:
        """A setter is outside the path when it is left out, or done after the condition is free."""
        cp, freedom = self.v.cp, self.freedom
        if freedom is None:
            stay.outside = None if placed.present is None else ~placed.present
        else:
            later = self.v.literal()
            cp.add_implication(later, freedom.on)
            cp.add(placed.start >= freedom.begin).only_enforce_if(later)
            stay.outside = later
            if placed.present is not None:
                stay.outside = self.v.literal()
                cp.add(stay.outside == later + 1 - placed.present)
            cp.add(placed.over <= freedom.start).only_enforce_if(~stay.outside)
        if stay.outside is not None:
            self.arcs.append((number, number, stay.outside))

    def _let_follow(self, i: int, j: int, stay: Stay, setter: Placed) -> None:
        accepted = setter.task.accepts(self.name, self.condition.states)
        intervals = [
            self._start_in(stay, run, setter)
            for run in self.v.runs(self.name, stay.state, accepted)
        ]
        if not intervals:
            return
        arc = self.v.literal() if len(intervals) > 1 else intervals[0]
        if len(intervals) > 1:
            self.v.cp.add(sum(intervals) == arc)
        self._add(i, j, arc)
        cp = self.v.cp
        cp.add(stay.left <= setter.start).only_enforce_if(arc)
        if self.condition.lapse:
            cp.add(stay.left >= setter.start).only_enforce_if(arc)
        cp.add(stay.gone >= setter.over).only_enforce_if(arc)

    def _start_in(self, stay: Stay, run: Run, setter: Placed) -> Literal:
        literal = self.v.literal()
        begin, end = run
        if stay.by is not None or begin:
            self.v.cp.add(setter.start >= stay.begin + begin).only_enforce_if(literal)
        if end is not None:
            self.v.cp.add(setter.start <= stay.begin + end - 1).only_enforce_if(literal)
        return literal

    def _let_finish(self, i: int, stay: Stay) -> None:
        """The last stay: it reaches the finish asked for, or gives way to an extra copy."""
        cp, freedom = self.v.cp, self.freedom
        ways = [self._end_in(stay, run) for run in self._finishing(stay)]
        if freedom is not None:
            ways.append(self._freed(stay, freedom))
        last = self.v.literal()
        cp.add(sum(ways) == last)
        if len(self.stays) == 1:
            cp.add(last == 1)
        self._add(i, 0, last)
        if freedom is None:
            cp.add(stay.gone >= self.v.forever).only_enforce_if(last)

    def _finishing(self, stay: Stay) -> list[Run]:
        finish = self.condition.finish
        allowed = self.condition.states if finish is None else {finish}
        return self.v.runs(self.name, stay.state, allowed)

    def _end_in(self, stay: Stay, run: Run) -> Literal:
        cp, literal = self.v.cp, self.v.literal()
        begin, end = run
        if begin:
            cp.add(self.v.finish >= stay.begin + begin).only_enforce_if(literal)
        if end is not None:
            cp.add(self.v.finish <= stay.begin + end - 1).only_enforce_if(literal)
        if self.condition.lapse:
            cp.add(stay.left == self.v.horizon).only_enforce_if(literal)
        if self.freedom is not None:
            cp.add_implication(literal, ~self.freedom.on)
            cp.add(stay.gone >= self.v.forever).only_enforce_if(literal)
        return literal

    def _freed(self, stay: Stay, freedom: Freedom) -> Literal:
        cp, literal = self.v.cp, self.v.literal()
        cp.add_implication(literal, freedom.on)
        cp.add(stay.left <= freedom.start).only_enforce_if(literal)
        cp.add(stay.gone >= freedom.begin).only_enforce_if(literal)
        if stay.by is not None:
            cp.add(freedom.start >= stay.begin).only_enforce_if(literal)
        for move, first in freedom.first.items():
            accepted = move.accepts(self.name, self.condition.states)
            if not self.v.runs(self.name, stay.state, accepted):
                cp.add_implication(literal, ~first)
        return literal

    def _add(self, i: int, j: int, literal: Literal) -> None:
        self.follows[i, j] = literal
        self.arcs.append((i, j, literal))


def may_follow(v: Variables, earlier: Placed | None, later: Placed) -> bool:
    """Whether ``later`` can come after ``earlier`` at all: copies in order, operations by ``after``."""
    if earlier is None:
        return True
    if earlier is later or later.task.running is not None:
        return False
    if earlier.task is later.task:
        return earlier.copy < later.copy
    return later.name not in v.outline.before.get(earlier.name, ())


def _rely(v: Variables, user: Placed, name: str, states: tuple[str, ...]) -> None:
    cp, condition, freedom = v.cp, v.outline.conditions[name], v.freedom.get(name)
    intervals: list[Literal] = []
    for number, stay in enumerate(v.stays[name]):
        if stay.by is None or may_follow(v, stay.by, user):
            within = [_within(v, user, stay, run) for run in v.runs(name, stay.state, states)]
            v.relied.setdefault((name, number), []).extend((user.task, w) for w in within)
            intervals += within
    if freedom is not None and lasts(condition, states, user.task.length):
        later = v.literal()
        cp.add_implication(later, freedom.on)
        cp.add(user.start >= freedom.begin).only_enforce_if(later)
        intervals.append(later)
    cp.add(sum(intervals) == (1 if user.present is None else user.present))


def _within(v: Variables, user: Placed, stay: Stay, run: Run) -> Literal:
    cp, literal = v.cp, v.literal()
    begin, end = run
    if stay.by is not None or begin:
        cp.add(user.start >= stay.begin + begin).only_enforce_if(literal)
    if end is not None:
        cp.add(user.over <= stay.begin + end).only_enforce_if(literal)
    cp.add(user.over <= stay.left).only_enforce_if(literal)
    if stay.outside is not None:
        cp.add_implication(literal, ~stay.outside)
    return literal
