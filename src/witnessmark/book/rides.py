"""Rides: which steps are rides, which work only a ride can prove, and what looks back on one."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from witnessmark.book.model import Book, Circuit, Step
from witnessmark.book.select import earlier, job_of, steps


def is_ride(step: Step) -> bool:
    """Whether the machine is ridden in this step: it waits for the road test."""
    return step.gate == "road test"


def asks_for_ride(book: Book, step: Step) -> bool:
    """Whether the step opens what a ride has to prove: a safety-critical
    fastener or renewal, a circuit that is whole only after a ride.
    """
    return (
        any(book.fasteners[f].safety for f in (*step.loosens, *step.snugs))
        or any(book.renewals[r].safety for r in step.disturbs)
        or any(wants_ride(book.circuits[c]) for c in step.opens)
    )


def wants_ride(circuit: Circuit) -> bool:
    """Whether something of the circuit is closed by a ride alone."""
    return any(requirement.ride for requirement in circuit.closed_by.values())


def rides_after(book: Book) -> dict[str, frozenset[str]]:
    """The rides that prove work, each with the operations that come after it at any remove.

    A ride that such work comes straight after is the one before the work: it proves nothing of it.
    """
    return book.once(_rides_after)


def _rides_after(book: Book) -> dict[str, frozenset[str]]:
    follows, asking = earlier(book), book.once(_asking_for_ride)
    return {
        ride: _behind(ride, follows)
        for ride, step in steps(book).items()
        if is_ride(step) and not any(ride in follows[name] for name in asking)
    }


def _asking_for_ride(book: Book) -> frozenset[str]:
    return frozenset(name for name, step in steps(book).items() if asks_for_ride(book, step))


def closes_by_ride(book: Book, step: Step) -> list[str]:
    """What the step closes that only a ride can close, as ``circuit/requirement``."""
    return [
        f"{c}/{r}"
        for c, named in step.closes.items()
        for r in book.circuits[c].wanted(named)
        if book.circuits[c].closed_by[r].ride
    ]


def ridden_again(book: Book, to_come: Iterable[str]) -> tuple[frozenset[str], frozenset[str]]:
    """Of the operations ``to_come`` those that ask for a ride, and every step that must then come (again) after them.

    The second are the rides that prove work, what belongs to such a ride's own job behind it, and what closes by a
    ride what this work opens.
    """
    every, asking = steps(book), book.once(_asking_for_ride)
    names = [name for name in to_come if name in every]
    quietly, at_all = book.once(_reached_quietly), book.once(_reached_at_all)
    work = {
        name
        for name in names
        if name in asking
        or any(
            quietly[condition].isdisjoint(allowed) and not at_all[condition].isdisjoint(allowed)
            for condition, allowed in every[name].needs.items()
        )
    }
    if not work:
        return frozenset(), frozenset()
    opened = {
        f"{c}/{r}"
        for name in work
        for c, named in every[name].opens.items()
        for r in book.circuits[c].wanted(named)
    }
    again: set[str] = set()
    for ride, behind in rides_after(book).items():
        job = job_of(ride)
        again |= {ride} | {
            name
            for name in behind
            if job_of(name) == job or opened & set(closes_by_ride(book, every[name]))
        }
    return frozenset(work - again), frozenset(again)


def _reached_quietly(book: Book) -> dict[str, set[str]]:
    return _reached(
        book, (way for name, way in book.access.items() if name not in book.once(_asking_for_ride))
    )


def _reached_at_all(book: Book) -> dict[str, set[str]]:
    return _reached(book, book.access.values())


def _reached(book: Book, access: Iterable[Step]) -> dict[str, set[str]]:
    """By condition, the states to which those steps lead from its start."""
    steps_there = [*access]
    found = {}
    for name, condition in book.conditions.items():
        ways = [(one.needs.get(name), one.sets[name]) for one in steps_there if name in one.sets]
        reached = {condition.start}
        while fresh := {
            to for needs, to in ways if to not in reached and (needs is None or reached & {*needs})
        }:
            reached |= fresh
        found[name] = reached
    return found


def _behind(first: str, follows: Mapping[str, Collection[str]]) -> frozenset[str]:
    behind: set[str] = set()
    fresh = {first}
    while fresh:
        fresh = {n for n, after in follows.items() if n not in behind and fresh & set(after)}
        behind |= fresh
    return frozenset(behind - {first})
