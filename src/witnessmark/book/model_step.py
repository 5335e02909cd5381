"""Work as a book has it: steps on the way and operations, the jobs and services they make up."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Annotated, Literal

from pydantic import Field

from witnessmark import units
from witnessmark.book.fields import Assured, AtTheDoor, BookModel, Gate, Id, Minutes, State, Words


class FluidUse(BookModel):
    """How much of a fluid a step puts in: a figure, whole or as one stage of a staged fill."""

    figure: Id  # volume of the whole filling
    stage: Literal["all", "first", "top up"] = "all"
    hold_back: str | None = None  # volume kept for the top up: "1 L"
    syringe: str | None = None  # volume of the syringe where one is used: "60 ml"

    @cached_property
    def hold_back_ml(self) -> float | None:
        """What is held back, in mL."""
        return None if self.hold_back is None else units.read(self.hold_back, "volume").value

    @cached_property
    def syringe_ml(self) -> float | None:
        """The syringe, in mL."""
        return units.read(self.syringe, "volume").value if self.syringe else None


class Step(BookModel):
    """What access steps and operations have in common."""

    text: Words
    minutes: Minutes
    unattended: Minutes = 0
    waits_for: str = ""  # what the unattended part is: "oil runs out"
    shown_by_waiting: bool = False  # what it closes is shown when the unattended part is over
    hands: Annotated[int, Field(ge=0, le=6)] = 1
    skills: list[Id] = []
    needs: dict[Id, list[State]] = {}
    sets: dict[Id, State] = {}
    place: str = ""  # where at the machine: "rear, right side"
    does: list[Words] = []  # what to do, line by line
    figures: list[Id] = []  # shown on the card besides those of fasteners and fluids
    tools: list[Id] = []
    parts: dict[Id, Annotated[float, Field(gt=0, le=1000)]] = {}
    fluids: dict[Id, FluidUse] = {}
    loosens: list[Id] = []  # fasteners
    snugs: list[Id] = []  # seated, not yet made tight: stays open
    tightens: list[Id] = []
    opens: dict[Id, list[Id]] = {}  # circuit -> requirements opened; ["all"] for every one
    closes: dict[Id, list[Id]] = {}  # circuit -> requirements closed
    disturbs: list[Id] = []  # renewals
    renews: list[Id] = []
    readings: list[Id] = []
    shims: list[Id] = []  # worked out and changed here
    cautions: list[Id] = []
    gate: Gate | None = None  # the gate that must pass before this step
    second_look: bool = False
    assures: list[Assured] = []  # what its words see to


class AccessStep(Step):
    """Work that changes a condition and nothing else; done only when something needs it."""

    sets: Annotated[dict[Id, State], Field(min_length=1)]


# How likely something is: an invented prior, until the shop has counted its own.
Likely = Annotated[float, Field(ge=0, le=1)]


class OnlyIf(BookModel):
    """The reading that decides: outside its own limits (``false``: within them), below or above one figure."""

    reading: Id
    or_reading: list[Id] = []  # others, of which one will do
    outside: bool | None = None
    below: Id | None = None  # figures
    above: Id | None = None

    @property
    def each(self) -> list[OnlyIf]:
        """The same of one reading each: one of them will do."""
        return [
            self.model_copy(update={"reading": reading, "or_reading": []})
            for reading in (self.reading, *self.or_reading)
        ]


class Operation(Step):
    """The smallest unit of work of a job."""

    after: list[
        str
    ] = []  # "operation" of the same job, or "job/operation"; of a job not taken on: left out
    only_if: OnlyIf | None = None  # done only where this was read; absent: always
    likely: Likely | None = None  # how likely the reading of `only_if` is so
    always_with: list[Id] = []  # jobs with which it is done whatever was read
    for_findings: list[AtTheDoor] = []  # what was found at the door and is looked at or mended here


class JobHead(BookModel):
    """What is said of a job besides its work."""

    text: Words
    why: str = ""  # what it is for, in words for the owner
    every_distance: Id | None = None  # figures (quantity distance, duration)
    every_time: Id | None = None
    early: list[
        Id
    ] = []  # readings that make it due when they are outside their limits: it puts them right
    likely: Likely | None = None  # how likely the readings of `early` bring it, where it is not due
    after_test: list[
        Id
    ] = []  # jobs that tell whether it is wanted: where nothing is known, they are due
    disposal: list[Id] = []  # fluids drained: charged for disposal, written into the waste log
    brings: list[Id] = []  # other jobs that must be taken on with it
    once: list[Id] = []  # what it was called before: what is known of a job of that name counts


class Job(JobHead):
    """What the owner pays for."""

    also_called: list[Words] = []  # it is found by these, too, in any language; nothing prints them
    operations: Annotated[dict[Id, Operation], Field(min_length=1)]


class Service(BookModel):
    """A named selection of jobs, such as the annual service."""

    text: Words
    jobs: Annotated[list[Id], Field(min_length=1)]


def before(job: str, name: str) -> str:
    """The full name ``job/operation`` of what an operation of `job` names under `after`."""
    return name if "/" in name else f"{job}/{name}"


def in_turn(job: str, own: Mapping[str, Operation]) -> list[str]:
    """The operations of one job, each behind those of the job it comes `after`."""
    turn: dict[str, None] = {}
    pending = [(name, False) for name in reversed([*own])]
    seen: set[str] = set()
    while pending:
        name, ready = pending.pop()
        if ready:
            turn.setdefault(name)
        elif name not in seen:
            seen.add(name)
            pending.append((name, True))
            earlier = [before(job, other).partition("/") for other in own[name].after]
            pending += [(last, False) for first, _, last in earlier if first == job and last in own]
    return list(turn)
