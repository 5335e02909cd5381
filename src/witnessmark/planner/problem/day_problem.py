"""Several machines' problems as one, and its answer: each keeps its conditions, all share people and resources."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from witnessmark.errors import WitnessError
from witnessmark.planner.problem.checked import Problem, problem_from
from witnessmark.planner.problem.model import Move, Now, Operation, Technician
from witnessmark.planner.problem.plan import Answer

AnyStep = TypeVar("AnyStep", Move, Operation)


class BoardError(WitnessError):
    """Machines that cannot be planned together: which, what is wrong, what would be right."""


@dataclass(frozen=True)
class MachineWork:
    """One machine's work: its problem as if it were alone, when it comes in, when it is wished back.

    ``machine`` names it on the board. ``release`` and ``due_by`` are minutes from the board's start.
    Technicians, and capacities of resources the board knows, are the board's.
    """

    machine: str
    problem: Problem
    release: float = 0.0
    due_by: float | None = None


def named(machine: str, name: str) -> str:
    """The name on the board of a step or condition of one machine. Example: ``R1: fill engine``."""
    return f"{machine}: {name}"


def board_problem(
    visits: Sequence[MachineWork],
    technicians: Sequence[Technician],
    *,
    resources: Mapping[str, int] | None = None,
    change_minutes: float | None = 0.0,
    clock: float = 0.0,
) -> Problem:
    """The visits as one problem, names prefixed by their machine.

    ``resources``: what the shop has of each; what it does not name, a visit's own problem says.
    ``change_minutes``: minutes a technician takes to change machine; None: changing is not watched at all.
    ``clock``: minutes of the day gone at the board's start. Nothing on a machine starts before its release.
    Raises BoardError for two visits of one name, ProblemError where a step takes more hands than there are.
    """
    _each_once(visits)
    capacities: dict[str, int] = {}
    for visit in visits:
        for name, units in visit.problem.resources.items():
            capacities[name] = max(units, capacities.get(name, 0))
    return problem_from(
        {
            "conditions": {
                named(v.machine, name): c
                for v in visits
                for name, c in v.problem.conditions.items()
            },
            "never": tuple(
                {named(v.machine, name): states for name, states in row.items()}
                for v in visits
                for row in v.problem.never
            ),
            "moves": tuple(_of_machine(v, move) for v in visits for move in v.problem.moves),
            "operations": tuple(_operation(v, o) for v in visits for o in v.problem.operations),
            "technicians": tuple(technicians),
            "resources": capacities | dict(resources or {}),
            "horizon": min((v.problem.horizon for v in visits if v.problem.horizon), default=None),
            "due_by": {
                v.machine: v.due_by for v in visits if v.due_by is not None and v.problem.operations
            },
            "change_minutes": change_minutes,
            "clock": clock,
            "now": _now(visits),
        },
        file="board",
    )


def _each_once(visits: Sequence[MachineWork]) -> None:
    seen: set[str] = set()
    for visit in visits:
        if visit.machine in seen:
            raise BoardError(
                "visits", f'"{visit.machine}" appears twice', "give each machine a name"
            )
        seen.add(visit.machine)


def _of_machine(visit: MachineWork, step: AnyStep) -> AnyStep:
    name = visit.machine
    return step.model_copy(
        update={
            "name": named(name, step.name),
            "machine": name,
            "needs": {named(name, c): states for c, states in step.needs.items()},
            "sets": {named(name, c): state for c, state in step.sets.items()},
            "release": max(step.release, visit.release),
        }
    )


def _operation(visit: MachineWork, operation: Operation) -> Operation:
    after = tuple(named(visit.machine, name) for name in operation.after)
    return _of_machine(visit, operation).model_copy(update={"after": after})


def _now(visits: Sequence[MachineWork]) -> Now | None:
    """The state of the work on every machine; minute 0 is the same for all."""
    begun = [(v.machine, v.problem.now) for v in visits if v.problem.now is not None]
    if not begun:
        return None
    return Now(
        states={named(m, c): s for m, now in begun for c, s in now.states.items()},
        ages={named(m, c): a for m, now in begun for c, a in now.ages.items()},
        done=tuple(named(m, name) for m, now in begun for name in now.done),
        running=tuple(
            running.model_copy(update={"name": named(m, running.name)})
            for m, now in begun
            for running in now.running
        ),
    )


# ---------------------------------------------------------------- the answer


@dataclass(frozen=True)
class Board:
    """A checked answer for several machines.

    ``ready``: the minute each machine's last step is over; None where nothing is to be done on it, or there
    is no plan. ``gap``: the share by which the finish may be above the best there is (0.01 is one
    per cent); 0 where it is proven best, None without a plan.
    """

    problem: Problem
    answer: Answer
    ready: dict[str, float | None]
    gap: float | None


def board_of(visits: Sequence[MachineWork], problem: Problem, answer: Answer) -> Board:
    """The board of an answer to the visits' joint problem."""
    ready: dict[str, float | None] = {visit.machine: None for visit in visits}
    for step in answer.steps:
        machine = problem.step(step.name).machine
        if machine is not None:
            ready[machine] = max(ready[machine] or 0.0, step.tail_end)
    return Board(problem, answer, ready, gap_of(answer))


def gap_of(answer: Answer) -> float | None:
    """By which share the finish may be above the best there is."""
    finish, bound = answer.finish_minutes, answer.finish_bound
    if finish is None or bound is None:
        return None
    return 0.0 if finish <= bound else (finish - bound) / finish
