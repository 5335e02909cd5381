"""Cards: the steps of a visit as the technician sees them at the bench, in the order of the plan.

An access step that gives no evidence of its own is not a card: it stands, with what to do and what to beware of, at
the head of the next card, and closes with it. Any step can still be had as a card of its own.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from django.utils.translation import gettext as _

from witnessmark.book.figures import figure_state, figures_applied, limits
from witnessmark.book.model import Book, Fastener, Operation, Reading, Step
from witnessmark.book.sequence import in_sequence, rounds
from witnessmark.facts import Verdict
from witnessmark.kit.fluids import pour
from witnessmark.ledger import ids
from witnessmark.ledger.bodies import Done
from witnessmark.ledger.ids import StepId
from witnessmark.ledger.state import Finding
from witnessmark.ledger.worked import ReadingState, StepState, Tally, Unread
from witnessmark.planner import PlanStep
from witnessmark.shop.forms import either
from witnessmark.shop.scope import units_in_use
from witnessmark.shop.work.arrival_look import SEEN_AT_ARRIVAL, look_of, seen_in
from witnessmark.shop.work.deciding import why_not_needed
from witnessmark.shop.work.readings import judged
from witnessmark.shop.work.rounds import Proof, in_hand, proofs
from witnessmark.shop.work.visit import Work
from witnessmark.units import Quantity, show


@dataclass(frozen=True)
class FigureShown:
    """A figure as a card shows it. `value` is in base units, None for words, a range or a missing figure."""

    id: str
    words: str
    quantity: Quantity
    state: str  # missing, unproven, proven
    value: float | None = None
    low: float | None = None
    high: float | None = None
    written: str = ""  # as written in the book; all there is of a figure in words
    source: str = ""
    stage: str = ""  # of a fluid: "first", "top up"
    strokes: str = ""  # "3 strokes of 60 ml"

    @property
    def aim(self) -> float | None:
        """What to set a tool to: the value, else the middle of the range; None where there is neither."""
        if self.value is not None or self.low is None or self.high is None:
            return self.value
        return (self.low + self.high) / 2

    @property
    def tolerance(self) -> tuple[float | None, float | None]:
        """The least and the most it allows; None, None where only a value is given."""
        return (None, None) if self.low == self.high else (self.low, self.high)


@dataclass(frozen=True)
class FastenerShown:
    """A group of fasteners this step makes tight."""

    id: str
    fastener: Fastener
    figure: FigureShown | None
    order: tuple[int, ...]
    tight: tuple[int, ...]
    tally: Tally | None = None
    round: int = 0  # now in hand, of `rounds`; 0 where there is but one
    rounds: int = 1
    turn: FigureShown | None = None  # an angle, in place of a torque

    @property
    def made_to(self) -> FigureShown | None:
        """What they are made tight to: torque or angle; None where neither is said."""
        return self.figure or self.turn

    @property
    def each(self) -> bool:
        """Whether each one is proven by itself."""
        return self.fastener.grade == "proven"

    @property
    def left(self) -> tuple[int, ...]:
        """The places still to be made tight, in their order."""
        return tuple(place for place in self.order if place not in self.tight)


@dataclass(frozen=True)
class ReadingShown:
    """A reading this step takes, with its limits in base units and what was read so far."""

    id: str
    reading: Reading
    low: float | None
    high: float | None
    taken: tuple[ReadingState, ...] = ()
    again: bool = False  # what was read before does not count any more
    since: tuple[int, ...] = ()  # which of its repeats were read once more
    verdicts: tuple[Verdict | None, ...] = ()  # of each taken; None for words
    unread: tuple[Unread, ...] = ()  # places that could not be read, and why
    source: str = ""  # of its limits

    def last(self, place: int) -> tuple[ReadingState, Verdict | None] | None:
        """What was read at one place last, and how it stands to its limits; None before."""
        pairs = zip(self.taken, self.verdicts, strict=True)
        return next((pair for pair in reversed(list(pairs)) if pair[0].index == place), None)

    @property
    def left(self) -> tuple[int, ...]:
        """Which of its repeats are still to be read."""
        got = {one.index for one in self.taken} | {one.index for one in self.unread}
        got = set(self.since) if self.again else got
        return tuple(n for n in range(1, self.reading.repeat + 1) if n not in got)


@dataclass(frozen=True)
class AtTheDoor:
    """Something found at the door; `finding`: where it waits for an answer."""

    words: str
    finding: Finding | None = None


@dataclass(frozen=True)
class Card:
    """One step, ready to be shown. What only the card in hand shows is worked out when it is asked for."""

    id: str
    step: Step
    work: Work = field(repr=False, compare=False)
    status: StepState | None = None
    planned: PlanStep | None = field(default=None, repr=False)
    along: tuple[Card, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def job(self) -> str:
        """Its id; empty for an access step."""
        return StepId(self.id).job

    @property
    def job_words(self) -> str:
        """What the job is called."""
        return _job_words(self.work, self.job) if self.job else ""

    @property
    def serves(self) -> tuple[str, ...]:
        """Words of the jobs an access step is for."""
        if self.planned is None or self.job:
            return ()
        return tuple(_jobs_served(self.work.book, self.planned))

    @cached_property
    def at_the_door(self) -> tuple[AtTheDoor, ...]:
        """What was found at the door and is looked at here."""
        wanted = self.step.for_findings if isinstance(self.step, Operation) else []
        return tuple(_at_the_door(self.work, wanted)) if wanted else ()

    @cached_property
    def figures(self) -> tuple[FigureShown, ...]:
        """The figures it works by, but those of its fasteners."""
        return tuple(_figures(self.work.book, self.step))

    @cached_property
    def fasteners(self) -> tuple[FastenerShown, ...]:
        """What it makes tight."""
        return tuple(_fasteners(self))

    @cached_property
    def proofs(self) -> tuple[Proof, ...]:
        """What it shows of groups whole."""
        return proofs(self.work, self.step)

    @cached_property
    def readings(self) -> tuple[ReadingShown, ...]:
        """What is read."""
        return tuple(_readings(self.work, self.id, self.step))

    @property
    def opens(self) -> tuple[str, ...]:
        """What it opens, in words."""
        return tuple(_opens(self.work.book, self.step))

    @property
    def closes(self) -> tuple[str, ...]:
        """What it closes, in words."""
        return tuple(_closes(self.work.book, self.step))

    @property
    def besides(self) -> tuple[str, ...]:
        """What going on confirms besides the fasteners proven one by one, in words; nothing: the step alone."""
        book = self.work.book
        mine = {f for f, one in book.fasteners.items() if one.grade == "proven"}
        return (*_closes(book, self.step, mine), *(one.step.text for one in self.along))

    @cached_property
    def to_tighten(self) -> tuple[FastenerShown, ...]:
        """Its groups that are not tight yet and have a torque or an angle, in their order."""
        return tuple(group for group in self.fasteners if group.left and group.made_to)

    @property
    def cautions(self) -> tuple[str, ...]:
        """What to beware of."""
        return tuple(self.work.book.cautions[name].text for name in self.step.cautions)

    @property
    def over(self) -> bool:
        """Whether nothing is left to do here: one gone on from with a fastener not tight is not over."""
        how = self.status.status if self.status else ""
        return how == "skipped" or (how == "done" and not self.loose)

    @property
    def along_with(self) -> str:
        """The step along with which it was confirmed, in words; empty where it was confirmed itself."""
        last = self.status.entries if self.status else ()
        said = [one.said for one in self.work.entries if one.id in last]
        steps = [one.step for one in said if isinstance(one, Done) and one.step != self.id]
        return self.work.steps[steps[-1]].text if steps and steps[-1] in self.work.steps else ""

    @property
    def stands(self) -> str:
        """How it stands, in a word; empty where nothing was said of it."""
        if self.id in self.work.state.not_needed:
            return "not needed"
        how = self.status.status if self.status else ""
        return "not tight" if how == "done" and self.loose else how

    @property
    def not_needed(self) -> str:
        """Why it is not needed, in words; empty where it is."""
        return why_not_needed(self.work, self.id)

    @property
    def loose(self) -> int:
        """How many fasteners are still to be proven one by one."""
        return self.marks_left + sum(not proof.seen for proof in self.proofs)

    @property
    def not_tight(self) -> tuple[str, ...]:
        """What of them stays open, in words."""
        groups = [group for group in self.fasteners if group.each and group.left]
        marks = (
            _("{what}, {left} of {count}").format(
                what=one.fastener.text, left=len(one.left), count=one.fastener.count
            )
            if one.fastener.count > 1
            else one.fastener.text
            for one in groups
        )
        return (*marks, *(proof.asked for proof in self.proofs if not proof.seen))

    @property
    def marks_left(self) -> int:
        """How many marks the round in hand wants."""
        return sum(len(group.left) for group in self.fasteners if group.each)


def gives_evidence(book: Book, step: Step) -> bool:
    """Whether a step is confirmed by a tap of its own, not along with the next one.

    It leaves a mark: a fastener proven one by one, a reading, a second look, a gate. Or what it closes keeps
    somebody alive: a split pin, a brake that is firm again. Or it waits: that begins and ends by a tap.
    """
    return bool(
        isinstance(step, Operation)
        or step.readings
        or step.unattended
        or step.second_look
        or step.gate
        or any(book.fasteners[name].grade == "proven" for name in step.tightens)
        or any(book.renewals[name].safety for name in step.renews)
        or any(book.circuits[name].safety for name in step.closes)
    )


def cards(work: Work, order: Sequence[PlanStep]) -> list[Card]:
    """What is left of a plan, as cards; access steps without evidence ride along with the next card."""
    made: list[Card] = []
    waiting: list[Card] = []
    for planned in order:
        card = card_of(work, planned.name, planned)
        if card.step.gate and any(
            one.closes for one in waiting
        ):  # closed before the gate is judged
            made.append(_with(waiting[-1], waiting[:-1]))
            waiting = []
        if gives_evidence(work.book, card.step):
            made.append(_with(card, waiting))
            waiting = []
        else:
            waiting.append(card)
    if waiting:  # putting back at the very end: the last one takes the others along
        made.append(_with(waiting[-1], waiting[:-1]))
    return made


def card_of(work: Work, step_id: str, planned: PlanStep | None = None) -> Card:
    """One step as a card by itself. Raises KeyError for a step the book does not have."""
    return Card(step_id, work.steps[step_id], work, work.state.steps.get(step_id), planned)


def ahead(book: Book, group: FastenerShown) -> Iterator[FastenerShown]:
    """The round in hand and those after it, of which nobody is through yet."""
    yield group
    for k in range(group.round + 1, group.rounds + 1) if group.round else ():
        figure = figure_shown(book, rounds(group.fastener)[k - 1])
        turns = figure.quantity == "angle"
        yield replace(
            group,
            round=k,
            tight=(),
            figure=None if turns else figure,
            turn=figure if turns else None,
        )


def not_ready(work: Work, card: Card) -> list[str]:
    """Why this card does not fit how the machine stands now, in words; what rides along is counted as done."""
    states = dict(work.state.states)
    for before in card.along:
        states |= before.step.sets
    return [
        *_needs_unmet(work.book, card.step, states),
        *_not_yet_over(work, card),
        *_still_waiting(work, card),
    ]


def _still_waiting(work: Work, card: Card) -> Iterator[str]:
    """Waits that change what this card needs or changes: what they lead to is not there before they are over."""
    touched = {name for one in (*card.along, card) for name in (*one.step.needs, *one.step.sets)}
    for name, state in work.state.steps.items():
        if state.status == "waiting" and name != card.id and name in work.steps:
            step = work.steps[name]
            if touched & step.sets.keys():
                said = _("“{step}” still waits: {what}")
                yield said.format(step=step.text, what=step.waits_for or _("by itself"))


def figure_shown(book: Book, name: str, words: str = "") -> FigureShown:
    """A figure of the book as cards and papers show it."""
    figure = book.figures[name]
    return FigureShown(
        id=name,
        words=words or figure.text,
        quantity=figure.quantity,
        state=figure_state(figure),
        value=figure.in_base("value"),
        low=figure.bounds.low,
        high=figure.bounds.high,
        written=figure.value or figure.written,
        source=figure.source or "",
    )


def torque_words(groups: Sequence[FastenerShown]) -> str:
    """What the first of these groups is made tight to in a few words, in the units now chosen; empty for none."""
    figure = groups[0].made_to if groups else None
    if figure is None:
        return ""
    if figure.aim is None:
        return figure.written or _("figure missing")
    return show(figure.aim, figure.quantity, units_in_use.get())  # type: ignore[arg-type]


def in_words(book: Book, condition: str, state: str) -> str:
    """A state as people say it: "rear wheel: off"."""
    named = book.conditions[condition]
    return f"{named.text}: {named.state_words.get(state, state)}"


# ---------------------------------------------------------------- parts of a card


def _with(card: Card, along: list[Card]) -> Card:
    return replace(card, along=tuple(along))


def _at_the_door(work: Work, wanted: Sequence[str]) -> Iterator[AtTheDoor]:
    waits = {one.text: one for one in work.state.findings if not one.settled}
    for one in seen_in(look_of(work)):
        if {*one.names} & {*wanted}:
            yield AtTheDoor(one.words, waits.get(SEEN_AT_ARRIVAL.format(words=one.kept)))


def _job_words(work: Work, job: str) -> str:
    """Beyond the book a step says by itself what it is for."""
    if job in work.book.jobs:
        return work.book.jobs[job].text
    return work.jobs[job].why or (
        _("own line") if job in work.state.lines else _("not in the service book")
    )


def _jobs_served(book: Book, planned: PlanStep) -> Iterable[str]:
    jobs = dict.fromkeys(StepId(name).job for name in planned.for_)
    return [book.jobs[job].text for job in jobs if job in book.jobs]


def _figures(book: Book, step: Step) -> Iterator[FigureShown]:
    fastened = {figure for name in step.tightens for figure in rounds(book.fasteners[name])}
    poured = {use.figure for use in step.fluids.values()}
    for fluid, use in step.fluids.items():
        said = pour(book, "", 0, use)
        shown = figure_shown(book, use.figure, book.fluids[fluid].text)
        strokes = said.strokes.words if said.strokes else ""
        stage = "" if use.stage == "all" else use.stage
        value = shown.value if said.volume_ml is None else said.volume_ml
        source = shown.source
        if stage and value != shown.value:  # no manual says this: it is a part of what one says
            source = _("computed from {whole}").format(whole=shown.written)
            source += f", {shown.source}" if shown.source else ""
        own = {"value": value, "stage": stage, "strokes": strokes, "source": source}
        yield FigureShown(**{**shown.__dict__, **own})
    for name in dict.fromkeys(figures_applied(book, step)):
        if name not in fastened | poured:
            yield figure_shown(book, name)


def _fasteners(card: Card) -> Iterator[FastenerShown]:
    work, step = card.work, card.step
    for name in step.tightens:
        fastener = work.book.fasteners[name]
        tally = work.state.tallies.get(name)
        now = in_hand(fastener, tally)
        figure = figure_shown(work.book, now.figure) if now.figure else None
        turns = figure is not None and figure.quantity == "angle"
        yield FastenerShown(
            id=name,
            fastener=fastener,
            figure=None if turns else figure,
            order=in_sequence(fastener),
            tight=_tight_here(card, name, tally, now.through),
            tally=tally,
            round=now.round,
            rounds=now.rounds,
            turn=figure if turns else None,
        )


def _tight_here(
    card: Card, name: str, tally: Tally | None, through: tuple[int, ...]
) -> tuple[int, ...]:
    """Those a step need not make tight: one that loosens them itself counts what was made tight on its card alone."""
    done = card.status is not None and card.status.status == "done"
    if tally is None or done or name not in card.step.loosens:
        return through
    marks = {mark.entry: mark.index for mark in tally.marks}
    here = {
        marks[entry.id]
        for entry in card.work.entries
        if entry.id in marks and getattr(entry.said, "step", None) == card.id
    }
    return tuple(place for place in through if place in here)


def _readings(work: Work, step_id: str, step: Step) -> Iterator[ReadingShown]:
    for name in step.readings:
        reading = work.book.readings[name]
        low, high = limits(work.book, reading) if reading.quantity != "words" else (None, None)
        taken = tuple(
            one for one in work.state.readings if (one.reading, one.step) == (name, step_id)
        )
        verdicts = tuple(judged(work.book, name, one.value) for one in taken)
        unread = tuple(
            one for one in work.state.unread if (one.reading, one.step) == (name, step_id)
        )
        status = work.state.steps.get(step_id)
        again = bool(reading.again_after) and ids.reading(step_id, name) in work.state.items
        since: tuple[int, ...] = ()
        if status is not None and status.status == "again":
            again, since = True, _read_since(work, status, taken)
        figure = work.book.figures.get(reading.low or reading.high or "")
        source = figure.source or "" if figure else ""
        yield ReadingShown(name, reading, low, high, taken, again, since, verdicts, unread, source)


def _read_since(work: Work, status: StepState, taken: Sequence[ReadingState]) -> tuple[int, ...]:
    """The repeats read after a step was done last."""
    place = {line.entry: n for n, line in enumerate(work.state.history)}
    last = max(place[entry] for entry in status.entries)
    return tuple(one.index for one in taken if place[one.entry] > last)


def _opens(book: Book, step: Step) -> Iterator[str]:
    loosened = _("{fastener} loosened")
    disturbed = _("{part} disturbed")
    yield from (loosened.format(fastener=book.fasteners[name].text) for name in step.loosens)
    yield from (book.circuits[name].text for name in step.opens)
    yield from (disturbed.format(part=book.renewals[name].text) for name in step.disturbs)


def _closes(book: Book, step: Step, but: Collection[str] = ()) -> Iterator[str]:
    tight, renewed = _("{fastener} tight"), _("{part} renewed")
    made = (name for name in step.tightens if name not in but)
    yield from (tight.format(fastener=book.fasteners[name].text) for name in made)
    for name, asked in step.closes.items():
        yield book.circuits[name].in_words(asked)
    yield from (renewed.format(part=book.renewals[name].text) for name in step.renews)


def _needs_unmet(book: Book, step: Step, states: dict[str, str]) -> Iterator[str]:
    for condition, allowed in step.needs.items():
        now = states.get(condition, book.conditions[condition].start)
        if now not in allowed:
            named = book.conditions[condition]
            wanted = either([named.state_words.get(state, state) for state in allowed])
            yield _("{state}; this needs {wanted}").format(
                state=in_words(book, condition, now), wanted=wanted
            )


def _not_yet_over(work: Work, card: Card) -> Iterator[str]:
    if not isinstance(card.step, Operation):
        return
    over = work.state.over
    for name in card.step.after:
        full = name if "/" in name else f"{card.job}/{name}"
        if StepId(full).job in work.state.taken and full not in over:
            yield _("comes after “{step}”, which is not done").format(step=work.steps[full].text)
