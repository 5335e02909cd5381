"""Readings as people are told of them: how each stands to its limits, and what says so."""

from __future__ import annotations

from collections.abc import Iterable

from django.utils.translation import gettext as _

from witnessmark.book import Book
from witnessmark.book.figures import verdict
from witnessmark.facts import Verdict
from witnessmark.shop.store import EntryDraft


def judged(book: Book, reading: str, value: float | None) -> Verdict | None:
    """A value (base unit) against the limits of the book; None for words and for readings it has not."""
    rule = book.readings.get(reading)
    if rule is None or value is None or rule.quantity == "words":
        return None
    return verdict(book, rule, value)


def told(book: Book, acts: Iterable[EntryDraft]) -> str:
    """The verdicts on readings just taken, in a sentence each; empty where all is within its limits.

    Example: "Tread left: 1.6 mm measured with ±0.1 mm: at the limit of 1.6 mm (manual, p. 12)."
    """
    said = []
    for kind, body in acts:
        rule = book.readings.get(body["reading"]) if kind == "read" else None
        if rule is not None and rule.safety and body.get("words") in rule.bad:
            words = _("{reading}: {words}. No ride until it is put right.")
            said.append(words.format(reading=rule.text, words=body["words"]))
        found = judged(book, body["reading"], body.get("value")) if kind == "read" else None
        if found is not None and found.stand not in {"within limits", "no limit"}:
            rule = book.readings[body["reading"]]
            name = f"{rule.text}, {body['index']}" if rule.repeat > 1 else rule.text
            words = _("{reading}: {words}.")
            if rule.safety and found.beyond:
                words = _("{reading}: {words}. No ride until it is put right.")
            said.append(words.format(reading=name, words=found.words))
    return " ".join(said)
