"""Currencies: how many decimals they have (ISO 4217), how an amount is written and read."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from typing import Annotated

from babel import Locale, UnknownLocaleError
from babel.numbers import list_currencies, parse_pattern
from pydantic import AfterValidator
from pydantic_core import PydanticCustomError

from witnessmark.errors import WitnessError
from witnessmark.units import numerals

MOST_MINOR = 10**12  # beyond it something was mistyped

# ISO 4217, list one: the currencies whose minor unit is not a hundredth. (From memory, and the
# rows of tests/outside/data/money.csv; the common locale data differs from ISO for some, e.g. IQD.)
_EXPONENTS = dict.fromkeys(
    ("BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "UYI", "VND", "VUV", "XAF",
     "XOF", "XPF"), 0,
) | dict.fromkeys(("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"), 3) | dict.fromkeys(("CLF", "UYW"), 4)  # fmt: skip
_LOCALE = "en_GB"


class MoneyError(WitnessError):
    """An amount, rate or price that cannot be used."""


# Signs by which people write them, as the common locale data has them (CLDR; from memory). One that several
# currencies share is read as the shop's own.
_SIGNS = {
    "€": ("EUR",), "euro": ("EUR",), "euros": ("EUR",), "us$": ("USD",),
    "£": ("GBP",), "¥": ("JPY", "CNY"), "zł": ("PLN",), "kč": ("CZK",), "ft": ("HUF",),
    "kr": ("SEK", "NOK", "DKK", "ISK"), "fr": ("CHF",), "sfr": ("CHF",), "₺": ("TRY",), "₹": ("INR",), "₩": ("KRW",),
    "lei": ("RON",), "₴": ("UAH",), "r": ("ZAR",), "r$": ("BRL",), "₪": ("ILS",), "฿": ("THB",), "₫": ("VND",),
    "$": ("USD", "CAD", "AUD", "NZD", "SGD", "HKD", "MXN", "CLP", "COP", "ARS", "TWD"),
}  # fmt: skip


def _known(code: str) -> str:
    if code not in list_currencies():
        raise PydanticCustomError("currency", "{code} is no currency of ISO 4217", {"code": code})
    return code


Currency = Annotated[str, AfterValidator(_known)]


def exponent(currency: str) -> int:
    """Decimals of the currency's minor unit. Example: EUR 2, JPY 0, KWD 3."""
    return _EXPONENTS.get(currency, 2)


def major(minor: int, currency: str) -> Decimal:
    """An amount of minor units as a decimal of the currency. Example: 1234 EUR is 12.34."""
    return Decimal(minor).scaleb(-exponent(currency))


def in_minor(amount: Decimal, currency: str) -> Fraction:
    """A decimal of the currency in minor units, not rounded."""
    return Fraction(amount) * Fraction(10 ** exponent(currency))


def amount_text(minor: int, currency: str, locale: str = _LOCALE) -> str:
    """An amount as people of that locale write it, with all decimals of ISO 4217.

    Example: ``€1,234.50`` in en_GB. A locale that is not known falls back to en_GB.
    """
    try:
        known = Locale.parse(locale.replace("-", "_"))
    except (UnknownLocaleError, ValueError):
        known = Locale.parse(_LOCALE)
    pattern = parse_pattern(known.currency_formats["standard"].pattern)
    pattern.frac_prec = (exponent(currency), exponent(currency))
    return str(
        pattern.apply(major(minor, currency), known, currency=currency, currency_digits=False)
    )


def read_amount(text: str, currency: str, *, place: str = "amount") -> int:
    """Minor units of an amount as it was typed: ``95``, ``95.00``, ``95,00``, ``1 234,50``.

    The currency's code or sign may stand before or behind (``95 €``, ``$95``), and a dash for no
    minor units (``95,-``). Raises MoneyError for anything else, for more
    decimals than the currency has, a negative or an unbelievable amount. One separator with three
    digits behind it is asked about (``1,234``, ``60.005``), but in a currency of three decimals,
    where a dot is a decimal point, and in one of none, where it can only separate thousands.
    """
    plain = numerals.plain_text(text)
    number = numerals.start(_bare(plain, currency))
    example = f"write an amount such as {major(12 * 10 ** exponent(currency), currency)}"
    if number is None or number.rest or not number.readings:
        raise MoneyError(place, f"“{text.strip()[:40]}” is no amount of {currency}", example)
    value = _meant(number, currency, place)
    minor = int(value * 10 ** exponent(currency))
    if not 0 <= minor <= MOST_MINOR:
        raise MoneyError(place, f"“{number.written}” cannot be meant", example)
    return minor


def _bare(plain: str, currency: str) -> str:
    """An amount without its currency, on either side, and without the dash of whole amounts."""
    names = [currency.casefold(), *(sign for sign, codes in _SIGNS.items() if currency in codes)]
    for name in sorted(names, key=len, reverse=True):
        folded = plain.casefold()
        if folded.startswith(name):
            plain = plain[len(name) :].removeprefix(".").strip()
            break
        if folded.removesuffix(".").endswith(name):
            plain = plain.removesuffix(".")[: -len(name)].strip()
            break
    return re.sub(r"[.,] ?-{1,2}$", "", plain)


def _meant(number: numerals.Numeral, currency: str, place: str) -> Fraction:
    """The one value that can be meant."""
    decimals = exponent(currency)
    fitting = [value for value in number.readings if (value * 10**decimals).denominator == 1]
    if not fitting:
        example = f"write an amount such as {major(12 * 10**decimals, currency)}"
        raise MoneyError(place, f"“{number.written}” is finer than {currency} goes", example)
    if len(number.readings) == 1 or decimals == 0 or (decimals == 3 and number.separator == "."):
        return fitting[0]
    decimal, grouped = number.readings
    finer, other = "", f"{float(decimal):.4f}"
    if decimal not in fitting:
        finer, other = f", which is finer than {currency} goes,", f"give {decimals} decimals"
    raise MoneyError(
        place, f"“{number.written}” may be {float(decimal)}{finer} or {grouped}",
        f"write {grouped} without a separator, or {other}",
    )  # fmt: skip
