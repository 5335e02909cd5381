"""What each paper says: plain, finished texts; whoever fills one has already chosen units, currency and time zone.

Amounts, figures and times arrive as the words to print, so that a paper says exactly what the screen said.
"""

from __future__ import annotations

from datetime import date
from typing import Literal

from pydantic import BaseModel, ConfigDict


class Form(BaseModel):
    """Common strictness: unknown keys are refused, nothing changes once filled."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Heading(Form):
    """Who hands out the paper, to whom, about which machine."""

    shop: str
    shop_lines: list[str] = []  # address, telephone, tax number
    owner: str
    owner_lines: list[str] = []
    machine: str
    machine_lines: list[str] = []  # identification number, plate, odometer
    number: str  # short number of the visit or of the revision
    printed: date
    invented: bool = False  # demonstration data: said on every page
    head: str = ""  # newest seal of the ledger, so that the paper anchors it
    book: str = ""  # revision of the service book the paper rests on


class PriceLine(Form):
    """One job of an estimate: what it is made of, its sum, and what the owner said."""

    text: str
    why: str = ""
    parts: list[tuple[str, str]] = []  # what, amount
    sum: str
    verdict: str = ""  # "agreed 14:05 by telephone", "declined …", empty: no answer yet


class Estimate(Form):
    """A price, line by line, with room for the owner's yes or no."""

    heading: Heading
    revision: str
    lines: list[PriceLine]
    net: str
    taxes: list[tuple[str, str]]
    total: str
    total_words: str = "Total"
    limit: str = ""  # "do up to … without asking"
    notes: list[str] = []


class CardStep(Form):
    """One step of the job card, in planned order."""

    number: int
    starts: str  # minutes from the start, or the clock
    text: str
    place: str = ""
    job: str = ""  # empty for access steps
    for_: list[str] = []  # the jobs an access step serves
    does: list[str] = []
    figures: list[tuple[str, str, str]] = []  # what, value, source
    cautions: list[str] = []
    waits: str = ""  # "10 min: oil runs out"
    done: str = ""  # "14:20 Kim" when it is


class JobCard(Form):
    """The order of work on paper, with what is to be made ready first."""

    heading: Heading
    attended: str
    finish: str
    proof: str  # "proven shortest" or the gap
    saving: str
    complaint: str = ""
    kit: list[tuple[str, list[str]]] = []  # heading, lines
    steps: list[CardStep]


class SheetLine(Form):
    """One line of the road-test sheet: what to look at, what was found."""

    text: str
    limit: str = ""
    found: str = ""  # empty: a rule to write on


class RoadTest(Form):
    """Before and after the ride."""

    heading: Heading
    cautions: list[str]
    before: list[SheetLine]
    after: list[SheetLine]
    open_for_ride: list[str] = []  # items that only this ride can close
    verdict: str = ""


class Mark(Form):
    """One witness mark: the evidence that closed a fastener."""

    fastener: str
    figure: str
    reached: str  # "clicked at 60 N·m", "61 N·m"
    wrench: str
    who: str
    when: str
    source: str = ""
    proven: bool = True


class Done(Form):
    """One job in the service record."""

    text: str
    state: Literal["done", "not done", "declined", "partly done"]
    words: str = ""
    lines: list[str] = []


class ServiceRecord(Form):
    """What was done, measured and proven; what was not; when to come again."""

    heading: Heading
    arrived: str
    handed_back: str  # empty: not handed back, and the paper says so
    done: list[Done]
    marks: list[Mark]
    readings: list[tuple[str, str, str, str]]  # what, value, limit, verdict in words
    corrections: list[str] = []  # figures proven or corrected during the visit
    left_open: list[str] = []  # overrides, in plain words
    second_looks: list[str] = []
    findings: list[str] = []
    next_due: list[tuple[str, str]] = []
    photos: int = 0


Paper = Estimate | JobCard | RoadTest | ServiceRecord
