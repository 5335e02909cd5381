"""The one shape of an error: where, what is wrong, what would be right.

It has three faces: a line in the terminal (``str``), a message at the form field (``wrong`` and ``right`` beside
the field named in ``place``), an entry in ``--json`` (``as_dict``).
"""


class WitnessError(ValueError):
    """Something entered that cannot be used: where it stands, what is wrong with it, what would be right."""

    def __init__(self, place: str, wrong: str, right: str) -> None:
        super().__init__(place, wrong, right)  # every part in args: survives pickling
        self.place, self.wrong, self.right = place, wrong, right

    def __str__(self) -> str:
        return (
            f"{self.place}: {self.wrong}; {self.right}"
            if self.right
            else f"{self.place}: {self.wrong}"
        )

    def as_dict(self) -> dict[str, str]:
        """The three parts by name, for ``--json``."""
        return {"place": self.place, "wrong": self.wrong, "right": self.right}
