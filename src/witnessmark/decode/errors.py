"""What is raised where a marking or an answer cannot be read."""

from __future__ import annotations

import re
import unicodedata

from witnessmark.errors import WitnessError

_BLANKS = re.compile(r"\s+")


class DecodeError(WitnessError):
    """A text that is not what it should be: where, what is wrong, what would be right."""


def neat(text: str) -> str:
    """Usual forms of letters, digits and blanks."""
    return _BLANKS.sub(" ", unicodedata.normalize("NFKC", text)).strip()


def plain(text: str) -> str:
    """The same in capitals, as they are stamped and printed."""
    return neat(text).upper()


def shown(text: str, most: int = 40) -> str:
    """A text in quotes, cut where it is long."""
    flat = " ".join(text.split())
    return f"“{flat if len(flat) <= most else flat[: most - 1] + '…'}”"
