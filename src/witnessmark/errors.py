"""The one shape of an error: where, what is wrong, what would be right.

It has three faces: a line in the terminal (``str``), a message at the form field (``wrong`` and ``right`` beside
the field named in ``place``), an entry in ``--json`` (``as_dict``).
"""

import difflib
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


def listed(names: Iterable[str], most: int = 8) -> str:
    """Names in quotes, cut after `most`. Example: ``"fitted", "off"``."""
    names = list(names)
    text = ", ".join(f'"{name}"' for name in names[:most])
    return text + (f" and {len(names) - most} more" if len(names) > most else "")
