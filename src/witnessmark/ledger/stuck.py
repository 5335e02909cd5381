"""What waits for the answer to a report that a step cannot be done, and what stays open for it until then.

Nothing that a waiting step needs open is closed before it: who tightened and pinned an axle while the slack still
waits to be set would work twice, and roll off a machine that is not ready.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from witnessmark.book.model import Book, Operation, Step
from witnessmark.book.model_step import before
from witnessmark.book.select import AS_FOUND, states_from, steps, ways_between
from witnessmark.ledger.ids import StepId
from witnessmark.ledger.state import Finding, VisitState


def unanswered(state: VisitState) -> list[Finding]:
    """The reports that a step cannot be done which have no answer yet, in the order they were made."""
    kind = "cannot be done"
    return [one for one in state.findings if one.kind == kind and one.step and not one.settled]


def stuck(book: Book, state: VisitState, jobs: Iterable[str]) -> set[str]:
    """What waits for an answer: operations of these jobs that cannot be done, with all that comes after them, what
    is left of the jobs that stop with an access step, the access step itself, unless others still have it; and what
    would close something that one of these needs open, with all that comes after that.
    """
    if not unanswered(state):
        return set()
    every, whole = operations_of(book, jobs), steps(book)
    failed = _failed(book, state, every)
    return _waiting(every, whole, failed, _needed_open(book, state, whole, failed))


def stays_open(book: Book, state: VisitState, jobs: Iterable[str]) -> set[str]:
    """The conditions that stay as they are until the answer: a waiting step needs them so, or only what waits, or
    would close such a one, leads to their finish.
    """
    if not unanswered(state):
        return set()
    every, whole, now = operations_of(book, jobs), steps(book), known_states(book, state.states)
    failed = _failed(book, state, every)
    needed = _needed_open(book, state, whole, failed)
    allowed: dict[str, frozenset[str]] = {}
    for name, still_open in needed:
        if now[name] in still_open:
            allowed[name] = allowed.get(name, still_open) & still_open
    waiting = _waiting(every, whole, failed, needed)
    could = {name: step for name, step in whole.items() if name not in waiting}
    while True:
        could = {name: step for name, step in could.items() if _keeps(step, allowed)}
        more = {}
        for name, condition in book.conditions.items():
            finish = finish_of(book, state, name)
            if name not in allowed and finish not in (None, now[name]):
                reached = states_from({now[name]}, ways_between(condition, name, could.values()))
                if finish not in reached:
                    more[name] = frozenset(reached)
        if not more:
            return {*allowed}
        allowed |= more


def operations_of(book: Book, jobs: Iterable[str]) -> dict[str, Operation]:
    """The operations of these jobs as ``job/operation``."""
    return {
        f"{job}/{name}": operation
        for job in jobs
        for name, operation in book.jobs[job].operations.items()
    }


def known_states(book: Book, said: Mapping[str, str]) -> dict[str, str]:
    """Every condition of the book; its start where nobody said a state that it has."""
    return {
        name: said[name] if said.get(name) in condition.states else condition.start
        for name, condition in book.conditions.items()
    }


def finish_of(book: Book, state: VisitState, name: str) -> str | None:
    """The state in which a condition is to be left; None for any."""
    finish = book.conditions[name].finish
    return known_states(book, state.found)[name] if finish == AS_FOUND else finish


# ---------------------------------------------------------------- parts


def _failed(book: Book, state: VisitState, every: Mapping[str, Operation]) -> set[str]:
    reports = unanswered(state)
    stopped = {job for one in reports for job in one.jobs}
    waiting = {str(one.step) for one in reports if not one.for_others}
    waiting |= {n for n in every if StepId(n).job in stopped} - state.over
    return _with_all_after(waiting & (every.keys() | book.access.keys()), every)


def _waiting(
    every: Mapping[str, Operation],
    whole: Mapping[str, Step],
    failed: set[str],
    needed: Iterable[tuple[str, frozenset[str]]],
) -> set[str]:
    """What failed, what would close one of the conditions needed open, and all that comes after that."""
    closing = {
        name
        for condition, still_open in needed
        for name, step in whole.items()
        if _closes(step, condition, still_open) and (name in every or _is_work(step))
    }
    return failed | _with_all_after(closing, every)


def _with_all_after(held: set[str], every: Mapping[str, Operation]) -> set[str]:
    after = {name: _after(name, operation) for name, operation in every.items()}
    held = set(held)
    while more := {name for name, earlier in after.items() if earlier & held} - held:
        held |= more
    return held


def _after(name: str, operation: Operation) -> set[str]:
    return {before(StepId(name).job, other) for other in operation.after}


def _needed_open(
    book: Book, state: VisitState, whole: Mapping[str, Step], failed: set[str]
) -> set[tuple[str, frozenset[str]]]:
    """What steps that wait need otherwise than it is to be left, and the states in which it counts as still open.

    Nothing of a job that stopped while others still have its access step; nor what a waiting step before it needs
    closed.
    """
    others = {job for one in unanswered(state) if one.for_others for job in one.jobs}
    found = set()
    for name in failed:
        if StepId(name).job in others:
            continue
        earlier = _waits_behind(name, whole, failed)
        for condition, accepted in whole[name].needs.items():
            finish = finish_of(book, state, condition)
            if finish is None or finish in accepted:
                continue
            still_open = _still_open(book, whole, condition, finish, frozenset(accepted))
            if all(still_open & {*whole[n].needs.get(condition, still_open)} for n in earlier):
                found.add((condition, still_open))
    return found


def _waits_behind(name: str, whole: Mapping[str, Step], failed: set[str]) -> set[str]:
    """The waiting operations that come before one."""
    seen: set[str] = set()
    fresh = {name}
    while fresh:
        every = (_after(n, step) for n in fresh if isinstance(step := whole[n], Operation))
        fresh = {earlier for after in every for earlier in after & failed} - seen
        seen |= fresh
    return seen


def _still_open(
    book: Book, whole: Mapping[str, Step], name: str, finish: str, accepted: frozenset[str]
) -> frozenset[str]:
    """The accepted states, and all from which none leads to the finish past these: off, where loose is accepted."""
    condition = book.conditions[name]
    ways = ways_between(condition, name, whole.values())
    past = [(end, start) for start, end in ways if accepted.isdisjoint((start, end))]
    return frozenset(condition.states) - states_from({finish}, past)


def _closes(step: Step, condition: str, still_open: frozenset[str]) -> bool:
    sets = step.sets.get(condition)
    return sets is not None and not (
        sets in still_open or still_open.isdisjoint(step.needs.get(condition, still_open))
    )


def _is_work(step: Step) -> bool:
    """Whether it would have to be undone: a gear or a switch is changed back at any time."""
    return bool(step.tightens or step.snugs or step.renews or step.closes or step.fluids)


def _keeps(step: Step, allowed: Mapping[str, frozenset[str]]) -> bool:
    """Whether it can be had while these conditions keep to these states."""
    return all(
        step.sets.get(name, next(iter(states))) in states
        and not states.isdisjoint(step.needs.get(name, states))
        for name, states in allowed.items()
    )
