"""What this planner does not solve yet: refused by name, never ignored."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.errors import WitnessError
from witnessmark.planner.problem import Problem
from witnessmark.planner.reading import Part, json_path

Path = tuple[Part, ...]


class NotYetSolvedError(WitnessError):
    """A problem that is well formed but uses a key not solved yet (``key``)."""

    def __init__(self, place: str, wrong: str, right: str, key: str = "") -> None:
        super().__init__(place, wrong, right)
        self.args = (place, wrong, right, key)
        self.key = key

    def at(self, file: str) -> NotYetSolvedError:
        """The same, with the file the problem came from."""
        return NotYetSolvedError(f"{file} {self.place}", self.wrong, self.right, self.key)

    def as_dict(self) -> dict[str, str]:
        return super().as_dict() | {"key": self.key}


def refuse_unsolved(problem: Problem) -> None:
    """Raise NotYetSolvedError for the first key in use that is not solved yet."""
    for path, key, use in _unsolved(problem):
        wrong = f'"{key}" is not solved yet'
        raise NotYetSolvedError(json_path(path), wrong, f"leave out {use}", key)


def _unsolved(problem: Problem) -> Iterator[tuple[Path, str, str]]:
    yield from ()
