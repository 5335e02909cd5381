"""The error for a key of the form that the solver does not know how to honour.

The solver honours the whole form today; a key added to the form before the solver knows it is refused
with this, never ignored.
"""

from __future__ import annotations

from witnessmark.errors import WitnessError


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
