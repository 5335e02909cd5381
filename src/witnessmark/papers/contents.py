"""What each paper says: plain, finished texts; whoever fills one has already chosen units, currency and time zone.

Amounts, figures and times arrive as the words to print, so that a paper says exactly what the screen said.
"""

from __future__ import annotations

from datetime import date
from typing import Literal

from witnessmark.frozen import FrozenModel


class Heading(FrozenModel):
    """Who hands out the paper, to whom, about which machine."""

    shop: str
    shop_lines: list[str] = []  # address, telephone, tax number
    owner: str
    owner_lines: list[str] = []
    machine: str
    machine_lines: list[str] = []  # identification number, plate, odometer
    number: str  # short number of the visit or of the revision
    printed: date
    day: str = ""  # the same day in words
    language: str = "en"  # ISO 639, of all texts
    invented: bool = False  # demonstration data: said on every page
    head: str = ""  # newest seal of the ledger, number and hash: the paper anchors it
    book: str = ""  # the service book by its title


class PriceLine(FrozenModel):
    """One job of an estimate: what it is made of, its sum, and what the owner said."""

    text: str
    why: str = ""
    parts: list[tuple[str, str]] = []  # what, amount
    sum: str
    decided: str = ""  # what readings must tell for it to come to its most
    verdict: str = ""  # "agreed 14:05 by telephone", "declined …", empty: no answer yet


class EstimatePaper(FrozenModel):
    """A price, line by line, with room for the owner's yes or no."""

    heading: Heading
    revision: str
    lines: list[PriceLine]
    net: str
    taxes: list[tuple[str, str]]
    total: str
    total_words: str = "Total"
    least: str = ""  # with tax, where readings decide
    limit: str = ""  # "do up to … without asking"
    notes: list[str] = []


class MoneyLine(FrozenModel):
    """A line of a document of money."""

    text: str
    note: str = ""
    quantity: str = ""  # "5 days at €8.00"; empty: one
    sum: str


class MoneyPaper(FrozenModel):
    """An advance invoice, invoice, credit note or receipt, as it was issued."""

    heading: Heading
    title: str
    facts: list[tuple[str, str]]  # day, when the work was done, until when to pay
    refers: str = ""  # the earlier document that it changes
    lines: list[MoneyLine]
    sums: list[tuple[str, str]]  # up to the total: net, taxes, what is deducted
    total: str
    total_words: str
    after: list[tuple[str, str]] = []  # paid before, left to pay
    notes: list[str] = []
    payment_code: str = ""  # SVG


class CardFigure(FrozenModel):
    """A figure on the job card, large."""

    what: str
    value: str
    also: str = ""  # the same in other units
    source: str


class CardStep(FrozenModel):
    """One card, in planned order, with the access steps that ride along with it."""

    number: int
    starts: str  # from the start of the plan: "1:05"
    text: str
    place: str = ""
    job: str = ""  # whose work it is; of an access step: what it is for
    first: list[str] = []  # access steps done before it
    does: list[str] = []
    figures: list[CardFigure] = []
    says: list[tuple[str, str, str]] = []  # figures in words: what, words, source
    reads: list[tuple[str, str, str]] = []  # what, limit, what was read (empty: a rule to write on)
    cautions: list[str] = []  # letters of the card's cautions
    waits: str = ""  # "then 10 min alone: oil runs out"
    begun: str = ""  # of a wait that runs: "begun 14:05"
    done: str = ""  # "14:20 Kim" when it is
    proven: bool = False  # done, and not left out: it carries the stripe


class OnlyIf(FrozenModel):
    """What another answer of a reading brings: the cards that only it asks for, and the order from there."""

    title: str
    order: str  # numbers of cards, with other access steps than theirs: "4 · 21 (first: wheel off) · 5"
    steps: list[CardStep]


class JobCard(FrozenModel):
    """The order of work on paper, with what is to be made ready first."""

    heading: Heading
    attended: str
    finish: str
    proof: str  # "proven shortest" or the gap
    saving: str = ""
    complaint: str = ""
    cautions: list[tuple[str, str]] = []  # letter, text: each said once
    answers: list[
        tuple[str, str, str]
    ] = []  # rules of the trade the book breaks: what must hold, why not, by whom
    kit: list[tuple[str, list[str]]] = []  # heading, lines
    before: list[CardStep] = []  # what was done under an earlier order, or under none
    steps: list[CardStep]
    only_if: list[OnlyIf] = []


class SheetLine(FrozenModel):
    """One line of the road-test sheet: what to look at, what was found."""

    text: str
    limit: str = ""
    found: str = ""  # empty: a rule to write on


class Section(FrozenModel):
    """A part of the road-test sheet: before a ride, or after it."""

    title: str
    note: str = ""
    lines: list[SheetLine]


class RoadTest(FrozenModel):
    """Before and after the ride."""

    heading: Heading
    cautions: list[str]
    complaint: str = ""
    odometer: str = ""  # as it came in
    odometer_after: str = ""  # read once more since
    sections: list[Section]
    open_for_ride: list[str] = []  # items that only a ride can close
    stops: list[str] = []  # what is open now that must be closed before it is ridden
    verdict: str = ""


class PaperReading(FrozenModel):
    """What was read at one place, its limit, and how it stands to it in words."""

    what: str
    value: str
    limit: str
    verdict: str


class PaperMark(FrozenModel):
    """One witness mark, or several alike: the evidence that closed a group of fasteners."""

    fastener: str
    figure: str
    reached: str  # "clicked at 60 N·m", "61 N·m"
    wrench: str
    who: str
    when: str
    source: str = ""
    proven: bool = True  # in calibration, one by one: it carries the stripe
    note: str = ""  # "tight, wrench unproven"


class Done(FrozenModel):
    """One job in the service record."""

    text: str
    state: Literal["done", "not done", "declined", "partly done", "agreed"]
    words: str = ""
    lines: list[str] = []
    proven: bool = (
        False  # done, and nothing on it rests on a wrench unproven: it carries the stripe
    )


class ServiceRecord(FrozenModel):
    """What was done, measured and proven; what was not; when to come again."""

    heading: Heading
    arrived: str
    handed_back: str  # empty: not handed back, and the paper says so
    facts: list[tuple[str, str]] = []  # complaint, keys, old parts, how it left
    done: list[Done]
    marks: list[PaperMark]
    readings: list[PaperReading]
    codes: list[tuple[str, str]] = []  # trouble codes: when or what became of them, which
    corrections: list[str] = []  # figures proven or corrected during the visit
    left_open: list[str] = []  # let through by name, in plain words
    passed_by: list[str] = []  # gates passed with something open, waits cut short: who, and why
    still_open: list[str] = []  # of a record that is not final
    came_after: list[str] = []  # entries that hand-back did not know of
    second_looks: list[str] = []
    findings: list[str] = []
    next_due: list[tuple[str, str]] = []
    charge: list[tuple[str, str]] = []
    charge_total: str = ""
    photos: int = 0


class Doubtful(FrozenModel):
    """A fastener whose wrench was found wrong."""

    fastener: str
    safety: bool
    figure: str
    likely: str
    words: str  # "too loose"


class CallBack(FrozenModel):
    """A letter to the owner of a machine that was handed back before something was known of it."""

    heading: Heading
    handed_back: str
    ride: str  # whether it may be ridden until then
    why: list[str]  # what came in after hand-back
    fasteners: list[Doubtful] = []
    found: str = ""  # what a check found of the wrench


class SignedOff(FrozenModel):
    """Something that stays as it is, and who signed it off for which reason."""

    text: str
    why: str = ""
    safety: bool = False


class SignedOverride(FrozenModel):
    """What an owner signs before a machine leaves with something open."""

    heading: Heading
    kind: Literal["not to be ridden", "told and declined"]
    items: list[SignedOff]
    signatures: list[list[int]] = []  # pictures as the bytes of JPEGs; none: to be signed on paper


Paper = CallBack | EstimatePaper | JobCard | MoneyPaper | SignedOverride | RoadTest | ServiceRecord
