"""A plan, as handed out: what is done when, by whom and for what, and what is proven of it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import ConfigDict, Field, ValidationError

from witnessmark.errors import WitnessError
from witnessmark.frozen import FrozenModel
from witnessmark.planner.problem import reading

Goal = Literal["finish", "attended"]
Status = Literal["optimal", "feasible", "impossible", "unknown"]
ConflictKind = Literal["operation", "finish", "never", "horizon", "technicians"]


class PlanError(WitnessError):
    """A plan given as JSON (``--previous``) that cannot be read."""


class PlanStep(FrozenModel):
    """One step of a plan, in minutes: attended over [start, end), unattended over [end, tail_end)."""

    name: str
    kind: Literal["move", "operation"]
    start: float
    end: float
    tail_end: float
    technicians: tuple[str, ...] = ()
    for_: Annotated[tuple[str, ...], Field(alias="for")] = ()

    model_config = ConfigDict(populate_by_name=True)


class Conflict(FrozenModel):
    """One member of an irreducible conflict.

    ``name`` is the operation, the condition whose finish it is, the index of the ``never`` as text,
    or nothing for horizon and technicians.
    """

    kind: ConflictKind
    name: str | None = None


class Answer(FrozenModel):
    """What the planner answers: a status never guessed, the plan if any, and the bounds proven.

    ``finish_minutes``: all steps over. ``attended_minutes``: hands times attended minutes.
    ``exposure_minutes``: minutes that exposed states last. All None without a plan; a bound is
    None where nothing is proven. The bound on the figure sought second is over plans no worse in the first;
    ``least_finish`` and ``least_attended`` are bounds on those figures of any plan.
    """

    status: Status
    finish_minutes: float | None = None
    finish_bound: float | None = None
    attended_minutes: float | None = None
    attended_bound: float | None = None
    least_finish: float | None = None
    least_attended: float | None = None
    exposure_minutes: float | None = None
    deviation: int | None = None
    walks: int | None = None
    late: dict[str, float] = Field({})
    conflict: tuple[Conflict, ...] | None = None
    solve_seconds: float = 0.0
    steps: tuple[PlanStep, ...] = ()

    def to_json(self, *, indent: int | None = None) -> str:
        """The answer as JSON text, keys as on the page (``for``, not ``for_``)."""
        return self.model_dump_json(by_alias=True, indent=indent)


def load_answer(text: str, *, file: str = "plan") -> Answer:
    """Read an answer back from JSON text; ``file`` names it in an error.

    Raises PlanError with file and JSON path.
    """
    try:
        return Answer.model_validate(reading.read_json(text))
    except reading.UnreadableError as fault:
        raise PlanError(
            f"{file} {reading.json_path(fault.path)}", fault.problem, fault.expected
        ) from None
    except ValidationError as error:
        found = error.errors(include_url=False)[0]
        problem, expected = reading.in_words(found, Answer)
        raise PlanError(f"{file} {reading.json_path(found['loc'])}", problem, expected) from None
