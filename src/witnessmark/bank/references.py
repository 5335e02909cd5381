"""The creditor reference of ISO 11649: what a payer writes, and how it is found again in what a payer wrote."""

from __future__ import annotations

import re

from stdnum import iso11649
from stdnum.exceptions import ValidationError
from stdnum.iso7064 import mod_97_10

from witnessmark.bank.errors import BankError

LONGEST = 21  # signs after RF and the two check digits (ISO 11649)
_WRITTEN = re.compile(r"\bRF\d{2}(?:[ ]?[0-9A-Z]){1,21}", re.IGNORECASE)


def creditor_reference(number: str) -> str:
    """The reference of a document's number. Example: ``2026-0417`` gives ``RF5120260417``.

    Only letters A to Z and digits count. Raises BankError where none is left, or more than 21.
    """
    plain = _plain(number)
    if not 1 <= len(plain) <= LONGEST:
        right = f"use 1 to {LONGEST} letters A to Z and digits"
        raise BankError("number", f"“{number}” gives no creditor reference", right)
    return f"RF{mod_97_10.calc_check_digits(plain + 'RF')}{plain}"


def spaced(reference: str) -> str:
    """As it is printed, in groups of four."""
    return " ".join(reference[n : n + 4] for n in range(0, len(reference), 4))


def references_in(text: str) -> tuple[str, ...]:
    """The creditor references in what a payer wrote, with or without spaces, whose check digits agree."""
    found: dict[str, None] = {}
    for match in _WRITTEN.finditer(text):
        signs = match.group().replace(" ", "").upper()
        # What follows the reference may look like a part of it: the longest that agrees is meant.
        for end in range(len(signs), 4, -1):
            if _agrees(signs[:end]):
                found[signs[:end]] = None
                break
    return tuple(found)


def names_number(text: str, number: str) -> bool:
    """Whether a text names a document's number as such, however its parts are joined: not as a part of a longer one."""
    parts = re.findall(r"[0-9A-Z]+", number.upper())
    if not parts:
        return False
    written = r"[^0-9A-Z]{0,3}".join(re.escape(part) for part in parts)
    return bool(re.search(rf"(?<![0-9A-Z]){written}(?![0-9A-Z])", text.upper()))


def _plain(number: str) -> str:
    return re.sub(r"[^0-9A-Z]", "", number.upper())


def _agrees(reference: str) -> bool:
    try:
        iso11649.validate(reference)
    except ValidationError:
        return False
    return True
