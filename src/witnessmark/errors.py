"""The one shape of an error: where, what is wrong, what would be right.

It has three faces: a line in the terminal (``str``), a message at the form field (``wrong`` and ``right`` beside
the field named in ``place``), an entry in ``--json`` (``as_dict``).
"""

import difflib
import re
from collections.abc import Iterable


class WitnessError(ValueError):
    """Something entered that cannot be used: where it stands, what is wrong with it, what would be right."""

    def __init__(self, place: str, problem: str, expected: str) -> None:
        super().__init__(place, problem, expected)  # every part in args: survives pickling
        self.place, self.problem, self.expected = place, problem, expected

    def __str__(self) -> str:
        return (
            f"{self.place}: {self.problem}; {self.expected}"
            if self.expected
            else f"{self.place}: {self.problem}"
        )

    def as_dict(self) -> dict[str, str]:
        """The three parts by name, for ``--json``."""
        return {"place": self.place, "problem": self.problem, "expected": self.expected}


def nearest(name: str, names: Iterable[str]) -> str | None:
    """The name most like this one, if any is alike."""
    found = difflib.get_close_matches(name, list(names), n=1, cutoff=0.5)
    return found[0] if found else None


def suggestion(text: str, names: Iterable[str]) -> str:
    """What may have been meant, as a question: every name that it may be, or nothing. For figures and materials.

    A name is meant where the text is a part of it, or differs in signs and leading zeros alone; a name in words also
    where it is alike. One with other digits never is: 12.8 is no slip of 12.9, and A2 is not the strongest of A2.
    """
    names = list(names)
    wanted = _bare(text)
    meant = [name for name in names if _bare(name) == wanted]
    meant = meant or [name for name in names if wanted in (_bare(part) for part in _parts(name))]
    if not meant and not any(sign.isdigit() for sign in text):
        words = [name for name in names if not any(sign.isdigit() for sign in name)]
        meant = difflib.get_close_matches(text.casefold(), words, n=3, cutoff=0.5)
    if not meant:
        return ""
    *first, last = [f'"{name}"' for name in meant]
    return f"did you mean {', '.join(first)}{' or ' if first else ''}{last}?"


def _bare(text: str) -> str:
    return "".join(sign for sign in text.casefold() if sign.isalnum()).lstrip("0")


def _parts(name: str) -> list[str]:
    return [part for part in re.split(r"[\s\-·:,]+", name) if part]


def listed(names: Iterable[str], most: int = 8) -> str:
    """Names in quotes, cut after `most`. Example: ``"fitted", "off"``."""
    names = list(names)
    text = ", ".join(f'"{name}"' for name in names[:most])
    return text + (f" and {len(names) - most} more" if len(names) > most else "")
