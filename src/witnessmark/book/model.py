"""The service book: what one machine model is, needs and allows, as written in a TOML document.

Everything is keyed by id, so that a book can extend an archetype by merging key by key. Quantities stay as the
text that was written ("20 Nm"), and are read once, by the property beside it (`Figure.amounts`); loading a book reads
all of them, so that of a book that was loaded none raises. Ids: lower-case letters, digits and
underscores, beginning with a letter; an operation is addressed as ``job/operation``.
"""

from __future__ import annotations

import re
from datetime import date
from functools import cached_property
from typing import Annotated, Literal, NamedTuple

from pydantic import Field

from witnessmark import units
from witnessmark.book.fields import (
    Assured,
    AtTheDoor,
    BookModel,
    Id,
    Language,
    Minutes,
    State,
    Units,
    Words,
    Written,
)
from witnessmark.fasteners import FastenerKind, Joint, bolt_class, material, read_thread
from witnessmark.units import Amount, Quantity

Gate = Literal["starter", "wheels on the ground", "road test", "hand-back"]


class Machine(BookModel):
    """Which machine the book is about."""

    maker: Words
    model: Words
    years: str = ""
    text: str = ""


class Checked(BookModel):
    """Who compared a figure with its source, and on which day."""

    by: Words
    on: date


class Confirmed(Checked):
    """A second pair of eyes compared a figure with its source; it speaks of the figure as it was then."""

    of: Words  # `Figure.written`


class Bounds(NamedTuple):
    """The least and the most a figure allows, in the base unit of its quantity; None: no limit."""

    low: float | None
    high: float | None


ENTRIES = ("value", "low", "high")  # of a figure: each a quantity by itself
PER_CENT = re.compile(r"(\d{1,3}(?:[.,]\d+)?)\s*%")


class Figure(BookModel):
    """One quantity of a machine: *missing* without a value, *unproven* with a value but without a source."""

    text: Words
    quantity: Quantity
    value: Written = None  # as written, with its unit: "20 Nm", "24 months", "SAE 80W-90" (words)
    low: Written = None  # a range: both ends, in place of or around the value
    high: Written = None
    tolerance: Written = None  # "2 Nm" or "10 %", either side of the value
    source: Written = None  # document and page
    sent_by: Written = None  # the shop it came from: unproven here until somebody looks it up
    checked: Checked | None = None
    note: str = ""
    vouched: Written = None  # looks wrong for what it is, and is right: somebody's word why
    photo: Written = None  # SHA-256 of a photo of the page, kept by the shop
    entered: Checked | None = None  # who typed it, and when
    confirmed: Confirmed | None = None  # by somebody else than who typed it

    @property
    def written(self) -> str:
        """The value as the document has it, with its tolerance or range; empty where it is missing."""
        ends = f"{self.low or '…'} to {self.high or '…'}" if self.low or self.high else ""
        if self.value is None:
            return ends
        spread = f" ± {self.tolerance}" if self.tolerance else ""
        return self.value + (f" ({ends})" if ends else spread)

    @property
    def seen_twice(self) -> Confirmed | None:
        """The confirmation, where it speaks of the figure as it is written now."""
        one = self.confirmed
        return one if one is not None and one.of == self.written else None

    @cached_property
    def amounts(self) -> dict[str, Amount]:
        """Those of `ENTRIES` that are given, read; empty for words. Raises QuantityError."""
        if self.quantity == "words":
            return {}
        given = {key: getattr(self, key) for key in ENTRIES}
        return {key: units.read(text, self.quantity) for key, text in given.items() if text}

    def in_base(self, *keys: str) -> float | None:
        """The first of those entries that is given, in the base unit; None where none is, and for words."""
        return next((self.amounts[key].value for key in keys if key in self.amounts), None)

    @cached_property
    def spread(self) -> float | None:
        """The tolerance either side of the value, in the base unit; None where none is given."""
        value = self.in_base("value")
        if self.tolerance is None or value is None:
            return None
        if share := PER_CENT.fullmatch(self.tolerance):
            return value * float(share[1].replace(",", ".")) / 100
        return units.read_difference(self.tolerance, self.quantity)

    @cached_property
    def bounds(self) -> Bounds:
        """What it allows: its ends, else its value less and plus the tolerance, else the value."""
        low, value, high = (self.in_base(key) for key in ("low", "value", "high"))
        if low is None and high is None and value is not None:
            return Bounds(value - (self.spread or 0.0), value + (self.spread or 0.0))
        return Bounds(low, high)


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
    repeat: Annotated[int, Field(ge=1, le=8)] = 1
    again_after: list[Id] = []  # fasteners: read once more when they have been made tight
    gate: Gate | None = None  # the first gate that waits for it; None: by its `safety`
    safety: bool = False  # outside its limits, or not read, the machine is not ridden

    @cached_property
    def finest(self) -> float:
        """The resolution asked of the instrument, in the base unit; 0 where none is."""
        return units.read_difference(self.resolution, self.quantity) if self.resolution else 0.0


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


Likely = Annotated[
    float, Field(ge=0, le=1)
]  # an invented prior, until the shop has counted its own


class OnlyIf(BookModel):
    """The reading that decides: outside its own limits (``false``: within them), below or above one figure."""

    reading: Id
    outside: bool | None = None
    below: Id | None = None  # figures
    above: Id | None = None


class Operation(Step):
    """The smallest unit of work of a job."""

    after: list[
        str
    ] = []  # "operation" of the same job, or "job/operation"; of a job not taken on: left out
    only_if: OnlyIf | None = None  # done only where this was read; absent: always
    likely: Likely | None = None  # how likely the reading of `only_if` is so
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
    likely: Likely | None = None  # how likely these readings bring it, where it is not due
    after_test: list[
        Id
    ] = []  # jobs that tell whether it is wanted: where nothing is known, they are due
    disposal: list[Id] = []  # fluids drained: charged for disposal, written into the waste log
    brings: list[Id] = []  # other jobs that must be taken on with it


class Job(JobHead):
    """What the owner pays for."""

    operations: Annotated[dict[Id, Operation], Field(min_length=1)]


class Service(BookModel):
    """A named selection of jobs, such as the annual service."""

    text: Words
    jobs: Annotated[list[Id], Field(min_length=1)]


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
