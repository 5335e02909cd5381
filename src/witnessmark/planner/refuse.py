"""What the solver does not know how to honour is refused, never ignored.

Today that is one use of one key: a condition two of whose states hold the same resource. Going from one
to the other it holds what the larger asks for, once; the solver would count both.
"""

from __future__ import annotations

from collections import Counter

from witnessmark.errors import WitnessError
from witnessmark.planner.problem import Problem


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
    """Raise NotYetSolvedError for a problem that uses what is not solved yet."""
    for name, condition in problem.conditions.items():
        held = Counter(r for units in condition.holds.values() for r, n in units.items() if n)
        for resource, states in held.items():
            if states > 1:
                raise NotYetSolvedError(
                    f"$.conditions.{name}.holds",
                    f'{states} states hold "{resource}", which is not solved yet',
                    "let one state hold it, or make these states one",
                    "holds",
                )
