"""The trade's own rules, by which a sound book is judged: it may break one, and should then say why.

A rule speaks by the names of the vocabulary (`book.vocabulary`): a book with names of its own is told less. What
only the words of a step can say it marks by `assures`. A rule is answered in a book by `[answers.RULE]`.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

from witnessmark.book.errors import Fault
from witnessmark.book.model import Answer, Book
from witnessmark.book.rules import brakes_and_wheels, engine_and_fuel, everywhere
from witnessmark.book.rules.rule import Rule
from witnessmark.book.select import path_of, used_steps, with_brought

RULES = {
    rule.name: rule
    for rule in (*brakes_and_wheels.RULES, *engine_and_fuel.RULES, *everywhere.RULES)
}


class Finding(NamedTuple):
    """Where a book breaks a rule, and the answer it gives to that rule, if any."""

    rule: Rule
    fault: Fault
    answer: Answer | None


def findings(book: Book) -> list[Finding]:
    """Every place where a sound book breaks a rule, rule by rule; also where it answers the rule."""
    return [
        Finding(rule, fault, book.answers.get(name))
        for name, rule in RULES.items()
        for fault in rule.broken(book)
    ]


def answered(book: Book, jobs: Collection[str]) -> dict[str, Answer]:
    """The rules that a book breaks and answers, as far as work on those jobs is concerned.

    What is broken by a fastener, a circuit or a reading concerns every job.
    """
    work = {path_of(name) for name in used_steps(book, with_brought(book, jobs))}
    return {
        found.rule.name: found.answer
        for found in (findings(book) if book.answers else ())
        if found.answer is not None
        and (found.fault.path[0] not in ("access", "jobs") or _of_work(found.fault, work, jobs))
    }


def _of_work(fault: Fault, work: Collection[tuple[str | int, ...]], jobs: Collection[str]) -> bool:
    path = fault.path
    if path[0] == "access":
        return path[:2] in work
    return path[:4] in work if "operations" in path else path[1] in jobs


def how_to_answer(rule: Rule) -> str:
    """What to write into a book where it is right all the same."""
    return f'[answers.{rule.name}] with because = "…" and by = "…"'
