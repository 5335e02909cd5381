"""Which jobs of the book the owner's words name, and which choices a page of many lists when words are looked for."""

from __future__ import annotations

import re
from collections.abc import Iterator

from witnessmark.book import Book, selection

_PARTS = re.compile(r"[,;.\n]|\band\b")
_WORD = re.compile(r"\w+")


def asked_for(book: Book, said: str) -> list[str]:
    """The jobs, with what they bring, of the jobs and services that the owner's words name as book or trade do.

    A name counts where it stands in the words, up to its colon (*Chain: clean, slack, oil*), or where all words
    of one part of them (*front pads*) stand in just one name (*Front brake pads*).
    """
    return selection(book, dict.fromkeys(_named(book, said.casefold())))


def _named(book: Book, said: str) -> Iterator[str]:
    every = {name: [one.text.casefold()] for name, one in book.services.items()}
    every |= {name: [text.casefold() for text in names_of(book, name)] for name in book.jobs}
    words = f" {' '.join(_WORD.findall(said))} "
    for name, texts in every.items():
        if any(f" {' '.join(_WORD.findall(text.partition(':')[0]))} " in words for text in texts):
            yield name
    for part in _PARTS.split(said):
        wanted = {*_WORD.findall(part)}
        fitting = [
            name
            for name, texts in every.items()
            if wanted and any(wanted <= {*_WORD.findall(text)} for text in texts)
        ]
        if len(fitting) == 1:
            yield from fitting


def names_of(book: Book, job: str) -> list[str]:
    """What the job is called: by the book, in the languages it is translated into, by others of the trade."""
    text = book.jobs[job].text
    translated = [table[text] for table in book.translations.values() if text in table]
    return [text, *translated, *book.jobs[job].also_called]


def names(book: Book, job: str, looked_for: str) -> bool:
    """Whether every word that is looked for stands in one name of the job, or begins a word of it."""
    wanted = _WORD.findall(looked_for.casefold())
    return any(
        all(any(word.startswith(one) for word in stands) for one in wanted)
        for stands in (_WORD.findall(name.casefold()) for name in names_of(book, job))
    )
