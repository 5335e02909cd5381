"""Calculators are found by what the trade calls them."""

import pytest

from witnessmark.calculators import CALCULATORS
from witnessmark.calculators.search import MOST_NEAR, near, search

EVERY = pytest.mark.parametrize("calculator", CALCULATORS.values(), ids=CALCULATORS)


def names(found):
    return [one.name for one in found]


@pytest.mark.parametrize(
    ("words", "first"),
    [
        ("allen key", "drive-size"),
        ("Allen keys", "drive-size"),
        ("feeler gauge", "shims"),
        ("valve clearance", "shims"),
        ("thread insert", "thread-depth"),
        ("stretched chain", "chain-wear"),
        ("tire pressure", "tyre-pressure"),
        ("VIN", "identification-number"),
        ("fault codes", "trouble-codes"),
        ("how much oil for premix", "two-stroke"),
        ("antifreeze", "coolant"),
        ("warped rotor", "brake-disc"),
        ("parasitic drain", "battery-drain"),
        ("foot pounds", "convert"),
        ("wheel bolts crosswise", "bolt-star"),
        ("regulator", "charging"),
        ("DOT 4", "brake-fluid"),
    ],
)
def test_a_word_of_the_trade_finds_it_first(words, first):
    """Common practice, no source."""
    assert names(search(words))[:1] == [first]


@EVERY
def test_its_name_title_and_trade_words_find_it(calculator):
    for words in (calculator.name, calculator.title, *calculator.also):
        assert calculator in search(words), words


@EVERY
def test_a_trade_word_says_what_title_and_text_do_not(calculator):
    """And is no sentence: a field's own words find it, too."""
    said = f"{calculator.name} {calculator.title} {calculator.text}".casefold().replace("-", " ")
    for words in calculator.also:
        assert len(words) <= 30
        assert any(word not in said.split() for word in words.casefold().split()), words


@pytest.mark.parametrize(
    ("words", "like"),
    [("alen key", "drive-size"), ("convrt", "convert"), ("compresion tset", "compression")],
)
def test_a_word_mistyped_finds_nothing_and_is_near(words, like):
    assert search(words) == ()
    assert names(near(words))[0] == like
    assert len(near(words)) <= MOST_NEAR


@pytest.mark.parametrize("words", ["", "  ", "?", "\x00", "qqqqqq", "x" * 100_000, "٣"])
def test_what_is_no_word_finds_nothing(words):
    assert (search(words), near(words)) == ((), ())
