"""How to go on from any state of a machine: an order of what is left, or what prevents one and what remedies that.

Where nothing else helps, an order may repeat operations done before, or use some that were left out or belong to
other jobs. What waits for an answer is left out, and so is a finish that only it could reach.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from witnessmark.book.model import Book, Step
from witnessmark.book.select import job_of, operations, steps
from witnessmark.planner import search_seconds
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.from_book import RemainingWork
from witnessmark.planner.sequence.conflict import conflict_of
from witnessmark.planner.sequence.model.outline import outline
from witnessmark.planner.sequence.reachability import Reachability, reachability
from witnessmark.planner.sequence.solve import solve

MOST_SEEN = 4_000  # combined states looked at for one order
MOST_TRIED_HERE = 1_000  # the same for one state a machine may be in instead
MOST_TRIED = 2_000  # the same, for a step out of a forbidden combination

States = Mapping[str, str]


@dataclass(frozen=True)
class Remedy:
    """One thing after which there is an order: a step done now, a state corrected, a job left for later.

    ``kind`` and ``name``: "step" and its id; "state" and its condition, with the ``state``; "job" and its id.
    """

    kind: str
    name: str
    state: str = ""


def recovery_problem(left: RemainingWork) -> Problem:
    """The problem of what is left, with the repeated steps without which it has no order.

    Where it has none at all it is returned as it is, without them.
    """
    return recovery_order(left)[0]


def recovery_order(left: RemainingWork) -> tuple[Problem, Reachability]:
    """As ``recovery_problem``, with any order of its steps."""
    plain = left.compiled(left.states, ())
    found = some_order(plain)
    return (plain, found) if found.possible else _with_what_helps(_Asked(left, plain, found))


class _Asked:
    """What is left and has no order as it is; equal where all that could help is the same."""

    def __init__(self, left: RemainingWork, plain: Problem, found: Reachability) -> None:
        self.left, self.plain, self.found = left, plain, found
        book = left.book.model_dump_json(include={"jobs", "access", "conditions", "never"})
        self.key = (plain.model_dump_json(), left.jobs, left.over, left.waiting, book)

    def __hash__(self) -> int:
        return hash(self.key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Asked) and self.key == other.key


@lru_cache(
    maxsize=32
)  # a page asks several times, and each page until the answer; seconds each time
def _with_what_helps(asked: _Asked) -> tuple[Problem, Reachability]:
    left, plain, found = asked.left, asked.plain, asked.found
    for free in _repeatable(left):
        whole = left.compiled(left.states, free)
        more = some_order(whole)
        if more.possible:
            problem = left.compiled(left.states, _fewest(left, free, more))
            trimmed = some_order(problem)
            return (problem, trimmed) if trimmed.possible else (whole, more)
    if _would_do(left, left.waiting):
        plain = _without_what_waits(plain)
        found = some_order(plain)
    return plain, found


def is_possible(problem: Problem) -> bool:
    """Whether its steps have an order, as far as a bounded search can tell: never False where they have one."""
    return some_order(problem).possible is not False


def some_order(problem: Problem) -> Reachability:
    """Any order of a problem's steps, searched for within bounds."""
    found = reachability(outline(problem), MOST_SEEN)
    if found.possible is not None:
        return found
    answer = solve(
        problem, objective="attended", deterministic_limit=search_seconds.ORDER_AFTER_RECOVERY
    )
    order = tuple(step.name for step in answer.steps)
    return Reachability({"impossible": False, "unknown": None}.get(answer.status, True), order)


def repeated_operations(problem: Problem) -> tuple[str, ...]:
    """The operations that a problem repeats, as access steps."""
    return tuple(move.name for move in problem.moves if "/" in move.name)


def remedies(left: RemainingWork) -> Iterator[Remedy]:
    """What helps where the steps have no order; steps first. Nothing where only time is short.

    Each is enough by itself. Where none is, more than one thing is wrong: then all states that differ from the
    start of the book, each to be looked at.
    """
    if recovery_order(left)[1].possible:
        return
    found = [Remedy("step", step)] if (step := _step_out(left)) else []
    found += [Remedy("state", *one) for one in _states_that_free(left)]
    found += [Remedy("job", job) for job in left.jobs if _is_free_without(left, job)]
    yield from found or _to_be_looked_at(left)


def _to_be_looked_at(left: RemainingWork) -> Iterator[Remedy]:
    for name, condition in left.book.conditions.items():
        if left.states[name] != condition.start:
            yield Remedy("state", name, condition.start)


# ---------------------------------------------------------------- repeated steps


def _repeatable(left: RemainingWork) -> Iterator[list[str]]:
    """Done or left out on this visit; then any of the book; never what waits, or what comes after it."""
    every = operations(left.book, left.book.jobs)
    over = [name for name in every if name in left.over - left.waiting]
    if over:
        yield over
    others = [n for n in every if job_of(n) not in left.jobs and n not in left.waiting]
    if others:
        yield over + others


def _fewest(left: RemainingWork, free: Sequence[str], found: Reachability) -> list[str]:
    """Those of them without which there is no order."""
    kept = [name for name in free if name in found.times]
    for name in list(kept):
        fewer = [other for other in kept if other != name]
        if some_order(left.compiled(left.states, fewer)).possible:
            kept = fewer
    return kept


def _would_do(left: RemainingWork, more: Collection[str]) -> bool:
    """Whether there would be an order if these could be done, too."""
    every = {*operations(left.book, left.book.jobs)} - left.waiting
    free = sorted(every - {o.name for o in left.compiled(left.states, ()).operations} | set(more))
    return bool(more) and is_possible(left.compiled(left.states, free))


def _without_what_waits(plain: Problem) -> Problem:
    """The problem without what is impossible before the answer: finishes first, then operations."""
    problem = plain
    while not is_possible(problem):
        conflict = conflict_of(problem)
        given_up = next((m for m in conflict if m.kind == "finish"), None) or next(
            (m for m in conflict if m.kind == "operation"), None
        )
        if given_up is None:
            return plain
        name = str(given_up.name)
        if given_up.kind == "finish":
            changed = problem.conditions[name].model_copy(update={"finish": None})
            problem = problem.model_copy(
                update={"conditions": {**problem.conditions, name: changed}}
            )
        else:
            problem = _without_operation(problem, name)
    return problem


def _without_operation(problem: Problem, name: str) -> Problem:
    """The problem without an operation and all that comes after it."""
    gone = {name}
    while more := {o.name for o in problem.operations if gone.intersection(o.after)} - gone:
        gone |= more
    kept = tuple(o for o in problem.operations if o.name not in gone)
    return problem.model_copy(update={"operations": kept})


# ---------------------------------------------------------------- remedies


def _step_out(left: RemainingWork) -> str:
    """The first step out of a forbidden combination, by few and short steps; "" where none is found.

    No step may bring about another forbidden combination.
    """
    if not _never(left.book, left.states):
        return ""
    able = (n for n in steps(left.book).items() if n[1].sets and n[0] not in left.waiting)
    every = dict(sorted(able, key=lambda named: named[1].minutes))
    start = tuple(sorted(left.states.items()))
    seen, frontier = {start}, [(start, "")]
    while frontier and len(seen) < MOST_TRIED:
        ahead: list[tuple[tuple[tuple[str, str], ...], str]] = []
        for here, first in frontier:
            for name, there in _nexts(left.book, every, dict(here)):
                key = tuple(sorted(there.items()))
                if key in seen:
                    continue
                seen.add(key)
                if not _never(left.book, there):
                    return first or name
                ahead.append((key, first or name))
        frontier = ahead
    return ""


def _nexts(
    book: Book, every: Mapping[str, Step], states: dict[str, str]
) -> Iterator[tuple[str, dict[str, str]]]:
    broken = _never(book, states)
    for name, step in every.items():
        if all(states[c] in allowed for c, allowed in step.needs.items()):
            there = states | step.sets
            if there != states and _never(book, there) <= broken:
                yield name, there


def _never(book: Book, states: States) -> set[str]:
    """The combinations of the book that hold and must not."""
    return {
        name
        for name, row in book.never.items()
        if all(states[condition] in those for condition, those in row.when.items())
    }


def _has_order(left: RemainingWork, states: States) -> bool:
    ways = ((), *_repeatable(left))
    return any(
        reachability(outline(left.compiled(states, free)), MOST_TRIED_HERE).possible
        for free in ways
    )


def _states_that_free(left: RemainingWork) -> Iterator[tuple[str, str]]:
    """Single conditions for which another state would leave an order."""
    for name in _in_doubt(left):
        for state in left.book.conditions[name].states:
            if state != left.states[name] and _has_order(left, {**left.states, name: state}):
                yield name, state


def _in_doubt(left: RemainingWork) -> list[str]:
    """Conditions of a forbidden combination; else those not as at the start, first those no access step changes."""
    rows = [left.book.never[row].when for row in _never(left.book, left.states)]
    if rows:
        return list(dict.fromkeys(name for row in rows for name in row))
    changed = [n for n, c in left.book.conditions.items() if left.states[n] != c.start]
    by_access = {name for step in left.book.access.values() for name in step.sets}
    return [name for name in changed if name not in by_access] or changed


def _is_free_without(left: RemainingWork, job: str) -> bool:
    problem = left.compiled(left.states, ())
    kept = tuple(o for o in problem.operations if o.job != job)
    names = {o.name for o in kept}
    cut = tuple(
        o.model_copy(update={"after": tuple(a for a in o.after if a in names)}) for o in kept
    )
    return len(cut) < len(problem.operations) and bool(
        some_order(problem.model_copy(update={"operations": cut})).possible
    )
