"""Which jobs of the book the owner's words name, and which choices a page of many lists when words are looked for."""

from __future__ import annotations

import re
from collections.abc import Iterator

from witnessmark.book import Book, selection

_PARTS = re.compile(r"[,;.\n]|\band\b")
_WORD = re.compile(r"\w+")


def asked_for(book: Book, said: str) -> list[str]:
    """The jobs, with what they bring, of the jobs and services that the owner's words name as the book does.

    A name counts where it stands in the words, up to its colon (*Chain: clean, slack, oil*), or where all words
    of one part of them (*front pads*) stand in just one name (*Front brake pads*).
    """
    return selection(book, dict.fromkeys(_named(book, said.casefold())))


def _named(book: Book, said: str) -> Iterator[str]:
    every = {name: one.text.casefold() for name, one in book.services.items()}
    every |= {name: one.text.casefold() for name, one in book.jobs.items()}
    words = f" {' '.join(_WORD.findall(said))} "
    for name, text in every.items():
        if f" {' '.join(_WORD.findall(text.partition(':')[0]))} " in words:
            yield name
    for part in _PARTS.split(said):
        wanted = {*_WORD.findall(part)}
        fitting = [
            name for name, text in every.items() if wanted and wanted <= {*_WORD.findall(text)}
        ]
        if len(fitting) == 1:
            yield from fitting


def names(text: str, looked_for: str) -> bool:
    """Whether every word that is looked for stands in the text, or begins a word of it."""
    stands = _WORD.findall(text.casefold())
    return all(
        any(word.startswith(one) for word in stands) for one in _WORD.findall(looked_for.casefold())
    )
