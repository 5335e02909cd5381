"""What is wrong with a service book, where it stands, and what would be right."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

from witnessmark.errors import WitnessError, listed, nearest

MOST_TOLD = 100  # faults of a book; who has more mends these first
Part = str | int
Path = tuple[Part, ...]
MORE = "there may be more: mend these first"


class BookError(WitnessError):
    """One thing wrong in a service book; place is ``file:line field.path``, `path` the field's path where known."""

    path: Path = ()


class BookErrors(WitnessError):  # noqa: N818 - it is many errors, and says so
    """All that is wrong in a book and in what it extends, file by file and line by line.

    `place`, `wrong` and `right` are those of the first; `str` has a line for each.
    """

    def __init__(self, errors: Iterable[BookError]) -> None:
        self.errors = tuple(errors)
        super().__init__(*self.errors[0].args)
        self.args = (self.errors,)  # survives pickling

    def __str__(self) -> str:
        more = [] if len(self.errors) < MOST_TOLD else [MORE]
        return "\n".join([*map(str, self.errors), *more])


class Fault(NamedTuple):
    """What does not hold inside a book, before it is known which file and line said so.

    `other` is the second party of a disagreement (the figure a fastener names, say): when the
    place itself was fine until a later file changed the other party, that file is at fault.
    """

    path: Path
    problem: str
    expected: str
    other: Path | None = None


def dotted(path: Iterable[Part]) -> str:
    """The path as TOML writes it. Example: ``jobs.oil.operations.drain.loosens[0]``."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part}]"
        else:
            bare = re.fullmatch(r"[A-Za-z0-9_-]+", part)
            text += ("." if text else "") + (part if bare else f'"{part}"')
    return text


def known(kind: str, name: str, names: Iterable[str]) -> str:
    """What would be right in place of an unknown name: the nearest, or those there are."""
    names = list(names)
    like = nearest(name, names)
    if like is not None:
        return f'did you mean "{like}"?'
    return f"there are {listed(names)}" if names else f"the book declares no {kind}"
