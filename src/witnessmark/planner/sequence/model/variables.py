"""The variables of the model: where each step stands, how long each state of a condition stays."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from witnessmark.planner.sequence.model.outline import Outline, Run, Task, runs

Literal = cp_model.IntVar
Linear = cp_model.LinearExpr | int


@dataclass(eq=False)
class Placed:
    """One occurrence of a step: an operation, a running move, or a copy of a move that may be left out."""

    task: Task
    copy: int
    start: cp_model.IntVar
    present: Literal | None = None

    @property
    def over(self) -> cp_model.LinearExpr:
        return self.start + self.task.length

    @property
    def name(self) -> str:
        return self.task.name

    def sets(self, condition: str) -> bool:
        return condition in self.task.step.sets


@dataclass(eq=False)
class Stay:
    """A state of a condition from when ``by`` has set it (None: from before the start) until it is left.

    ``left`` is the start and ``gone`` the end of the step that changes it next; where nothing does,
    both lie at the end of time. ``outside`` is true where the stay is no part of the condition's path.
    """

    by: Placed | None
    state: str
    begin: Linear
    left: cp_model.IntVar
    gone: cp_model.IntVar
    outside: cp_model.LiteralT | None = None


@dataclass(eq=False)
class Extra:
    """Copies of a move beyond those placed: whether there are any, how many, when the first starts."""

    over: Literal
    count: cp_model.IntVar
    start: cp_model.IntVar


@dataclass(eq=False)
class Freedom:
    """From the first extra copy of a move that sets it on, nothing is asked of a condition."""

    on: Literal
    start: cp_model.IntVar
    least_length: int
    first: dict[Task, Literal]

    @property
    def begin(self) -> cp_model.LinearExpr:
        """When the first extra copy can be over."""
        return self.start + self.least_length


@dataclass(eq=False)
class Variables:
    """All that constraints and objectives speak of. Times in tenths of a minute."""

    cp: cp_model.CpModel
    outline: Outline
    horizon: int
    placed: list[Placed]
    finish: cp_model.IntVar
    attended: Linear
    copies: dict[str, list[Placed]]
    extra: dict[str, Extra] = field(default_factory=dict)
    freedom: dict[str, Freedom] = field(default_factory=dict)
    stays: dict[str, list[Stay]] = field(default_factory=dict)
    follows: dict[str, dict[tuple[int, int], Literal]] = field(default_factory=dict)
    relied: dict[tuple[str, int], list[tuple[Task, Literal]]] = field(default_factory=dict)
    workers: dict[tuple[Task, int], dict[int, Literal]] = field(default_factory=dict)
    untimed: bool = False  # by order alone: a state may lapse at any moment, or never
    _counts: dict[str, Linear] = field(default_factory=dict)

    @property
    def forever(self) -> int:
        """Later than any time a state could end or a night begin."""
        return 2 * self.horizon + self.outline.last_shift_end + 1

    def literal(self) -> Literal:
        return self.cp.new_bool_var("")

    def time(self) -> cp_model.IntVar:
        return self.cp.new_int_var(0, self.horizon, "")

    def runs(self, condition: str, state: str, allowed: Collection[str]) -> list[Run]:
        """When, after it was set, a state is an allowed one; by order alone: at any time, if it can be."""
        found = runs(self.outline.conditions[condition], state, allowed)
        return [(0, None)] if self.untimed and found else found

    def setters(self, condition: str) -> list[Placed]:
        return [placed for placed in self.placed if placed.sets(condition)]

    def count(self, move: str) -> Linear:
        """How often a move is done, extra copies included."""
        if move not in self._counts:
            present = sum(p.present for p in self.copies[move] if p.present is not None)
            extra = self.extra.get(move)
            self._counts[move] = present if extra is None else present + extra.count
        return self._counts[move]


def variables(
    outline: Outline,
    caps: dict[str, int],
    horizon: int,
    *,
    beyond: bool = False,
    untimed: bool = False,
) -> Variables:
    """Place every task once and every move up to ``caps`` times; ``beyond``: allow extra copies."""
    cp = cp_model.CpModel()
    placed = [_mandatory(cp, task, horizon, untimed=untimed) for task in outline.tasks]
    copies: dict[str, list[Placed]] = {
        move.name: [
            Placed(move, number, _start(cp, move, horizon, untimed=untimed), cp.new_bool_var(""))
            for number in range(caps[move.name])
        ]
        for move in outline.moves
    }
    placed += [copy for several in copies.values() for copy in several]
    finish = cp.new_int_var(0, horizon, "finish")
    v = Variables(cp, outline, horizon, placed, finish, 0, copies, untimed=untimed)
    if beyond:
        v.extra = {move.name: _extra(v) for move in outline.moves}
        for condition in outline.conditions:
            _add_freedom(v, condition)
    fixed = sum(task.effort for task in outline.tasks)
    v.attended = fixed + sum(v.count(move.name) * move.effort for move in outline.moves)
    for condition in outline.conditions:
        v.stays[condition] = _stays(v, condition)
    return v


def _mandatory(cp: cp_model.CpModel, task: Task, horizon: int, *, untimed: bool) -> Placed:
    if task.running is not None:
        return Placed(task, 0, cp.new_int_var(0, 0, ""))
    return Placed(task, 0, _start(cp, task, horizon, untimed=untimed))


def _start(cp: cp_model.CpModel, task: Task, horizon: int, *, untimed: bool) -> cp_model.IntVar:
    earliest = 0 if untimed else task.release
    return cp.new_int_var(earliest, max(earliest, horizon), "")


def _extra(v: Variables) -> Extra:
    return Extra(v.literal(), v.cp.new_int_var(0, 1_000_000, ""), v.time())


def _add_freedom(v: Variables, condition: str) -> None:
    moves = tuple(move for move in v.outline.moves if condition in move.step.sets)
    if moves:
        least = min(move.length for move in moves)
        first = {move: v.literal() for move in moves}
        v.freedom[condition] = Freedom(v.literal(), v.time(), least, first)


def _stays(v: Variables, condition: str) -> list[Stay]:
    start = v.outline.problem.start_state(condition)
    first = Stay(None, start, -v.outline.ages[condition], v.time(), _gone(v))
    return [first] + [
        Stay(placed, placed.task.step.sets[condition], placed.over, v.time(), _gone(v))
        for placed in v.setters(condition)
    ]


def _gone(v: Variables) -> cp_model.IntVar:
    return v.cp.new_int_var(0, v.forever, "")
