"""Service books with a few places changed: read, or refused with file and line, never a traceback."""

import random
import re

import pytest
import tomlkit

from tests.fuzz.hostile import mutated
from witnessmark.book import BookErrors, load_book, load_book_text
from witnessmark.cli.build_sheet import demo_books
from witnessmark.planner import compile_problem

PLACE = re.compile(r"pasted:\d+( \S.*)?", re.DOTALL)
SMALL = "tests/fixtures/small_book.toml"


def _tried(text: str) -> None:
    errors = None
    try:
        book = load_book_text(text)
    except BookErrors as refused:
        errors = refused
    if errors is None:
        compile_problem(book, list(book.jobs))
        return
    for error in errors.errors:
        assert PLACE.fullmatch(error.place), error
        assert error.problem
    str(errors).encode()


def _text(data: dict, chance: random.Random) -> str | None:
    """As TOML; None where TOML cannot say it."""
    try:
        return tomlkit.dumps(mutated(data, chance))
    except (ValueError, TypeError, UnicodeError, OverflowError):
        return None


def _lines_changed(text: str, chance: random.Random) -> str:
    """Lines doubled, dropped, swapped and cut: no TOML any more, mostly."""
    lines = text.splitlines()
    for _ in range(chance.randint(1, 4)):
        a, b = chance.randrange(len(lines)), chance.randrange(len(lines))
        lines[a] = chance.choice(
            (lines[b], lines[a][: len(lines[a]) // 2], lines[a] + lines[b], "")
        )
    return "\n".join(lines)


def _fuzz(text: str, rounds: range, answered) -> None:
    data = tomlkit.parse(text).unwrap()
    for seed in rounds:
        chance = random.Random(seed)
        for changed in (_text(data, chance), _lines_changed(text, chance)):
            if changed is not None:
                with answered():
                    _tried(changed)


@pytest.fixture
def small(pytestconfig) -> str:
    return (pytestconfig.rootpath / SMALL).read_text(encoding="utf-8")


def test_a_changed_book_is_read_or_refused_with_its_line(small, answered):
    _fuzz(small, range(40), answered)


@pytest.mark.long
def test_ten_thousand_changed_books_are_read_or_refused_with_their_lines(small, answered):
    _fuzz(small, range(40, 5_000), answered)
    for path in demo_books().values():
        load_book(path)
        _fuzz(path.read_text(encoding="utf-8"), range(300), answered)
