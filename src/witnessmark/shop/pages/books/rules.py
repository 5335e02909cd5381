"""What the trade's rules say of a book, for its page."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from witnessmark.book import Book, BookErrors
from witnessmark.book.errors import dotted
from witnessmark.book.load import PlacedBook, load_text_placed
from witnessmark.book.model import Answer
from witnessmark.book.rules import findings


@dataclass(frozen=True)
class RuleShown:
    """A rule that a book breaks: where, and what the book answers."""

    name: str
    holds: str
    because: str
    source: str
    places: list[tuple[str, str, str]]  # where, what is wrong, what would be right
    answer: Answer | None


def rules_of(book: Book, text: str) -> list[RuleShown]:
    """The rules that a book breaks; ``text``: what it was written as, for the lines."""
    found = findings(book)
    placed = _placed(text) if found else None
    return [
        RuleShown(
            rule.name,
            rule.holds,
            rule.because,
            rule.source,
            [
                (
                    placed.place(one.fault.path) if placed else dotted(one.fault.path),
                    one.fault.problem,
                    one.fault.expected,
                )
                for one in places
            ],
            book.answers.get(rule.name),
        )
        for rule, places in groupby(found, lambda one: one.rule)
    ]


def _placed(text: str) -> PlacedBook | None:
    try:
        return load_text_placed(text, "line") if text else None
    except BookErrors:  # sound when it was kept, by an archetype that has changed since
        return None
