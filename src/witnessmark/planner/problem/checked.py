"""The planning problem, checked: what is to be done, by whom, and what each step needs and changes."""

from __future__ import annotations

from typing import Any, TypeVar

from pydantic import ValidationError, model_validator
from pydantic_core import PydanticCustomError

from witnessmark.errors import WitnessError
from witnessmark.planner.problem import reading
from witnessmark.planner.problem.model import MOST_MINUTES, ProblemData, problem_error
from witnessmark.planner.problem.references import ReferenceFault, first_fault

Form = TypeVar("Form", bound=ProblemData)


class ProblemError(WitnessError):
    """A planning problem that cannot be used: where (file, JSON path), what is wrong, what is right."""


class Problem(ProblemData):
    """A whole planning problem, checked: every name it uses is declared."""

    @model_validator(mode="after")
    def _names_are_declared(self) -> Problem:
        refuse(first_fault(self))
        refuse_too_long(self)
        return self

    def start_age(self, condition: str) -> float:
        """How many minutes ago that state was reached: a state that ``now`` gives anew, just now."""
        if self.now is not None and condition in self.now.ages:
            return self.now.ages[condition]
        moved = self.start_state(condition) != self.conditions[condition].start
        return 0.0 if moved else self.conditions[condition].age

    def start_state(self, condition: str) -> str:
        """The state at minute 0: what ``now`` says, else ``start``."""
        if self.now is not None and condition in self.now.states:
            return self.now.states[condition]
        return self.conditions[condition].start


def refuse(fault: ReferenceFault | None) -> None:
    """Raise what pydantic carries on, where there is a fault."""
    if fault is not None:
        context = {"path": fault.path, "wrong": fault.violation, "right": fault.expected}
        raise PydanticCustomError("problem", "{wrong}; {right}", context)


def refuse_too_long(problem: ProblemData) -> None:
    """Raise where the work could not be over within the longest plan there is."""
    longest = _longest(problem)
    if longest > MOST_MINUTES:
        violation = f"releases, shifts, lapses and all the work come to {longest:.0f} minutes"
        raise problem_error(violation, f"give a problem that is over within {MOST_MINUTES} minutes")


def _longest(problem: ProblemData) -> float:
    """Minutes to the latest beginning asked for, then of everything one after another."""
    shifts = [shift[0] for t in problem.technicians for shift in t.shifts or ()]
    begins = max([*shifts, *(step.release for step in problem.steps)], default=0.0)
    lapses = sum(lapse.after for c in problem.conditions.values() for lapse in c.lapse.values())
    return begins + lapses + sum(step.minutes + step.unattended for step in problem.steps)


def load_problem(text: str, *, file: str = "problem") -> Problem:
    """Read a problem from JSON text; ``file`` names it in an error.

    Raises ProblemError with the file and the JSON path, what is wrong and what would be right.
    """
    return problem_from(data_in(text, file=file), file=file)


def problem_from(data: Any, *, file: str = "problem") -> Problem:
    """The problem that plain data describes. Raises ProblemError, as ``load_problem`` does."""
    return checked_as(Problem, data, file=file)


def data_in(text: str, *, file: str) -> Any:
    """The plain data of JSON text. Raises ProblemError, as ``load_problem`` does."""
    try:
        return reading.read_json(text)
    except reading.UnreadableError as fault:
        raise ProblemError(_place(file, fault.path), fault.problem, fault.expected) from None


def checked_as(form: type[Form], data: Any, *, file: str) -> Form:
    """Plain data as this form of a problem. Raises ProblemError, as ``load_problem`` does."""
    try:
        return form.model_validate(data)
    except ValidationError as error:
        fault = _first_of(error, form)
        raise ProblemError(_place(file, fault.path), fault.violation, fault.expected) from None


def problem_schema() -> dict[str, Any]:
    """The form as JSON Schema (draft 2020-12)."""
    return Problem.model_json_schema()


def _place(file: str, path: tuple[str | int, ...]) -> str:
    return f"{file} {reading.json_path(path)}"


def _first_of(error: ValidationError, form: type[ProblemData]) -> ReferenceFault:
    """The first thing pydantic found, in our words."""
    found = error.errors(include_url=False)[0]
    context = found.get("ctx", {})
    path = tuple(part for part in found["loc"] if part != "[key]") + tuple(context.get("path", ()))
    if found["type"] == "problem":
        return ReferenceFault(path, context["wrong"], context["right"])
    violation, expected = reading.in_words(found, form)
    return ReferenceFault(path, violation, expected)
