"""The job card: the order now followed, what must lie ready for it, and what is done of it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from string import ascii_uppercase

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from witnessmark import units
from witnessmark.book.model import Step
from witnessmark.book.rules import RULES, answered
from witnessmark.kit import FluidNeed, PartNeed, WrenchNeed
from witnessmark.ledger.bodies import Done
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.ids import StepId
from witnessmark.papers import JobCard
from witnessmark.papers.contents import CardFigure, CardStep, OnlyIf
from witnessmark.planner import Answer
from witnessmark.shop.work import beyond_book
from witnessmark.shop.work.branches import OffTheWay, off_the_way, to_come, tree_shown
from witnessmark.shop.work.cards import (
    Card,
    FastenerShown,
    FigureShown,
    ReadingShown,
    ahead,
    card_of,
    cards,
)
from witnessmark.shop.work.deciding import why_not_needed
from witnessmark.shop.work.paperwork.language_and_heading import NoPaperError, Pen, complaint_answer
from witnessmark.shop.work.paperwork.marks import all_proven
from witnessmark.shop.work.paperwork.waited import begun_at
from witnessmark.shop.work.perhaps import LaidOut
from witnessmark.shop.work.planned import Planned
from witnessmark.shop.work.planning import taken
from witnessmark.shop.work.pricing import laid_out
from witnessmark.shop.work.visit import Work

CardLine = tuple[str, str, str]
NOTHING = Answer(status="optimal", finish_minutes=0, attended_minutes=0)  # no plan at all


def job_card(pen: Pen) -> JobCard:
    """The card of the plan that was taken, of what was done before it, and of all that goes beyond the book.

    Raises NoPaperError where there is none of these.
    """
    followed, own = taken(pen.work), beyond_book.every(pen.work)
    before, over = _confirmed(pen.work)
    if followed is None and not own and not before:
        raise NoPaperError(noop("no order of work was taken"))
    answer = followed.answer if followed else NOTHING
    beyond_it = sum(card.step.minutes for card in own)
    order = [*cards(pen.work, answer.steps), *own]
    done = [_card_done(pen.work, said) for said in before]
    ways = [(way, cards(pen.work, way.steps)) for way in off_the_way(pen.work, followed)]
    letters = _letters([*done, *order, *(card for _way, found in ways for card in found)])
    return JobCard(
        heading=pen.heading(),
        attended=hours((answer.attended_minutes or 0) + beyond_it),
        finish=hours((answer.finish_minutes or 0) + beyond_it),
        proof=_proof(pen, followed) if followed else _("none was computed"),
        complaint=_complaint(pen),
        kit=_kit(pen, laid_out(pen.work, followed.every_step if followed else answer)),
        cautions=[(letter, text) for text, letter in letters.items()],
        answers=_answers(pen, followed.jobs if followed else ()),
        before=[
            _step(pen, number, card, {card.id: [entry]}, letters)
            for number, (card, entry) in enumerate(zip(done, before, strict=True), 1)
        ],
        steps=[
            _step(pen, number, card, over, letters)
            for number, card in enumerate(order, len(done) + 1)
        ],
        only_if=list(_only_if(pen, ways, order, len(done), letters)),
    )


def _only_if(
    pen: Pen,
    ways: Sequence[tuple[OffTheWay, list[Card]]],
    order: Sequence[Card],
    before: int,
    letters: dict[str, str],
) -> Iterator[OnlyIf]:
    """The ways by other answers that bring cards which are not printed yet, each with its order."""
    known = {card.id: (number, card) for number, card in enumerate(order, before + 1)}
    following = before + len(order) + 1
    for way, found in ways:
        new = [card for card in found if card.id not in known]
        if not new:
            continue
        known |= {card.id: (number, card) for number, card in enumerate(new, following)}
        yield OnlyIf(
            title=_("Only if {answer} ({chance})").format(answer=way.answer, chance=way.chance),
            order=" · ".join(_named(card, *known[card.id]) for card in found),
            steps=[
                _step(pen, number, card, defaultdict(list), letters)
                for number, card in enumerate(new, following)
            ],
        )
        following += len(new)


def _named(card: Card, number: int, printed: Card) -> str:
    """The number of a card; with its access steps where they are others than those printed on it."""
    along = [one.step.text for one in card.along]
    if not along or along == [one.step.text for one in printed.along]:
        return str(number)
    return _("{number} (first: {steps})").format(number=number, steps=", ".join(along))


def _complaint(pen: Pen) -> str:
    said = pen.work.state.complaint
    if said is None:
        return ""
    return f"“{said.words}”: {complaint_answer(pen)}" if said.answer else said.words


def _answers(pen: Pen, jobs: Sequence[str]) -> list[CardLine]:
    """The rules of the trade that the book breaks in this work, with its reasons."""
    book = pen.work.pinned
    found = answered(book, [job for job in jobs if job in book.jobs])
    return [(_(RULES[name].holds), pen.of_book(one.because), one.by) for name, one in found.items()]


def hours(minutes: float) -> str:
    """Example: ``2 h 05``, ``48 min``."""
    whole = round(minutes)
    return f"{whole // 60} h {whole % 60:02d}" if whole >= 60 else f"{whole} min"


def limit_of(pen: Pen, shown: ReadingShown) -> str:
    """What a reading is held against, in words."""
    reading = shown.reading
    if reading.quantity == "words":
        return " / ".join(pen.of_book(one) for one in reading.choices)
    return pen.between(shown.low, shown.high, reading.quantity, reading.unit)


def read_of(pen: Pen, shown: ReadingShown, place: int) -> str:
    """What was read there last, in words; nothing where it was not."""
    one = next((one for one in reversed(shown.taken) if one.index == place), None)
    if one is None:
        return ""
    if one.value is None:
        return pen.of_book(one.words or "") or one.text
    return pen.quantity(one.value, shown.reading.quantity, shown.reading.unit)


# ---------------------------------------------------------------- parts


def _proof(pen: Pen, followed: Planned) -> str:
    answer = followed.answer
    if shown := tree_shown(pen.work, followed):
        said = _("readings decide: {expected} of labour expected, least {least}, most {most}")
        return said.format(expected=shown.expected, least=shown.least, most=shown.most)
    if answer.status == "optimal":
        return _("proven: none is shorter")
    shortest = hours(answer.finish_bound or 0)
    return _("best found; none is shorter than {shortest}").format(shortest=shortest)


def _kit(pen: Pen, needed: LaidOut) -> list[tuple[str, list[str]]]:
    parts = [_part(pen, part) for part in needed.parts]
    every = [
        (_("Get first"), [missing.words for missing in needed.missing]),
        (_("Parts"), parts),
        (_("Perhaps needed"), [f"{one.text}: {one.chance}" for one in needed.perhaps]),
        (_("Fluids"), [_fluid(pen, need) for need in needed.fluids]),
        (_("Tools"), [tool.text for tool in needed.tools]),
        (_("Wrenches"), [_wrench(need) for need in needed.wrenches]),
    ]
    return [(title, lines) for title, lines in every if lines]


def _part(pen: Pen, need: PartNeed) -> str:
    """Example: ``Sealing ring, drain plug × 2``, ``Brake cleaner, 0.8 can``."""
    many = pen.number(f"{need.quantity:g}")
    if need.unit != "piece":
        return f"{need.text}, {many} {need.unit}"
    return need.text if need.quantity == 1 else f"{need.text} × {many}"


def _wrench(need: WrenchNeed) -> str:
    """Example: ``Large click wrench: 60 N·m wheel bolt; 25 N·m drain plug``."""
    return f"{need.name}: " + "; ".join(
        f"{text} {', '.join(names)}" for text, names in need.settings
    )


def _fluid(pen: Pen, need: FluidNeed) -> str:
    """Example: ``Engine oil, 4.5 L (SAE 15W-50): 3.5 L first, then 1 L; open 1 × 4 L, 1 × 1 L``."""
    unknown = _("how much is not known")
    volume = pen.quantity(need.volume_ml, "volume") if need.volume_ml else unknown
    said = f"{need.text}, {volume}" + (f" ({need.grade})" if need.grade else "")
    first, later = _("{volume} first"), _("{volume} to top up")
    how = [
        (first if pour.stage == "first" else later).format(
            volume=pen.quantity(pour.volume_ml, "volume")
        )
        for pour in need.pours
        if pour.stage != "all" and pour.volume_ml is not None
    ]
    how += [pour.strokes.words for pour in need.pours if pour.strokes]
    if need.packs:
        opened = [f"{p.count} × {units.show(p.pack.size_ml, 'volume')}" for p in need.packs]
        how.append(_("open {packs}").format(packs=", ".join(opened)))
    return said + (": " + "; ".join(how) if how else "")


def _letters(order: list[Card]) -> dict[str, str]:
    """Every caution of the order once, in the order they come, with the letter that stands on the cards."""
    texts = dict.fromkeys(
        text for card in order for one in (*card.along, card) for text in one.cautions
    )
    letters = [a + b for a in ("", *ascii_uppercase) for b in ascii_uppercase]
    return dict(zip(texts, letters, strict=False))


def _step(
    pen: Pen, number: int, card: Card, over: dict[str, list[Entry]], letters: dict[str, str]
) -> CardStep:
    every = [*card.along, card]
    done, proven = _done(pen, card, over)
    planned = every[0].planned
    step = card.step
    return CardStep(
        number=number,
        starts=f"{round(planned.start) // 60}:{round(planned.start) % 60:02d}" if planned else "",
        text=step.text,
        place=step.place,
        job=card.job_words or ", ".join(card.serves),
        first=[before.step.text for before in card.along],
        does=list(step.does),
        figures=list(dict.fromkeys(line for one in every for line in _figures(pen, one))),
        says=list(dict.fromkeys(line for one in every for line in _says(pen, one))),
        reads=[line for one in every for line in _reads(pen, one)],
        cautions=list(dict.fromkeys(letters[text] for one in every for text in one.cautions)),
        waits=_waits(step),
        begun=begun_at(pen, card.id),
        done=done,
        proven=proven,
    )


def _waits(step: Step) -> str:
    if not step.unattended:
        return ""
    said = _("then {minutes} min alone")
    if step.waits_for:
        said = _("then {minutes} min alone: {what}")
    return said.format(minutes=f"{step.unattended:g}", what=step.waits_for)


def _figures(pen: Pen, card: Card) -> Iterator[CardFigure]:
    """What is set large: everything but figures in words."""
    for figure in card.figures:
        if figure.quantity != "words":
            yield _figure(pen, figure, figure.words)
    for group in card.fasteners:
        for now in ahead(pen.work.book, group):
            aim = now.figure or now.turn
            if aim is not None:
                yield _figure(pen, aim, _fasteners(now))


def _fasteners(group: FastenerShown) -> str:
    """Example: ``Rear wheel bolts × 5, in a star, threads dry``."""
    fastener = group.fastener
    many = f"{fastener.text} × {fastener.count}" if fastener.count > 1 else fastener.text
    order = _(_ORDER[fastener.sequence]) if fastener.sequence in _ORDER else ""
    order = order if fastener.count > 1 else ""
    turn = _("round {number} of {count}").format(number=group.round, count=group.rounds)
    turn = turn if group.round else ""
    return ", ".join(words for words in (many, order, turn, fastener.treatment) if words)


_ORDER = {
    "star": noop("in a star"),
    "alternate until still": noop("by turns until none moves"),
}


def _figure(pen: Pen, figure: FigureShown, words: str) -> CardFigure:
    value, also = pen.figure(figure), ""
    if figure.value is not None:
        value, also = pen.both(figure.value, figure.quantity)
    how = ", ".join(one for one in (words, figure.stage, figure.strokes) if one)
    return CardFigure(what=how, value=value, also=also, source=pen.source(figure))


def _says(pen: Pen, card: Card) -> Iterator[CardLine]:
    for figure in card.figures:
        if figure.quantity == "words":
            yield figure.words, pen.figure(figure), pen.source(figure)


def _reads(pen: Pen, card: Card) -> Iterator[CardLine]:
    for shown in card.readings:
        for place in range(1, shown.reading.repeat + 1):
            text = shown.reading.text + (f", {place}" if shown.reading.repeat > 1 else "")
            yield text, limit_of(pen, shown), read_of(pen, shown, place)
        for words in to_come(pen.work, taken(pen.work), card.id, shown.id):
            yield _("if {what}").format(what=words), "", ""


def _done(pen: Pen, card: Card, over: dict[str, list[Entry]]) -> tuple[str, bool]:
    """When and by whom, and whether it carries the stripe. Each confirmation speaks for one copy of the step:
    that of an access step which rides along is not said again of a later copy.
    """
    for before in card.along:
        if over[before.id]:
            over[before.id].pop(0)
    if over[card.id]:
        entry = over[card.id].pop(0)
        signed = pen.signed(entry.at, entry.author)
        if card.stands == "not tight":
            return _("not tight: {signed}").format(signed=signed), False
        return signed, all_proven(pen.work, [card.id])
    if card.id in pen.work.state.not_done:
        why = pen.work.state.not_done[card.id]
        return _("left out: {why}").format(why=why), False
    if why := why_not_needed(pen.work, card.id):
        return _("not needed: {why}").format(why=why), False
    return "", False


def _confirmed(work: Work) -> tuple[list[Entry], dict[str, list[Entry]]]:
    """Confirmations that stand: those before the plan was taken, in their order; since then, per step.

    Steps beyond the book are part of no plan, so none begins them anew.
    """
    plans = [at for at, entry in enumerate(work.standing) if entry.kind == "plan_taken"]
    newest = plans[-1] if plans else len(work.standing)
    before: list[Entry] = []
    since: dict[str, list[Entry]] = defaultdict(list)
    for at, entry in enumerate(work.standing):
        said = entry.said
        if not isinstance(said, Done) or said.step not in work.steps:
            continue
        if at < newest and StepId(said.step).job not in work.own.jobs:
            before.append(entry)
        else:
            for step in (*said.along, said.step):
                since[step].append(entry)
    return before, since


def _card_done(work: Work, entry: Entry) -> Card:
    """A confirmation as the card that it confirmed."""
    said = entry.said
    assert isinstance(said, Done)
    along = tuple(card_of(work, step) for step in said.along if step in work.steps)
    return replace(card_of(work, said.step), along=along)
