"""The service book: what one machine model is, needs and allows, as written in a TOML document.

Everything is keyed by id, so that a book can extend an archetype by merging key by key. Quantities stay as the
text that was written ("20 Nm"), and are read once, by the property beside it (`Figure.amounts`); loading a book reads
all of them, so that of a book that was loaded none raises. Ids: lower-case letters, digits and
underscores, beginning with a letter; an operation is addressed as ``job/operation``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cached_property
from typing import Annotated, Any, Literal, TypeVar

from pydantic import Field

from witnessmark import units
from witnessmark.book.fields import (
    BookModel,
    Gate,
    Id,
    Language,
    Minutes,
    State,
    Units,
    Words,
    Written,
)
from witnessmark.book.model_figure import ENTRIES, PER_CENT, Bounds, Checked, Confirmed, Figure
from witnessmark.book.model_step import (
    AccessStep,
    FluidUse,
    Job,
    JobHead,
    Operation,
    Service,
    Step,
    in_turn,
)
from witnessmark.fasteners import FastenerKind, Joint, bolt_class, material, read_thread
from witnessmark.units import Quantity

__all__ = [  # the form of a book in one place: figures and work stand in files of their own
    "ENTRIES", "NEVER_AGAIN", "PER_CENT", "AccessStep", "Answer", "Book", "Bounds", "Caution", "Checked", "Circuit",
    "Condition", "Confirmed", "Fastener", "Figure", "Fluid", "FluidUse", "Gate", "Job", "JobHead", "Lapse", "Machine",
    "Never", "Operation", "Part", "Reading", "Renewal", "RenewalKind", "Requirement", "Service", "Shims", "Step",
    "Tool",
]  # fmt: skip


Found = TypeVar("Found")


class Machine(BookModel):
    """Which machine the book is about."""

    maker: Words
    model: Words
    years: str = ""
    text: str = ""


class Lapse(BookModel):
    """A state that becomes another by itself, `after` minutes after it was reached."""

    after: Minutes
    to: State


class Condition(BookModel):
    """Something about the machine that work depends on."""

    text: Words
    states: Annotated[list[State], Field(min_length=2, max_length=12)]
    start: State
    finish: State | None = None  # "as found": the state it came in with
    lapse: dict[State, Lapse] = {}
    holds: dict[State, dict[Id, Units]] = {}
    exposed: list[State] = []
    asked: str = ""  # the question at arrival that sets the start; empty: not asked
    state_words: dict[
        State, str
    ] = {}  # how a state is said to people, where the bare word is not enough


class Never(BookModel):
    """States that may at no instant hold together, and why."""

    when: Annotated[dict[Id, list[State]], Field(min_length=1)]
    because: Words


class Requirement(BookModel):
    """One thing that must be shown before a circuit counts as closed."""

    text: Words
    gate: Gate | None = (
        None  # the first gate it must be closed for; None: by the circuit's `safety`
    )
    ride: bool = False  # only a ride can close it


class Circuit(BookModel):
    """What is opened, drained or moved and must be shown closed: hydraulics, oil fillings, coolant, codes, levers."""

    text: Words
    closed_by: Annotated[dict[Id, Requirement], Field(min_length=1)]
    fluid: Id | None = None
    safety: bool = False
    second_look: bool = False
    trouble_codes: bool = False  # what was read or cleared on the visit opens it, too

    def wanted(self, named: Sequence[str]) -> list[str]:
        """The requirements named; "all" for every one."""
        return [*(self.closed_by if "all" in named else named)]

    def in_words(self, named: Sequence[str]) -> str:
        """Example: ``Front brake: bled, dry under pressure``."""
        return f"{self.text}: {', '.join(self.closed_by[one].text for one in self.wanted(named))}"


class Fastener(BookModel):
    """A group of like fasteners, with the figure that governs them and the grade of evidence that closes them."""

    text: Words
    count: Annotated[int, Field(ge=1, le=60)] = 1
    figure: Id | None = None
    grade: Literal["proven", "by table", "counted"] = "proven"
    sequence: Literal["any", "star", "alternate", "alternate until still", "as numbered"] = "any"
    look_again: Literal["clicks without moving", "stripe", "wire or pin", "not at all"] = "stripe"
    treatment: str = ""  # thread dry, oiled, locking compound …
    safety: bool = False
    second_look: bool = False
    gate: Gate | None = None  # the first gate it must be tight for; None: by its `safety`
    # What tells whether an entered torque can be right; all may be left out.
    kind: FastenerKind = "bolt"
    thread: Written = None  # "M8", "M10x1.25"
    property_class: Written = None  # "8.8"
    screwed_into: Written = None  # "aluminium casting"
    engagement: Written = None  # how deep: "12 mm"
    # In which order it becomes tight, and by what it is seen to be.
    stages: list[Id] = []  # torque figures before `figure`, each for the whole group
    turn: Id | None = None  # an angle, after the torque
    behind: Id | None = None  # fasteners that are tight first: a pinch bolt behind its axle
    secured_by: Literal["stripe", "wire", "pin", "tab", "compound"] | None = None

    @cached_property
    def joint(self) -> Joint | None:
        """What its torque is held against; None where no thread is named."""
        if self.thread is None:
            return None
        thread = read_thread(self.thread)
        named, deep, into = self.property_class, self.engagement, self.screwed_into
        return Joint(
            thread=thread,
            bolt=bolt_class(named, thread.diameter_mm) if named else None,
            into=material(into) if into else None,
            engaged_mm=units.read(deep, "length").value if deep else None,
            kind=self.kind,
            treatment=self.treatment,
        )


RenewalKind = Literal[
    "sealing ring", "gasket", "stretch bolt", "self-locking nut", "split pin", "tab washer",
    "treated screw", "other",
]  # fmt: skip
NEVER_AGAIN: dict[RenewalKind, str] = {  # common practice, no source
    "stretch bolt": "it is stretched past its yield when it is made tight",
    "split pin": "it breaks when it is bent a second time",
}


class Renewal(BookModel):
    """A ring, pin or bolt that is spoiled when disturbed: a new one is fitted, or re-used where the book allows."""

    text: Words
    part: Id
    kind: RenewalKind = "other"
    reuse: bool = False
    safety: bool = False


class Part(BookModel):
    """A part or consumable that work uses."""

    text: Words
    unit: str = "piece"
    consumable: bool = False


class Fluid(BookModel):
    """A fluid that work uses: its family decides what may ever be mixed with it and where it goes when drained."""

    text: Words
    family: Literal[
        "engine oil", "gear oil", "fork oil", "glycol brake fluid", "silicone brake fluid", "mineral clutch oil",
        "coolant", "chain lubricant", "two-stroke oil",
    ]  # fmt: skip
    grade: Id | None = None  # figure (words) with the grade the machine allows
    wet_clutch: bool = False  # the oil also runs in the clutch: it must be rated for that
    waste: str = ""  # where the drained fluid goes


class Tool(BookModel):
    """A tool by name, for the kit."""

    text: Words


class Caution(BookModel):
    """What can hurt someone, and that the maker's manual, local law and licensed practice come first."""

    text: Words


class Reading(BookModel):
    """A value read or seen during a step, with its limits (figure ids) or, for words, the choices."""

    text: Words
    quantity: Quantity
    unit: str = ""  # unit asked for: "mm", "V", "km"; empty for words
    low: Id | None = None  # figures that bound it
    high: Id | None = None
    choices: list[Words] = []  # words: what can be seen
    bad: list[Words] = []  # those of the choices that make a finding
    instrument: str = ""
    resolution: str | None = None  # "0.1 mm"
    error: str | None = None  # how far the instrument may be wrong, beside: "0.03 mm"
    repeat: Annotated[int, Field(ge=1, le=8)] = 1
    again_after: list[Id] = []  # fasteners: read once more when they have been made tight
    gate: Gate | None = None  # the first gate that waits for it; None: by its `safety`
    safety: bool = False  # outside its limits, or not read, the machine is not ridden

    @cached_property
    def uncertain(self) -> float:
        """By how much either way a value may be off, in the base unit: resolution and error of the instrument."""
        said = (one for one in (self.resolution, self.error) if one)
        return sum((units.read_difference(one, self.quantity) for one in said), 0.0)


class Shims(BookModel):
    """Valves whose clearance is set by shims of one kind, and the sizes that are sold of it."""

    text: Words
    found: Id  # reading: the clearance as found, one per valve; its limits are the window
    left: Id  # reading: the clearance measured again
    target: Id | None = None  # figure to aim at; None: the middle of the window
    kind: Words  # what tells these shims from others in the box: "9.48 mm"
    least: Written = None  # sizes sold: "1.20 mm" to "3.50 mm" in steps of "0.025 mm"
    most: Written = None
    step: Written = None


class Answer(BookModel):
    """Why a book breaks one of the trade's rules, and who says so."""

    because: Words
    by: Words


class Book(BookModel):
    """A whole service book after `extends`; cross references are checked by `book.refer`."""

    format: Literal[1]
    name: Id
    title: Words
    invented: bool = False
    archetype: bool = False
    machine: Machine | None = None
    build: dict[Id, dict[Id, Words]] = {}  # slot: the block it has, and the choices inside it
    figures: dict[Id, Figure] = {}
    conditions: dict[Id, Condition] = {}
    never: dict[Id, Never] = {}
    access: dict[Id, AccessStep] = {}
    jobs: dict[Id, Job] = {}
    services: dict[Id, Service] = {}
    fasteners: dict[Id, Fastener] = {}
    circuits: dict[Id, Circuit] = {}
    renewals: dict[Id, Renewal] = {}
    parts: dict[Id, Part] = {}
    fluids: dict[Id, Fluid] = {}
    tools: dict[Id, Tool] = {}
    readings: dict[Id, Reading] = {}
    shims: dict[Id, Shims] = {}
    cautions: dict[Id, Caution] = {}
    answers: dict[Id, Answer] = {}  # rules (`book.rules`) that it breaks, and why
    translations: dict[Language, dict[Words, Words]] = {}  # {"de": {"Rear wheel": "Hinterrad"}}

    def once(self, work_out: Callable[[Book], Found]) -> Found:
        """What a function works out of this book, worked out once: whoever gets it must not change it."""
        if work_out not in self.worked_out:
            self.worked_out[work_out] = work_out(self)
        found: Found = self.worked_out[work_out]
        return found

    @cached_property
    def worked_out(self) -> dict[Callable[[Book], Any], Any]:
        """What `once` keeps; a changed copy begins without it (`FrozenModel`)."""
        return {}

    @cached_property
    def operations_of(self) -> Mapping[str, Mapping[str, Operation]]:
        """By job its operations as ``job/operation``, in an order they can be done."""
        return {
            job: {f"{job}/{name}": one.operations[name] for name in in_turn(job, one.operations)}
            for job, one in self.jobs.items()
        }

    @cached_property
    def steps(self) -> Mapping[str, Step]:
        """Every access step by its id, and every operation as ``job/operation``."""
        every: dict[str, Step] = {**self.access}
        for own in self.operations_of.values():
            every |= own
        return every
