"""Amounts as people read and write them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.money import MoneyError, amount_text, read_amount
from witnessmark.money.currency import major


@pytest.mark.parametrize(
    ("minor", "currency", "locale", "text"),
    [
        (123450, "EUR", "en_GB", "€1,234.50"),
        (123450, "EUR", "de_DE", "1.234,50\u00a0€"),
        (123450, "EUR", "de-DE", "1.234,50\u00a0€"),
        (1234, "JPY", "en_GB", "JP¥1,234"),
        (
            1234,
            "IQD",
            "en_GB",
            "IQD1.234",
        ),  # ISO 4217 has three decimals, common locale data none
        (-5, "EUR", "en_GB", "-€0.05"),
        (100, "EUR", "no such place", "€1.00"),
    ],
)
def test_an_amount_is_shown_as_its_locale_does_with_the_decimals_of_iso_4217(
    minor, currency, locale, text
):
    assert amount_text(minor, currency, locale) == text


@pytest.mark.parametrize(
    ("text", "currency", "minor"),
    [
        ("95", "EUR", 9500),
        ("95 €", "EUR", 9500),
        ("€95", "EUR", 9500),
        ("95,-", "EUR", 9500),
        ("95,– €", "EUR", 9500),
        ("95.-- CHF", "CHF", 9500),
        ("Fr. 95.50", "CHF", 9550),
        ("$95", "USD", 9500),
        ("$95", "CAD", 9500),
        ("95 kr.", "SEK", 9500),
        ("95 eur", "EUR", 9500),
        ("95 Euro", "EUR", 9500),
        ("US$ 95", "USD", 9500),
        ("Euros 95", "EUR", 9500),
        ("£1,234.50", "GBP", 123450),
        ("95.5", "EUR", 9550),
        ("95,00", "EUR", 9500),
        ("EUR 95", "EUR", 9500),
        ("1 234,50 EUR", "EUR", 123450),
        ("1,234", "JPY", 1234),  # no decimals: it can only separate thousands
        ("1.234,50", "EUR", 123450),
        ("0", "EUR", 0),
        ("1500", "JPY", 1500),
        ("4.350", "KWD", 4350),
    ],
)
def test_an_amount_is_read_as_it_was_typed(text, currency, minor):
    assert read_amount(text, currency) == minor


@pytest.mark.parametrize(
    ("text", "currency", "problem"),
    [
        ("", "EUR", "“” is no amount of EUR"),
        ("ninety", "EUR", "“ninety” is no amount of EUR"),
        ("95 USD", "EUR", "“95 USD” is no amount of EUR"),
        ("$95", "EUR", "“$95” is no amount of EUR"),
        ("95 €", "GBP", "“95 €” is no amount of GBP"),
        ("95-", "EUR", "“95-” is no amount of EUR"),
        ("€95€", "EUR", "“€95€” is no amount of EUR"),
        ("1.2345", "EUR", "“1.2345” is finer than EUR goes"),
        ("1.5", "JPY", "“1.5” is finer than JPY goes"),
        ("1,234", "KWD", "“1,234” may be 1.234 or 1234"),
        ("1,234", "EUR", "“1,234” may be 1.234, which is finer than EUR goes, or 1234"),
        ("60.005", "EUR", "“60.005” may be 60.005, which is finer than EUR goes, or 60005"),
        ("-5", "EUR", "“-5” cannot be meant"),
        ("99999999999", "EUR", "“99999999999” cannot be meant"),
    ],
)
def test_what_is_no_amount_is_refused(text, currency, problem):
    with pytest.raises(MoneyError) as refused:
        read_amount(text, currency, place="price")
    assert (refused.value.place, refused.value.problem) == ("price", problem)


@pytest.mark.parametrize(
    ("text", "currency", "expected"),
    [
        ("ninety", "EUR", "write an amount such as 12.00"),
        ("ninety", "JPY", "write an amount such as 12"),
        ("-5", "EUR", "write an amount such as 12.00"),
        ("1.2345", "EUR", "write an amount such as 12.00"),
        ("1.23456", "KWD", "write an amount such as 12.000"),
        ("1,234", "EUR", "write 1234 without a separator, or give 2 decimals"),
        ("1,234", "KWD", "write 1234 without a separator, or 1.2340"),
    ],
)
def test_what_is_no_amount_is_told_how_to_write_one(text, currency, expected):
    with pytest.raises(MoneyError) as refused:
        read_amount(text, currency)
    assert (refused.value.place, refused.value.expected) == ("amount", expected)


def test_an_amount_goes_up_to_ten_thousand_million_and_is_shown_back_up_to_a_length():
    """Judged by us: beyond it something was mistyped."""
    assert read_amount("10000000000", "EUR") == 10**12
    with pytest.raises(MoneyError, match="cannot be meant"):
        read_amount("10000000000.01", "EUR")
    for text in ("q" * 40, "q" * 300):
        with pytest.raises(MoneyError) as refused:
            read_amount(text, "EUR")
        assert refused.value.problem.count("q") == 40


@given(st.text(max_size=60))
def test_any_text_gives_an_amount_or_a_money_error(text):
    try:
        minor = read_amount(text, "EUR")
    except MoneyError:
        return
    assert 0 <= minor <= 10**12


@given(st.integers(0, 10**9), st.sampled_from(["EUR", "JPY"]))
def test_an_amount_shown_plainly_reads_back(minor, currency):
    """With a dot and no thousands, as a form field shows it."""
    assert read_amount(f"{major(minor, currency):f}", currency) == minor
