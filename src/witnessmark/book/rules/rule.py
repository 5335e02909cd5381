"""What a rule of the trade is, and the words in which its predicates speak of a book."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from witnessmark.book.errors import Fault
from witnessmark.book.model import Book, Step
from witnessmark.book.select import path_of, steps

COMMON = "common practice, no source"


@dataclass(frozen=True)
class Rule:
    """One rule: its name, what must hold, why, who says so, and what of a book breaks it."""

    name: str
    holds: str
    because: str
    broken: Callable[[Book], Iterable[Fault]]
    source: str = COMMON


def setting(book: Book, condition: str, *states: str) -> Iterator[tuple[str, Step]]:
    """The steps, by name, that bring the condition into one of those states; any state where none is given."""
    for name, step in steps(book).items():
        if condition in step.sets and (not states or step.sets[condition] in states):
            yield name, step


def fault(step: str, key: str, problem: str, expected: str) -> Fault:
    """A fault of one key of a step."""
    return Fault((*path_of(step), key), problem, expected)


def assured(name: str, step: Step, *marks: str) -> Iterator[Fault]:
    """What the words of the step should see to and are not marked as seeing to."""
    for mark in marks:
        if mark not in step.assures:
            expected = f'say so in "does", and mark it: assures = ["{mark}"]'
            yield fault(name, "assures", f'nothing sees to "{mark}"', expected)
