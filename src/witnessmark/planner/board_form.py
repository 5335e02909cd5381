"""Several machines' problems as one: each keeps its own conditions, all share people and resources."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from witnessmark.errors import WitnessError
from witnessmark.planner.problem import Move, Now, Operation, Problem, Technician, problem_from

AnyStep = TypeVar("AnyStep", Move, Operation)


class BoardError(WitnessError):
    """Visits that cannot stand on one board: which, what is wrong, what would be right."""


@dataclass(frozen=True)
class Visit:
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
    visits: Sequence[Visit],
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


def _each_once(visits: Sequence[Visit]) -> None:
    seen: set[str] = set()
    for visit in visits:
        if visit.machine in seen:
            raise BoardError(
                "visits", f'"{visit.machine}" stands there twice', "give each machine a name"
            )
        seen.add(visit.machine)


def _of_machine(visit: Visit, step: AnyStep) -> AnyStep:
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


def _operation(visit: Visit, operation: Operation) -> Operation:
    after = tuple(named(visit.machine, name) for name in operation.after)
    return _of_machine(visit, operation).model_copy(update={"after": after})


def _now(visits: Sequence[Visit]) -> Now | None:
    """Where the work stands on every machine; minute 0 is the same for all."""
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
