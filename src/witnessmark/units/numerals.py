"""Numbers as people write them: 4.5, 4,5, 18 000, 18'000, 60., 1/4, 4 3/4, ¾."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from fractions import Fraction

MOST_DIGITS = 20
DECIMAL_PARTS = (10, 100, 1000)
INCH_PARTS = (2, 3, 4, 8, 16, 32, 64, 128)

_MIXED = r"(?:(?P<whole>\d+)[ -]+)?(?P<top>\d+) ?/ ?(?P<bottom>\d+)"
_PLAIN = r"\d{1,3}(?:[ ']\d{3})+(?:[.,]\d+)?|[.,]?\d[\d.,]*"
_START = re.compile(rf"(?P<sign>[+-]?) ?(?:{_MIXED}|(?P<plain>{_PLAIN}))", re.ASCII)
_SLASHED = re.compile(r"[+-]? ?(\d+) ?/ ?(\d+)")
_BLANKS = re.compile(r"\s+")
_DEGREES = str.maketrans("º˚", "°°")  # typed for a degree where a keyboard has no better
_SPECIAL = {"−": "-", "‐": "-", "‑": "-", "–": "-", "⁄": "/", "’": "'", "ʼ": "'", "\u200b": " "}


@dataclass(frozen=True)
class Numeral:
    """What a text starts with: the values it may mean (two where a comma is ambiguous), the rest.

    ``readings`` is empty where the digits make no number; ``grouped`` tells that the second
    reading takes the separator for thousands.
    """

    written: str
    readings: tuple[Fraction, ...]
    rest: str
    separator: str = ""

    def is_pair(self, parts: tuple[int, ...]) -> bool:
        """Whether it is two values with a slash (60/55): neither one part of something nor some of these ``parts``."""
        if not self.readings or not (found := _SLASHED.fullmatch(self.written)):
            return False
        top, bottom = map(int, found.groups())
        return top != 1 and (top >= bottom or bottom not in parts)


def plain_text(text: str) -> str:
    """One kind of blank, one kind of minus, fractions such as ¾ as `3/4`, compatibility forms as usual ones.

    A raised or lowered digit belongs to a unit (cm³); behind anything else than a letter it stays as
    it is, for 6² is not sixty-two.
    """
    parts: list[str] = []
    raised = False  # the sign before was raised, and so belongs to a unit: min⁻¹
    for sign in text.translate(_DEGREES):
        spread = unicodedata.normalize("NFKC", sign)
        raised = _is_script(sign) and (raised or (parts != [] and parts[-1][-1:].isalpha()))
        if _is_script(sign) and not raised:
            spread = sign
        # "4¾" is four and three quarters, not forty-three quarters
        parts.append(f" {spread}" if "⁄" in spread and len(spread) > 1 else spread)
    joined = "".join(_SPECIAL.get(sign, sign) for sign in "".join(parts))
    return _BLANKS.sub(" ", joined).strip()


def foreign_digits(text: str) -> bool:
    """Whether there are digits of another script, which are not read: ٣, ६, 五 are none of 0 to 9."""
    return any(sign.isnumeric() and not sign.isascii() for sign in text)


def _is_script(sign: str) -> bool:
    """A superscript, subscript or circled sign."""
    return unicodedata.decomposition(sign).startswith(("<super>", "<sub>", "<circle>"))


def start(text: str) -> Numeral | None:
    """The number a text (as `plain_text` leaves it) starts with, or None."""
    found = _START.match(text)
    if found is None:
        return None
    rest = text[found.end() :].strip()
    written = found.group().strip()
    sign = -1 if found["sign"] == "-" else 1
    if sum(letter.isdigit() for letter in written) > MOST_DIGITS:
        return Numeral(written, (), rest)
    if found["plain"] is None:
        return Numeral(written, _mixed(sign, found["whole"], found["top"], found["bottom"]), rest)
    readings, separator = _plain(found["plain"])
    return Numeral(written, tuple(sign * value for value in readings), rest, separator)


def _mixed(sign: int, whole: str | None, top: str, bottom: str) -> tuple[Fraction, ...]:
    if int(bottom) == 0:
        return ()
    return (sign * (int(whole or 0) + Fraction(int(top), int(bottom))),)


def _plain(written: str) -> tuple[tuple[Fraction, ...], str]:
    """The values that digits with dots and commas may mean, and the separator in doubt."""
    digits = written.replace(" ", "").replace("'", "")
    grouped = digits != written
    dots, commas = digits.count("."), digits.count(",")
    if dots + commas == 0:
        return (Fraction(digits),), ""
    if dots and commas:
        return _both(digits), ""
    separator = "." if dots else ","
    if dots + commas > 1:
        return (_thousands(digits, separator) if not grouped else ()), ""
    decimal = _decimal(digits, separator)
    if not decimal or grouped or not re.fullmatch(r"[1-9]\d{0,2}[.,]\d{3}", digits):
        return decimal, ""
    return decimal + _thousands(digits, separator), separator


def _both(digits: str) -> tuple[Fraction, ...]:
    """Dots and commas: the last one is the decimal sign, the other separates thousands."""
    last = max(digits.rfind("."), digits.rfind(","))
    whole, part = digits[:last], digits[last + 1 :]
    other = "," if digits[last] == "." else "."
    if digits[last] in whole or not part:
        return ()
    thousands = _thousands(whole, other)
    return (thousands[0] + Fraction(int(part), 10 ** len(part)),) if thousands else ()


def _thousands(digits: str, separator: str) -> tuple[Fraction, ...]:
    sign = re.escape(separator)
    usual, by_hundreds = rf"\d{{1,3}}(?:{sign}\d{{3}})+", r"\d{1,2}(?:,\d{2})+,\d{3}"  # 12,34,567
    if not re.fullmatch(rf"{usual}|{by_hundreds}", digits):
        return ()
    return (Fraction(digits.replace(separator, "")),)


def _decimal(digits: str, separator: str) -> tuple[Fraction, ...]:
    if digits.endswith(separator) and separator == ",":
        return ()
    return (Fraction(digits.replace(separator, ".")),)
