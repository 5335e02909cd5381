"""Find a calculator by the words the trade has for it."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from difflib import get_close_matches
from functools import cache

from witnessmark.calculators import CALCULATORS, SUBJECTS
from witnessmark.calculators.model import Calculator

MOST_LETTERS = 200  # for the program: nobody searches by more
MOST_NEAR = 5  # for the program
_ALIKE = 0.75  # for the program: of a word mistyped
_WORD = re.compile(r"[^\W_]+")
_NOT_SEARCHED = frozenset({
    "a", "an", "and", "any", "are", "at", "be", "by", "can", "do", "does", "for", "from", "how", "i", "if", "in", "is",
    "it", "its", "many", "me", "much", "my", "of", "on", "or", "that", "the", "there", "this", "to", "was", "what",
    "when", "where", "which", "with",
})  # fmt: skip


def search(words: str) -> tuple[Calculator, ...]:
    """Those that all the words lead to, whole or by their beginning; a word of its title or trade counts most."""
    wanted = _wanted(words)
    scores = {name: _score(name, wanted) for name in CALCULATORS} if wanted else {}
    best = sorted((name for name in scores if scores[name]), key=lambda name: -scores[name])
    return tuple(CALCULATORS[name] for name in best)


def near(words: str) -> tuple[Calculator, ...]:
    """Those that most of the words lead to, each read as the word it is most like; at most `MOST_NEAR`."""
    vocabulary = {word for index in _index().values() for word in index}
    meant = [
        like
        for word in _wanted(words)
        for like in get_close_matches(word, vocabulary, n=1, cutoff=_ALIKE)
    ]
    found = {
        name: [score for word in meant if (score := _score(name, [word]))] for name in CALCULATORS
    }
    most = max(map(len, found.values()))
    best = sorted(
        (name for name in found if len(found[name]) == most > 0), key=lambda name: -sum(found[name])
    )
    return tuple(CALCULATORS[name] for name in best[:MOST_NEAR])


def _score(name: str, wanted: list[str]) -> int:
    """0 where one of the words leads elsewhere."""
    index = _index()[name]
    found = [
        max(
            (weight + (word == one) for one, weight in index.items() if one.startswith(word)),
            default=0,
        )
        for word in wanted
    ]
    return sum(found) if all(found) else 0


@cache
def _index() -> dict[str, dict[str, int]]:
    """By calculator: its words, each with the weight of where it stands."""
    return {
        one.name: dict(sorted(_words_of(subject, one), key=lambda pair: pair[1]))
        for subject, calculators in SUBJECTS.items()
        for one in calculators
    }


def _words_of(subject: str, one: Calculator) -> Iterator[tuple[str, int]]:
    asked = " ".join(asked.text for asked in one.asked)
    for weight, text in (
        (1, subject),
        (1, asked),
        (2, one.text),
        (6, " ".join([one.name, one.title, *one.also])),
    ):
        yield from ((word, weight) for word in _words(text))


def _wanted(words: str) -> list[str]:
    every = list(dict.fromkeys(_words(words[:MOST_LETTERS])))
    return [word for word in every if word not in _NOT_SEARCHED] or every


def _words(text: str) -> list[str]:
    """Without case, accents and the s of several: ``Allen keys`` is ``allen``, ``key``."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    bare = "".join(sign for sign in apart if not unicodedata.combining(sign))
    return [_singular(word) for word in _WORD.findall(bare)]


def _singular(word: str) -> str:
    if word.endswith(("ches", "shes", "sses", "xes")):
        return word[:-2]
    several = (
        len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us", "is"))
    )  # for the program
    return word[:-1] if several else word
