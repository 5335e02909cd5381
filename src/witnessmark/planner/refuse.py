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
    if problem.now is not None:
        yield ("now",), "now", "where the work stands"
    if len(problem.technicians) > 1:
        yield ("technicians", 1), "technicians", "all technicians but one"
    for name, condition in problem.conditions.items():
        if condition.lapse:
            yield ("conditions", name, "lapse"), "lapse", "the lapse"
        if condition.holds:
            yield ("conditions", name, "holds"), "holds", "what the condition holds"
    for place, technician in enumerate(problem.technicians):
        if technician.skills:
            yield ("technicians", place, "skills"), "skills", "the skills"
        if technician.shifts is not None:
            yield ("technicians", place, "shifts"), "shifts", "the shifts"
    yield from _unsolved_steps(problem)


def _unsolved_steps(problem: Problem) -> Iterator[tuple[Path, str, str]]:
    for kind, steps in (("moves", problem.moves), ("operations", problem.operations)):
        for place, step in enumerate(steps):
            if step.hands > 1:
                yield (kind, place, "hands"), "hands", "the second pair of hands"
            if step.skills:
                yield (kind, place, "skills"), "skills", "the skills"
            if step.uses:
                yield (kind, place, "uses"), "uses", "the resources"
            if getattr(step, "release", 0.0) > 0:
                yield (kind, place, "release"), "release", "the earliest start"
