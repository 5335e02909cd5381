"""The planning problem: what is to be done, by whom, and what each step needs and changes.

The models below are the whole form; attribute names are the JSON keys. Times are minutes in steps
of 0.1; the solver and its helpers count in whole tenths of a minute (``tenths``), so no sum of
times is ever rounded.
"""

from __future__ import annotations

import math
from functools import cached_property
from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    Strict,
)
from pydantic_core import PydanticCustomError

from witnessmark.frozen import FrozenModel

MOST_MINUTES = 1_000_000  # about two years: no plan of work is longer
MOST_STEP_MINUTES = 100_000  # about ten weeks: no step of work is longer
MOST_STEPS = 10_000
MOST_CONDITIONS = 10_000
MOST_STATES = 50
MOST_NEVER = 100


def tenths(minutes: float) -> int:
    """Minutes as whole tenths of a minute. Example: ``tenths(2.5) == 25``."""
    return round(minutes * 10)


END_OF_TIME = tenths(2 * MOST_MINUTES)  # whatever may be asked is over by then


def problem_error(problem: str, expected: str) -> PydanticCustomError:
    """What is wrong and what would be right, as pydantic carries it."""
    return PydanticCustomError("problem", "{wrong}", {"wrong": problem, "right": expected})


def _whole_tenths(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise problem_error(
            f"{_short(value)} is not a number of minutes", "give minutes as a number such as 2.5"
        )
    if isinstance(value, float) and not math.isfinite(value):
        raise problem_error(f"{value} is not a time", "give minutes as a number such as 2.5")
    if value < 0:
        raise problem_error(f"{value} minutes is less than nothing", "give 0 or more")
    if value > MOST_MINUTES:
        raise problem_error(
            f"{_short(value)} minutes is longer than any plan",
            f"give at most {MOST_MINUTES} minutes",
        )
    if abs(value * 10 - round(value * 10)) > 1e-6:
        raise problem_error(
            f"{value} minutes is finer than a tenth", f"give {round(value * 10) / 10}"
        )
    return round(value * 10) / 10


def _step_minutes(value: float) -> float:
    if value > MOST_STEP_MINUTES:
        raise problem_error(
            f"{value:g} minutes is longer than any step of work",
            f"give at most {MOST_STEP_MINUTES} minutes",
        )
    return value


def _named(value: str) -> str:
    if not value.strip():
        raise problem_error("an empty name", "give a name of at least one letter")
    return value


def _short(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 40 else text[:37] + "..."


Minutes = Annotated[
    float, BeforeValidator(_whole_tenths, json_schema_input_type=float), Field(ge=0)
]
StepMinutes = Annotated[Minutes, AfterValidator(_step_minutes)]
Name = Annotated[str, AfterValidator(_named), Field(max_length=200)]
Count = Annotated[int, Strict(), Field(ge=0, le=10_000)]
Units = Annotated[int, Strict(), Field(ge=1, le=10_000)]
States = Annotated[tuple[Name, ...], Field(min_length=1, max_length=MOST_STATES)]


class Lapse(FrozenModel):
    """A state that does not last: ``after`` minutes after it was reached it becomes ``to``."""

    after: Minutes
    to: Name


class Condition(FrozenModel):
    """Something about the machine that work depends on: states, start, and required finish."""

    states: States
    start: Name
    finish: Name | None = Field(None, description="absent: any state will do")
    lapse: dict[Name, Lapse] = Field(
        {}, description="per state: after how many minutes it becomes which"
    )
    age: Minutes = Field(0.0, description="minutes ago the start state was reached")
    holds: dict[Name, dict[Name, Units]] = Field(
        {}, description="per state: resource units taken while it lasts"
    )
    exposed: tuple[Name, ...] = Field((), description="states that should not be left over night")


class Step(FrozenModel):
    """Work with an attended part (``minutes``), then an unattended part (``unattended``)."""

    name: Name
    minutes: StepMinutes
    unattended: StepMinutes = 0.0
    needs: dict[Name, States] = Field({}, description="allowed states per condition")
    sets: dict[Name, Name] = Field({}, description="new state per condition")
    hands: Count = Field(1, description="different technicians the attended part takes; 0 for none")
    skills: tuple[Name, ...] = Field((), description="each of these technicians has all of these")
    uses: dict[Name, Units] = Field({}, description="resource units from start to over")
    machine: Name | None = Field(None, description="which machine; absent: no one in particular")
    release: Minutes = Field(0.0, description="earliest start")

    @property
    def attended_tenths(self) -> int:
        """Length of the attended part in tenths of a minute."""
        return tenths(self.minutes)

    @property
    def tenths(self) -> int:
        """Length from start to over in tenths of a minute."""
        return tenths(self.minutes) + tenths(self.unattended)

    @property
    def effort_tenths(self) -> int:
        """Hands times attended minutes, in tenths of a minute."""
        return self.hands * tenths(self.minutes)


class Move(Step):
    """An access step: changes conditions and nothing else; done as often as something needs it."""


class Operation(Step):
    """A step of a job: done exactly once."""

    after: tuple[Name, ...] = Field((), description="operations that must be over before")
    job: Name | None = None
    place: Name | None = None


class Technician(FrozenModel):
    """Who works, with which skills (absent: all), in which shifts (absent: always there)."""

    name: Name
    skills: tuple[Name, ...] | None = Field(None, description="absent: able to do everything")
    shifts: tuple[tuple[Minutes, Minutes], ...] | None = Field(
        None, description="list of [from, to]; absent: always"
    )


class Running(FrozenModel):
    """A step already begun: attended minutes and unattended minutes left, and who is at it."""

    name: Name
    minutes: StepMinutes = Field(0.0, description="attended minutes left")
    unattended: StepMinutes = Field(0.0, description="unattended minutes left after them")
    technicians: tuple[Name, ...] = ()


class Now(FrozenModel):
    """The state of the work: minute 0 of the plan is now.

    A condition that a running step is changing is given in the state it had before that step.
    """

    states: dict[Name, Name] = Field(
        {}, description="present state per condition; others: their start"
    )
    ages: dict[Name, Minutes] = Field({}, description="minutes ago the present state was reached")
    done: tuple[Name, ...] = Field((), description="operations that are over")
    running: tuple[Running, ...] = ()


class ProblemData(FrozenModel):
    """A planning problem as data: its names are not checked yet (``Problem`` does)."""

    conditions: Annotated[dict[Name, Condition], Field(max_length=MOST_CONDITIONS)] = {}
    never: tuple[Annotated[dict[Name, States], Field(min_length=1)], ...] = Field(
        (),
        max_length=MOST_NEVER,
        description="combinations of states that may at no instant hold together",
    )
    moves: Annotated[tuple[Move, ...], Field(max_length=MOST_STEPS)] = ()
    operations: Annotated[tuple[Operation, ...], Field(max_length=MOST_STEPS)] = ()
    technicians: Annotated[tuple[Technician, ...], Field(min_length=1, max_length=100)] = (
        Technician(name="A"),
    )
    resources: dict[Name, Count] = Field({}, description="capacities")
    horizon: Minutes | None = Field(None, description="last minute of all")
    due_by: dict[Name, Minutes] = Field({}, description="wished finish per machine")
    change_minutes: Minutes | None = Field(
        None,
        description="minutes a technician takes from leaving one machine to beginning on another, after closing "
        "what was opened there and is exposed; absent: not watched",
    )
    clock: Minutes = Field(0.0, description="minutes of the day gone at minute 0; days end at 1440")
    now: Now | None = Field(None, description="the state of the work; absent: nothing done")

    @property
    def steps(self) -> tuple[Move | Operation, ...]:
        """All moves, then all operations."""
        return self.moves + self.operations

    def step(self, name: str) -> Move | Operation:
        """The move or operation of that name; KeyError where there is none."""
        return self._by_name[name]

    @property
    def begun(self) -> frozenset[str]:
        """Names of the steps that are done or under way."""
        if self.now is None:
            return frozenset()
        return frozenset((*self.now.done, *(running.name for running in self.now.running)))

    @cached_property
    def _by_name(self) -> dict[str, Move | Operation]:
        return {step.name: step for step in self.steps}
