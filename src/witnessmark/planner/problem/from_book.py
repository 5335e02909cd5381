"""Compile a service book and the jobs taken on into a planning problem.

Access steps become moves under their own ids, operations become ``job/operation``. What cannot matter to the
chosen operations is left out; `_that_matter` says why that is harmless.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from witnessmark.book import model as book_model
from witnessmark.book.model import Book
from witnessmark.book.rides import is_ride, ridden_again
from witnessmark.book.select import AS_FOUND, steps
from witnessmark.book.select import operations as operations_of
from witnessmark.errors import WitnessError
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import Condition, Lapse, Move, Operation, Technician

AnyStep = TypeVar("AnyStep", Move, Operation)
ONE_OF_EACH = 1  # capacity of a resource the shop has not counted


class CompileError(WitnessError):
    """Jobs, states or resources that do not fit the book: where, what is wrong, what would be right."""


@dataclass(frozen=True)
class RemainingWork:
    """What is left of some jobs of a book.

    ``states``: every condition as it is now. ``over``: operations done or left out. ``waiting``: steps that wait
    for an answer. ``compiled``: the problem of what is left from given states, with steps to be had again
    (``compile_problem``, not strict).
    """

    book: Book
    jobs: tuple[str, ...]
    states: Mapping[str, str]
    over: frozenset[str]
    waiting: frozenset[str]
    compiled: Callable[[Mapping[str, str], Collection[str]], Problem]


def compile_problem(
    book: Book,
    jobs: Sequence[str],
    *,
    states: Mapping[str, str] | None = None,
    done: Collection[str] = (),
    resources: Mapping[str, int] | None = None,
    technicians: Sequence[Technician] | None = None,
    among_others: bool = False,
    came_in: Mapping[str, str] | None = None,
    again: Collection[str] = (),
    without: Collection[str] = (),
    stays: Collection[str] = (),
    strict: bool = True,
) -> Problem:
    """The planning problem of doing ``jobs`` on one machine of this book.

    ``jobs``: job ids (services and `brings` already resolved). ``states``: the states found, by condition; the
    others start as the book says. ``done``: operations over already ("job/operation"): left out, and dropped
    from `after`, as are operations of jobs not taken on. ``resources``: what the shop has of each; one where it
    does not say. A `holds` that one machine alone can never exceed is left out, unless it stands ``among_others`` on
    a board. ``came_in``: the states of the arrival, for what must be left as found; else ``states``. ``again``:
    operations ("job/operation") that may be done as often as it takes, as access steps are. ``without``: access steps
    that cannot be had. ``stays``: conditions that need not come to their finish. Times in minutes.

    Raises CompileError for an unknown job, operation, condition or state, and, where ``strict``, where a condition
    cannot reach its finish by any step.
    """
    chosen = _chosen_jobs(book, jobs)
    found = _found_states(book, states or {})
    at_first = found if came_in is None else _found_states(book, came_in)
    over = _known_operations(book, done)
    operations = _ridden_last(book, tuple(_operations(book, chosen, over)))
    conditions, resources_kept = _with_holds(
        _conditions(book, found, at_first, stays), resources or {}, keep_all=among_others
    )
    access = {name: step for name, step in book.access.items() if name not in without}
    free = {**access, **_steps_again(book, again)}
    moves = tuple(Move(**_step(name, step)) for name, step in free.items())
    never = tuple({c: tuple(s) for c, s in row.when.items()} for row in book.never.values())
    if strict:
        _every_finish_can_be_reached(book, conditions, (*moves, *operations))
    matter = _that_matter(conditions, never, moves, operations, stays)
    return Problem(
        conditions={name: c for name, c in conditions.items() if name in matter},
        never=tuple(row for row in never if row.keys() <= matter),
        moves=tuple(_setting_only(m, matter) for m in moves if m.sets.keys() & matter),
        operations=tuple(_setting_only(step, matter) for step in operations),
        technicians=tuple(technicians) if technicians else (Technician(name="A"),),
        resources=resources_kept,
    )


def _chosen_jobs(book: Book, jobs: Sequence[str]) -> tuple[str, ...]:
    for job in jobs:
        if job not in book.jobs:
            raise CompileError("jobs", f'no job "{job}" in {book.name}', _nearest(job, book.jobs))
    return tuple(dict.fromkeys(jobs))


def _steps_again(book: Book, names: Collection[str]) -> dict[str, book_model.Step]:
    known = _known_operations(book, names)
    every = operations_of(book, book.jobs)
    return {name: step for name, step in every.items() if name in known}


def _known_operations(book: Book, names: Collection[str]) -> frozenset[str]:
    known = {f"{job}/{name}" for job, text in book.jobs.items() for name in text.operations}
    for name in names:
        if name not in known:
            raise CompileError(
                "done", f'no operation "{name}" in {book.name}', _nearest(name, known)
            )
    return frozenset(names)


def _found_states(book: Book, states: Mapping[str, str]) -> dict[str, str]:
    for name, state in states.items():
        if name not in book.conditions:
            violation = f'no condition "{name}" in {book.name}'
            raise CompileError("states", violation, _nearest(name, book.conditions))
        if state not in book.conditions[name].states:
            known = book.conditions[name].states
            raise CompileError(f"states.{name}", f'no state "{state}"', _nearest(state, known))
    return {name: states.get(name, text.start) for name, text in book.conditions.items()}


def _operations(book: Book, jobs: Sequence[str], over: frozenset[str]) -> Iterator[Operation]:
    taken = {f"{job}/{name}" for job in jobs for name in book.jobs[job].operations} - over
    for job in jobs:
        for name, operation in book.jobs[job].operations.items():
            if f"{job}/{name}" in taken:
                after = (a if "/" in a else f"{job}/{a}" for a in operation.after)
                yield Operation(
                    **_step(f"{job}/{name}", operation),
                    after=tuple(dict.fromkeys(a for a in after if a in taken)),
                    job=job,
                    place=operation.place or None,
                )


def _ridden_last(book: Book, operations: Sequence[Operation]) -> tuple[Operation, ...]:
    """The same with each ride that proves work after all work that asks for one, also where the book does not say."""
    names = {operation.name: set(operation.after) for operation in operations}
    work, again = ridden_again(book, names)
    rides = {name for name in again & names.keys() if is_ride(steps(book)[name])}
    made = []
    for operation in operations:
        missing = work - _before(operation.name, names) if operation.name in rides else set()
        after_it = {n for n in missing if operation.name in _before(n, names)}
        more = tuple(n for n in names if n in missing - after_it)
        made.append(operation.model_copy(update={"after": (*operation.after, *more)}))
    return tuple(made)


def _before(name: str, after: Mapping[str, Collection[str]]) -> set[str]:
    """All that comes before an operation, at any remove."""
    found: set[str] = set()
    fresh = set(after[name])
    while fresh:
        found |= fresh
        fresh = {n for name in fresh for n in after.get(name, ())} - found
    return found


def _step(name: str, step: book_model.Step) -> dict[str, Any]:
    return {
        "name": name,
        "minutes": step.minutes,
        "unattended": step.unattended,
        "hands": step.hands,
        "skills": tuple(step.skills),
        "needs": {condition: tuple(allowed) for condition, allowed in step.needs.items()},
        "sets": dict(step.sets),
    }


def _conditions(
    book: Book, found: Mapping[str, str], at_first: Mapping[str, str], stays: Collection[str]
) -> dict[str, Condition]:
    return {
        name: Condition(
            states=tuple(text.states),
            start=found[name],
            finish=None
            if name in stays
            else at_first[name]
            if text.finish == AS_FOUND
            else text.finish,
            lapse={state: Lapse(after=to.after, to=to.to) for state, to in text.lapse.items()},
            holds=text.holds,
            exposed=() if name in stays else tuple(text.exposed),  # it stays so, over night too
        )
        for name, text in book.conditions.items()
    }


def _with_holds(
    conditions: Mapping[str, Condition], capacity: Mapping[str, int], *, keep_all: bool
) -> tuple[dict[str, Condition], dict[str, int]]:
    """Leave out each resource that all conditions together can never exceed, but not where ``keep_all``
    says that others want it too; the capacities of those kept.

    Entering and leaving a state count as holding both the old and the new one, so the most that one condition
    takes is the sum of its two greediest states.
    """
    most: dict[str, int] = {}
    for condition in conditions.values():
        for resource in {r for held in condition.holds.values() for r in held}:
            wants = sorted(held.get(resource, 0) for held in condition.holds.values())
            most[resource] = most.get(resource, 0) + sum(wants[-2:])
    kept = {r: capacity.get(r, ONE_OF_EACH) for r, units in most.items()}
    kept = {r: units for r, units in kept.items() if keep_all or most[r] > units}
    return {name: _holding_only(c, kept) for name, c in conditions.items()}, kept


def _holding_only(condition: Condition, kept: Collection[str]) -> Condition:
    left = {s: {r: n for r, n in held.items() if r in kept} for s, held in condition.holds.items()}
    return condition.model_copy(update={"holds": {s: held for s, held in left.items() if held}})


def _every_finish_can_be_reached(
    book: Book, conditions: Mapping[str, Condition], steps: Sequence[Move | Operation]
) -> None:
    for name, condition in conditions.items():
        if condition.finish is not None and condition.finish not in _reachable(
            name, condition, steps
        ):
            raise CompileError(
                f"{book.name} conditions.{name}",
                f'{book.conditions[name].text}: found "{condition.start}", must be left '
                f'"{condition.finish}", and no step of the chosen jobs leads there',
                "correct the state found, or take on the job that does it",
            )


def _reachable(name: str, condition: Condition, steps: Sequence[Move | Operation]) -> set[str]:
    """States the condition can come to, whatever the others do: more than any plan can use, never fewer."""
    reached, new = set(), [condition.start]
    while new:
        state = new.pop()
        if state not in reached:
            reached.add(state)
            new += [
                step.sets[name]
                for step in steps
                if name in step.sets and state in step.needs.get(name, condition.states)
            ]
            new += [condition.lapse[state].to] if state in condition.lapse else []
    return reached


def _that_matter(
    conditions: Mapping[str, Condition],
    never: Sequence[Mapping[str, Sequence[str]]],
    moves: Sequence[Move],
    operations: Sequence[Operation],
    stays: Collection[str],
) -> frozenset[str]:
    """The conditions that some plan of these operations may have to know, and those that ``stay`` as they are.

    They are closed under: what an operation needs; what does not rest at its start or must be brought back
    (`_is_free`); what a move that sets one of these needs; what a `never` names, if it could hold while all
    conditions outside stay at their start; what is set but never seen, unless all its setters also set one
    that matters, so that they keep apart anyway.

    Leaving out the others is harmless. A sound plan of the whole book less the moves that set nothing inside is
    a sound plan of what is kept: nothing inside has changed. And a plan of what is kept is sound in the whole
    book: outside, a condition either rests at its start, which every `never` left out allows, or is one that
    nothing needs, forbids, finishes or holds, set by steps that never overlap.
    """
    matter = {name for step in operations for name in step.needs}
    matter |= {name for name, condition in conditions.items() if not _rests(condition)} | {*stays}
    while True:
        kept: list[Move | Operation] = [*operations]
        kept += [move for move in moves if move.sets.keys() & matter]
        touched = {name for step in kept for name in step.sets}
        more = {name for step in kept for name in step.needs}
        more |= {name for name in touched if not _is_free(conditions[name])}
        more |= {n for row in never if _may_hold(row, conditions, matter | touched) for n in row}
        more |= {name for name in touched - matter if not _setters_keep_apart(name, kept, matter)}
        if more <= matter:
            return frozenset(matter)
        matter |= more


def _rests(condition: Condition) -> bool:
    start = condition.start
    return condition.finish in {None, start} and not (
        start in condition.lapse or start in condition.exposed or start in condition.holds
    )


def _is_free(condition: Condition) -> bool:
    """Whether it may be left in any state, at no cost."""
    return condition.finish is None and not condition.exposed and not condition.holds


def _may_hold(
    row: Mapping[str, Sequence[str]], conditions: Mapping[str, Condition], change: Collection[str]
) -> bool:
    return all(name in change or conditions[name].start in row[name] for name in row)


def _setters_keep_apart(
    name: str, steps: Sequence[Move | Operation], matter: Collection[str]
) -> bool:
    """Whether all that set it also set one and the same other condition, and so never overlap."""
    shared = set(matter) - {name}
    for step in steps:
        if name in step.sets:
            shared &= step.sets.keys()
    return bool(shared)


def _setting_only(step: AnyStep, matter: Collection[str]) -> AnyStep:
    return step.model_copy(update={"sets": {c: s for c, s in step.sets.items() if c in matter}})


def _nearest(name: str, known: Iterable[str]) -> str:
    names = sorted(known)
    near = difflib.get_close_matches(name, names, n=1)
    return f'did you mean "{near[0]}"?' if near else f"known: {', '.join(names)}"
