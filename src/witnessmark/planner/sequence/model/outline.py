"""The problem as the solver sees it: what is still to be done, in whole tenths of a minute."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from functools import cached_property

from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import Condition, Move, Operation, Running, tenths

Run = tuple[int, int | None]


@dataclass(frozen=True, eq=False)
class Task:
    """A step that may be placed: lengths in tenths; a running one starts at 0 with what is left."""

    step: Move | Operation
    attended: int
    length: int
    running: Running | None = None

    @property
    def name(self) -> str:
        return self.step.name

    @property
    def effort(self) -> int:
        """Hands times attended tenths."""
        return self.step.hands * self.attended

    @property
    def release(self) -> int:
        return tenths(self.step.release)

    def accepts(self, condition: str, states: Collection[str]) -> Collection[str]:
        """States of a condition in which this step may start; a running one has started already."""
        if self.running is not None and condition in self.step.sets:
            return states
        return self.step.needs.get(condition, states)


@dataclass(frozen=True)
class Outline:
    """Tasks that must be placed, moves that may be, and what must come before what."""

    problem: Problem
    tasks: tuple[Task, ...]
    moves: tuple[Task, ...]
    before: dict[str, frozenset[str]]
    ages: dict[str, int] = field(default_factory=dict)

    @property
    def conditions(self) -> dict[str, Condition]:
        return self.problem.conditions

    @property
    def hands(self) -> int:
        return len(self.problem.technicians)

    @property
    def has_shifts(self) -> bool:
        return any(technician.shifts is not None for technician in self.problem.technicians)

    @property
    def last_shift_end(self) -> int:
        """Tenths after which no technician is at work any more; 0 where one always is."""
        technicians = self.problem.technicians
        if any(t.shifts is None for t in technicians):
            return 0
        return max((tenths(end) for t in technicians for _, end in t.shifts or ()), default=0)

    @cached_property
    def begun(self) -> tuple[Task, ...]:
        """The steps under way."""
        return tuple(task for task in self.tasks if task.running is not None)

    @cached_property
    def startable(self) -> dict[str, Task]:
        """By name the steps that can be begun; of a move under way another copy."""
        steps = (*self.tasks, *self.moves)
        return {task.name: task for task in steps if task.running is None}

    @cached_property
    def scarce(self) -> frozenset[str]:
        """Resources of which more could be asked for at once than there is."""
        capacities = self.problem.resources.items()
        return frozenset(name for name, capacity in capacities if self._demand(name) > capacity)

    def _demand(self, resource: str) -> int:
        """The most that could be asked for at once: by steps, and by each condition."""
        total = sum(step.uses.get(resource, 0) for step in self.problem.steps)
        for condition in self.conditions.values():
            total += max((held.get(resource, 0) for held in condition.holds.values()), default=0)
        return total


def outline(problem: Problem) -> Outline:
    """What is left to do of a problem."""
    now = problem.now
    done = frozenset(now.done if now else ())
    running = {item.name: item for item in (now.running if now else ())}
    operations = [step for step in problem.operations if step.name not in done]
    tasks = [task_of(step, running.get(step.name)) for step in operations]
    tasks += [task_of(move, running[move.name]) for move in problem.moves if move.name in running]
    ages = {name: tenths(problem.start_age(name)) for name in problem.conditions}
    moves = tuple(task_of(move) for move in _moves_of_use(problem, [task.step for task in tasks]))
    return Outline(problem, tuple(tasks), moves, _before(operations, done), ages)


def task_of(step: Move | Operation, running: Running | None = None) -> Task:
    """A step with its lengths; where it is running, with what is left of them."""
    if running is None:
        return Task(step, step.attended_tenths, step.tenths)
    attended = tenths(running.minutes)
    return Task(step, attended, attended + tenths(running.unattended), running)


def _before(operations: Iterable[Operation], done: Collection[str]) -> dict[str, frozenset[str]]:
    """Per operation all operations left that must be over before it, transitively."""
    direct = {o.name: [name for name in o.after if name not in done] for o in operations}
    known: dict[str, frozenset[str]] = {}
    pending = list(direct)
    while pending:
        name = pending.pop()
        missing = [earlier for earlier in direct[name] if earlier not in known]
        if name in known:
            continue
        if missing:
            pending += [name, *missing]
        else:
            known[name] = frozenset(direct[name]).union(*(known[e] for e in direct[name]))
    return known


def _moves_of_use(problem: Problem, steps: Iterable[Move | Operation]) -> list[Move]:
    """Moves that set a condition which some plan may have to change; the others are in no plan worth having.

    A condition rests where it starts unless a step counted sets it, needs it otherwise, or it may not
    stay: its finish, a start that lapses, a resource it holds, a night it may not stand through, or a forbidden
    combination that the others may come to. Drop from any plan the moves that set resting conditions
    only: what is left finds each of them at its start, and that is where it needs them.
    """
    active = {name for name in problem.conditions if _may_not_stay(problem, name)}
    counted: list[Move | Operation] = list(steps)
    while True:
        used = [*counted, *(move for move in problem.moves if active.intersection(move.sets))]
        more = {name for step in used for name in step.sets}
        more |= {
            n for step in used for n, s in step.needs.items() if problem.start_state(n) not in s
        }
        more |= _kept_apart(problem, active | more)
        if more <= active:
            return [move for move in problem.moves if active.intersection(move.sets)]
        active |= more


def _may_not_stay(problem: Problem, name: str) -> bool:
    condition, start = problem.conditions[name], problem.start_state(name)
    return bool(
        condition.finish not in (None, start)
        or start in condition.lapse
        or condition.holds
        or start in condition.exposed
    )


def _kept_apart(problem: Problem, active: set[str]) -> set[str]:
    """Conditions of forbidden combinations that could come to hold while the others rest."""
    return {
        name
        for row in problem.never
        if all(
            other in active or problem.start_state(other) in states for other, states in row.items()
        )
        for name in row
    }


def runs(condition: Condition, state: str, allowed: Collection[str]) -> list[Run]:
    """Spans, in tenths after ``state`` was reached, in which a condition left alone is in an allowed state.

    Without lapses: the whole time or none. A span is half-open; its end is None where it lasts.
    """
    spans: list[Run] = []
    begin = 0
    while True:
        lapse = condition.lapse.get(state)
        end = begin + tenths(lapse.after) if lapse else None
        if state in allowed:
            joined = bool(spans) and spans[-1][1] == begin
            spans = [*spans[:-1], (spans[-1][0], end)] if joined else [*spans, (begin, end)]
        if lapse is None or end is None:
            return spans
        state, begin = lapse.to, end


def longest_wait(condition: Condition) -> int:
    """Tenths after which a condition left alone can change no more, from whichever state."""
    return max((_chain(condition, state) for state in condition.lapse), default=0)


def _chain(condition: Condition, state: str) -> int:
    total = 0
    while state in condition.lapse:
        total += tenths(condition.lapse[state].after)
        state = condition.lapse[state].to
    return total


def lasts(condition: Condition, states: Collection[str], length: int) -> bool:
    """Whether the condition, left alone, can be in the states for so long at all."""
    return any(
        end is None or end - begin >= length
        for state in condition.states
        for begin, end in runs(condition, state, states)
    )


def is_workable(outline: Outline, task: Task) -> bool:
    """Whether what a task needs without setting it can last as long as the task takes."""
    needs = ((c, s) for c, s in task.step.needs.items() if c not in task.step.sets)
    return all(lasts(outline.conditions[c], s, task.length) for c, s in needs)
