"""What one part of a problem says of another: names that must exist or not repeat, no cycles."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from witnessmark.errors import listed, nearest
from witnessmark.planner.problem.model import Condition, Move, Operation, ProblemData, Running
from witnessmark.planner.problem.reading import Part

Path = tuple[Part, ...]


class ReferenceFault(NamedTuple):
    """A place in the problem (keys and indices), what is wrong there, what would be right."""

    path: Path
    violation: str
    expected: str


def first_fault(problem: ProblemData) -> ReferenceFault | None:
    """The first reference that does not hold, in the order of the form; None when all do."""
    return next(_faults(problem), None)


def _faults(problem: ProblemData) -> Iterator[ReferenceFault]:
    for name, condition in problem.conditions.items():
        yield from _condition_faults(problem, ("conditions", name), condition)
    for place, combination in enumerate(problem.never):
        yield from _needs_faults(problem, ("never", place), combination)
    yield from _repeated_names(problem)
    for kind, steps in _kinds(problem):
        for place, step in enumerate(steps):
            yield from _step_faults(problem, (kind, place), step)
    yield from _after_faults(problem)
    yield from _technician_faults(problem)
    yield from _due_faults(problem)
    yield from _now_faults(problem)


def _kinds(problem: ProblemData) -> tuple[tuple[str, Sequence[Move | Operation]], ...]:
    return ("moves", problem.moves), ("operations", problem.operations)


def _unknown(path: Path, kind: str, name: str, known: Iterable[str]) -> Iterator[ReferenceFault]:
    known = known if isinstance(known, Mapping) else list(known)
    if name not in known:
        like = nearest(name, known)
        expected = f'did you mean "{like}"?' if like else ""
        names = f"known are {listed(known)}" if known else f"no {kind} is declared"
        yield ReferenceFault(path, f'no {kind} "{name}"', f"{expected} {names}".strip())


def _repeats(path: Path, names: Iterable[str]) -> Iterator[ReferenceFault]:
    seen: set[str] = set()
    for place, name in enumerate(names):
        if name in seen:
            yield ReferenceFault((*path, place), f'"{name}" appears twice', "keep one of the two")
        seen.add(name)


def _condition_faults(
    problem: ProblemData, path: Path, condition: Condition
) -> Iterator[ReferenceFault]:
    states = condition.states
    yield from _repeats((*path, "states"), states)
    yield from _unknown((*path, "start"), "state", condition.start, states)
    if condition.finish is not None:
        yield from _unknown((*path, "finish"), "state", condition.finish, states)
    for state, lapse in condition.lapse.items():
        yield from _unknown((*path, "lapse"), "state", state, states)
        yield from _unknown((*path, "lapse", state, "to"), "state", lapse.to, states)
        if lapse.after < 0.1:
            yield ReferenceFault(
                (*path, "lapse", state, "after"),
                "the state would not last at all",
                "give at least 0.1",
            )
    yield from _lapse_cycle((*path, "lapse"), condition)
    for state, held in condition.holds.items():
        yield from _unknown((*path, "holds"), "state", state, states)
        for resource in held:
            yield from _unknown((*path, "holds", state), "resource", resource, problem.resources)
    for place, state in enumerate(condition.exposed):
        yield from _unknown((*path, "exposed", place), "state", state, states)


def _lapse_cycle(path: Path, condition: Condition) -> Iterator[ReferenceFault]:
    for first in condition.lapse:
        state, seen = first, {first}
        while state in condition.lapse:
            state = condition.lapse[state].to
            if state in seen:
                yield ReferenceFault(
                    (*path, first),
                    f'lapses lead from "{state}" round to it again',
                    "let the last state stay",
                )
                return
            seen.add(state)


def _needs_faults(
    problem: ProblemData, path: Path, needs: Mapping[str, Iterable[str]]
) -> Iterator[ReferenceFault]:
    for name, states in needs.items():
        yield from _unknown(path, "condition", name, problem.conditions)
        for place, state in enumerate(states):
            yield from _unknown(
                (*path, name, place), "state", state, problem.conditions[name].states
            )


def _repeated_names(problem: ProblemData) -> Iterator[ReferenceFault]:
    seen: dict[str, str] = {}
    for kind, steps in _kinds(problem):
        for place, step in enumerate(steps):
            if step.name in seen:
                violation = f'the name "{step.name}" is taken by {seen[step.name]}'
                yield ReferenceFault(
                    (kind, place, "name"),
                    violation,
                    "give each move and operation a name of its own",
                )
            seen[step.name] = f"{kind}[{place}]"


def _step_faults(
    problem: ProblemData, path: Path, step: Move | Operation
) -> Iterator[ReferenceFault]:
    if step.tenths < 1:
        yield ReferenceFault(
            (*path, "minutes"),
            "the step takes no time",
            "give minutes or unattended of at least 0.1",
        )
    yield from _needs_faults(problem, (*path, "needs"), step.needs)
    for name, state in step.sets.items():
        yield from _unknown((*path, "sets"), "condition", name, problem.conditions)
        yield from _unknown((*path, "sets", name), "state", state, problem.conditions[name].states)
    for resource in step.uses:
        yield from _unknown((*path, "uses"), "resource", resource, problem.resources)
    if step.hands > len(problem.technicians):
        violation = f"{step.hands} hands, but technicians: {len(problem.technicians)}"
        yield ReferenceFault(
            (*path, "hands"),
            violation,
            f"give at most {len(problem.technicians)} or add technicians",
        )


def _after_faults(problem: ProblemData) -> Iterator[ReferenceFault]:
    moves = {move.name for move in problem.moves}
    places = {operation.name: place for place, operation in enumerate(problem.operations)}
    for place, operation in enumerate(problem.operations):
        for index, earlier in enumerate(operation.after):
            path = ("operations", place, "after", index)
            if earlier in moves:
                yield ReferenceFault(path, f'"{earlier}" is a move', "name operations only")
            yield from _unknown(path, "operation", earlier, places)
    cycle = cycle_in({operation.name: operation.after for operation in problem.operations})
    if cycle:
        at: Path = ("operations", places[cycle[0]], "after")
        yield ReferenceFault(
            at, f"each waits for the next: {listed(cycle)}, and round again", "drop one of these"
        )


def cycle_in(after: Mapping[str, Iterable[str]]) -> list[str]:
    """Names that lead round in a circle, or nothing."""
    over: set[str] = set()
    for first in after:
        trail: dict[str, None] = {}
        pending: list[tuple[str, bool]] = [(first, False)]
        while pending:
            name, leaving = pending.pop()
            if leaving:
                over.add(trail.popitem()[0])
            elif name in trail:
                names = list(trail)
                return names[names.index(name) :]
            elif name not in over:
                trail[name] = None
                pending.append((name, True))
                pending += [(earlier, False) for earlier in after[name]]
    return []


def _technician_faults(problem: ProblemData) -> Iterator[ReferenceFault]:
    seen: set[str] = set()
    for place, technician in enumerate(problem.technicians):
        if technician.name in seen:
            violation = f'two technicians are named "{technician.name}"'
            yield ReferenceFault(
                ("technicians", place, "name"), violation, "give each a different name"
            )
        seen.add(technician.name)
        last = 0.0
        for index, (begin, end) in enumerate(technician.shifts or ()):
            path = ("technicians", place, "shifts", index)
            if begin >= end:
                yield ReferenceFault(
                    path,
                    f"the shift from {begin:g} to {end:g} has no length",
                    "give [from, to], from < to",
                )
            if begin < last:
                yield ReferenceFault(
                    path,
                    f"the shift starts before the last one ends at {last:g}",
                    "give shifts in order",
                )
            last = end


def _due_faults(problem: ProblemData) -> Iterator[ReferenceFault]:
    machines = {
        operation.machine for operation in problem.operations if operation.machine is not None
    }
    for machine in problem.due_by:
        yield from _unknown(("due_by",), "machine", machine, sorted(machines))


def _now_faults(problem: ProblemData) -> Iterator[ReferenceFault]:
    now = problem.now
    if now is None:
        return
    for name, state in now.states.items():
        yield from _unknown(("now", "states"), "condition", name, problem.conditions)
        yield from _unknown(
            ("now", "states", name), "state", state, problem.conditions[name].states
        )
    for name in now.ages:
        yield from _unknown(("now", "ages"), "condition", name, problem.conditions)
    yield from _repeats(("now", "done"), now.done)
    for place, name in enumerate(now.done):
        yield from _unknown(
            ("now", "done", place), "operation", name, (o.name for o in problem.operations)
        )
    for place, running in enumerate(now.running):
        yield from _running_faults(problem, ("now", "running", place), running)


def _running_faults(problem: ProblemData, path: Path, running: Running) -> Iterator[ReferenceFault]:
    yield from _unknown(
        (*path, "name"), "step", running.name, (step.name for step in problem.steps)
    )
    if problem.now is not None and running.name in problem.now.done:
        yield ReferenceFault(
            (*path, "name"), f'"{running.name}" is done', "take it from done or from running"
        )
    if running.minutes + running.unattended < 0.1:
        yield ReferenceFault(
            (*path, "minutes"),
            "nothing of it is left",
            "name it under done, and what it set under states",
        )
    for place, name in enumerate(running.technicians):
        known = (technician.name for technician in problem.technicians)
        yield from _unknown((*path, "technicians", place), "technician", name, known)
    if running.minutes > 0 and len(set(running.technicians)) != problem.step(running.name).hands:
        hands = problem.step(running.name).hands
        yield ReferenceFault(
            (*path, "technicians"),
            "not as many as the step takes",
            f"name {hands} different technicians",
        )
