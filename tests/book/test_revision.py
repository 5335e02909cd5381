"""What a revision depends on, and what it does not."""

import hashlib
import json
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.book import canonical, from_canonical, load_book, load_book_text, revision


def _toml(table):
    """The table as one line of TOML per key, everything else inline."""
    return "\n".join(f"{json.dumps(key)} = {_inline(value)}" for key, value in table.items())


def _inline(value):
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(k)} = {_inline(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_inline, value)) + "]"
    return json.dumps(value, ensure_ascii=False) if isinstance(value, str | bool) else str(value)


def _shuffled(random, value):
    if isinstance(value, dict):
        keys = list(value)
        random.shuffle(keys)
        return {key: _shuffled(random, value[key]) for key in keys}
    return value


@settings(max_examples=20)  # a whole book each
@given(st.randoms(use_true_random=False))
def test_neither_order_nor_formatting_changes_the_revision(shaft, shaft_text, random):
    document = _shuffled(random, tomllib.loads(shaft_text))
    assert revision(load_book_text(_toml(document))) == revision(shaft)


def test_it_does_not_matter_which_file_of_a_chain_says_a_thing(t9):
    """The same book written as one document has the same revision as the book with its archetype."""
    whole = json.loads(canonical(t9))
    text = _toml(whole).replace('"2026-01-31"', "2026-01-31")
    assert revision(load_book_text(text)) == revision(t9)


@pytest.mark.parametrize("name", ["shaft", "t9"])
def test_the_pinned_form_gives_the_book_again(request, name):
    book = request.getfixturevalue(name)
    again = from_canonical(canonical(book))
    assert again == book
    assert canonical(again) == canonical(book)
    assert [*again.jobs, *again.access] == [*book.jobs, *book.access]
    assert revision(book) == hashlib.sha256(canonical(book)).hexdigest()


@pytest.mark.parametrize(
    ("old", "new", "same"),
    [
        ("minutes = 20", "minutes = 20.0", True),
        ("minutes = 20", "minutes = 20\nunattended = 0", True),
        ('value = "180 ml"', 'value = "180 ml"\nlow = ""', True),
        ("minutes = 20", "minutes = 20.1", False),
        ('"180 ml"', '"0.18 L"', False),
        ("2026-01-31", "2026-02-01", False),
    ],
    ids=["whole number", "default said", "left blank", "a tenth more", "other unit", "later"],
)
def test_the_revision_changes_with_what_is_said_and_with_nothing_else(chain, t9, old, new, same):
    """How a quantity is written is part of it: it is what the technician compares with the page."""
    text = (chain / "t9.toml").read_text()
    assert text.count(old) == 1
    (chain / "t9.toml").write_text(text.replace(old, new))
    assert (revision(load_book(chain / "t9.toml")) == revision(t9)) is same


def test_the_form_is_canonical_json():
    """RFC 8785: keys in order, no blanks, numbers as ECMAScript writes them, text unescaped."""
    book = load_book_text(
        'format = 1\nname = "p"\ntitle = "Größe"\narchetype = true\n'
        '[parts.ring]\ntext = "Ring"\n[parts.bolt]\ntext = "M6"\nconsumable = true\n'
    )
    assert canonical(book).decode() == (
        '{"archetype":true,"format":1,"name":"p","parts":{"bolt":{"consumable":true,"text":"M6"},'
        '"ring":{"text":"Ring"}},"title":"Größe"}'
    )
