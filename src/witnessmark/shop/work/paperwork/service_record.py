"""The service record: what was done, by what evidence; what was not; what was found; when to come again."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Literal

from witnessmark.book.figures import limits
from witnessmark.kit.lay_out import parts_of
from witnessmark.ledger.bodies import OPEN, JobLeft, Looked, Returned
from witnessmark.ledger.bodies import Done as StepDone
from witnessmark.ledger.state import OpenItem, Override, ReadingState
from witnessmark.money import Line
from witnessmark.papers import ServiceRecord
from witnessmark.papers.forms import Done
from witnessmark.shop import store
from witnessmark.shop.work.beyond import words_of
from witnessmark.shop.work.cards import ReadingShown, figure_shown
from witnessmark.shop.work.codes import Cleared, codes_of
from witnessmark.shop.work.paperwork.charge import charged
from witnessmark.shop.work.paperwork.fluids import bottles, said_of_fluids
from witnessmark.shop.work.paperwork.job_card import limit_of
from witnessmark.shop.work.paperwork.marks import all_proven, marks
from witnessmark.shop.work.paperwork.next_due import next_due
from witnessmark.shop.work.paperwork.pen import NoPaperError, Pen, complaint_answer
from witnessmark.shop.work.pricing import estimate_kept
from witnessmark.shop.work.readings import judged
from witnessmark.shop.work.releasing import (
    beside_the_plan,
    blocking,
    came_with,
    counted,
    let_through,
    passed_by,
    verdict,
)
from witnessmark.shop.work.visit import Work

_SEEN = {"bad": "a finding"}  # of words; all else was only noted


def service_record(pen: Pen) -> ServiceRecord:
    """The record as it stands; one that is not final says so. Raises NoPaperError before arrival."""
    work = pen.work
    arrived = next((line for line in work.state.history if line.kind == "arrived"), None)
    if arrived is None:
        raise NoPaperError("the machine was not taken in")
    judged = verdict(work, "hand-back")
    returned = next((one for one in work.entries if one.id == work.state.returned), None)
    total, lines = charged(pen)
    return ServiceRecord(
        heading=pen.heading(),
        arrived=pen.moment(arrived.at),
        handed_back=f"{pen.moment(returned.at)}, {pen.name(returned.author)}" if returned else "",
        facts=list(_facts(pen)),
        done=list(_jobs(pen)),
        marks=list(marks(pen)),
        readings=list(_readings(pen)),
        codes=list(_codes(pen)),
        corrections=list(_corrections(work)),
        left_open=[_let_through(pen, item, by) for item, by in let_through(judged)],
        passed_by=list(_passed_by(pen)),
        still_open=[line.words for line in blocking(work, judged)],
        came_after=[one.words for one in work.state.recalls],
        second_looks=list(_looks(pen)),
        findings=list(_findings(pen)),
        next_due=next_due(pen),
        charge=lines,
        charge_total=total,
        photos=sum(1 for one in work.state.remarks if one.sha256 and not one.erased),
    )


# ---------------------------------------------------------------- arrival and return


def _facts(pen: Pen) -> Iterator[tuple[str, str]]:
    came = came_with(pen.work)
    entry = next((one for one in pen.work.entries if one.id == pen.work.state.returned), None)
    said = entry.said if entry else None
    if came.complaint:
        yield "Complaint", came.complaint
        yield "Answer to it", complaint_answer(pen)
    if came.owner_said:
        yield "Said by the owner", came.owner_said
    if not isinstance(said, Returned):
        return
    came_in, back = counted(came.keys, came.fobs), counted(said.keys, said.fobs)
    all_of_them = back if back == came_in else f"{back}; {came_in} came in"
    yield "Given back", all_of_them
    if said.old_parts_given is not None:
        yield "Old parts", "given back" if said.old_parts_given else "not given back"
    yield "It left", "ridden away" if said.ridden_away else "on a trailer"
    if said.text:
        yield "Told to the owner", said.text


def _let_through(pen: Pen, item: OpenItem, by: Override) -> str:
    paper = "" if by.paper == "printed in the record" else f" Signed: {by.paper}."
    return f"{item.words}. Let through by {pen.name(by.person)}: {by.reason}.{paper}"


def _passed_by(pen: Pen) -> Iterator[str]:
    """Gates passed with something open, and waits cut short; each with what, why and who."""
    work, items = pen.work, store.table(pen.work.visit).items
    for one in passed_by(work):
        what = "; ".join(dict.fromkeys(items[i].words if i in items else i for i in one.open))
        yield f"{one.gate.capitalize()}: {what}. {one.because}. {pen.signed(one.at, one.author)}"
    undone = {line.entry for line in work.state.history if line.undone}
    for entry in work.entries:
        said = entry.said
        if isinstance(said, StepDone) and said.short_wait and entry.id not in undone:
            text = work.steps[said.step].text if said.step in work.steps else said.step
            yield f"{text}: {said.short_wait}. {pen.signed(entry.at, entry.author)}"


# ---------------------------------------------------------------- work


def _jobs(pen: Pen) -> Iterator[Done]:
    work = pen.work
    for job in work.state.jobs:
        if job in work.book.jobs and job not in work.state.declined:
            yield _job(pen, job)
    for line in work.state.declined:
        yield Done(text=_line_words(pen, line), state="declined", words=_declined(pen, line))
    yield from (_job(pen, line) for line in work.state.lines if line in work.state.agreed)
    yield from (_beside(work, line) for line in beside_the_plan(work))
    yield from (_opened(pen, name) for name in work.state.added)


def _beside(work: Work, line: Line) -> Done:
    """An agreed line written free: done where the finding it answers was put right."""
    how = next((f.settled for f in work.state.findings if f.line == line.id), "")
    if how == "put right":
        return Done(text=line.text, state="done", words="found, agreed and put right")
    return Done(text=line.text, state="agreed", words="no card of its own shows it done")


def _job(pen: Pen, job: str) -> Done:
    work = pen.work
    names = [f"{job}/{name}" for name in work.jobs[job].operations]
    done = [name for name in names if name in work.state.done]
    rest = [_not_done(work, name) for name in names if name not in work.state.done]
    text = work.jobs[job].text
    if not done:
        return Done(text=text, state="not done", words=_left(work, job), lines=rest)
    state: Literal["partly done", "done"] = "partly done" if rest else "done"
    lines = [*_used(pen, done), *rest]
    return Done(text=text, state=state, lines=lines, proven=not rest and all_proven(work, names))


def _opened(pen: Pen, name: str) -> Done:
    """What was opened beyond the book, and by whom it was closed."""
    work, said = pen.work, pen.work.state.added[name]
    steps = [f"{name}/{one}" for one in work.jobs[name].operations if one != OPEN]
    done = {one: work.state.steps[one] for one in steps if one in work.state.done}
    lines = [
        f"{work.steps[one].text}: {pen.signed(how.at, how.author)}" for one, how in done.items()
    ]
    waits = any(set(item.closed_by) & {*steps} for item in work.state.items.values())
    many = f" × {said.count}" if said.count > 1 else ""
    words = "opened, not in the service book; " + ("not closed" if waits else "closed")
    state: Literal["not done", "done"] = "not done" if waits else "done"
    proven = not waits and said.grade == "proven" and all_proven(work, steps)
    return Done(text=said.words + many, state=state, words=words, lines=lines, proven=proven)


def _not_done(work: Work, name: str) -> str:
    reason = work.state.not_done.get(name, "")
    return f"Not done: {work.steps[name].text}" + (f", {reason}" if reason else "")


def _left(work: Work, job: str) -> str:
    for entry in reversed(work.entries):
        said = entry.said
        if isinstance(said, JobLeft) and said.job == job:
            return said.because
    return ""


def _used(pen: Pen, done: list[str]) -> Iterator[str]:
    """What was fitted and filled."""
    book = pen.work.book
    parts: dict[str, Fraction] = {}
    for name in done:
        for part, quantity in parts_of(book, pen.work.steps[name]).items():
            if not book.parts[part].consumable:
                parts[part] = parts.get(part, Fraction(0)) + Fraction(repr(quantity))
    if parts:
        said = [
            book.parts[part].text + (f" × {float(count):g}" if count != 1 else "")
            for part, count in parts.items()
        ]
        yield "Fitted: " + ", ".join(said)
    fluids = {
        (fluid, use.figure) for name in done for fluid, use in pen.work.steps[name].fluids.items()
    }
    for fluid, figure in sorted(fluids):
        shown = figure_shown(book, figure)
        grade = book.figures.get(book.fluids[fluid].grade or "")
        words = f" ({grade.value})" if grade and grade.value else ""
        yield f"Filled: {book.fluids[fluid].text}{words}, {pen.figure(shown)}{bottles(pen, fluid, done)}"
    yield from said_of_fluids(pen, done)


def _line_words(pen: Pen, line: str) -> str:
    """A line of an estimate by its text."""
    for offer in reversed(pen.work.state.offers):
        if line in offer.lines:
            return estimate_kept(pen.work.visit.shop, offer.estimate).line(line).text
    return words_of(pen.work, line)


def _declined(pen: Pen, line: str) -> str:
    for offer in reversed(pen.work.state.offers):
        answer = offer.answers.get(line)
        if answer and answer.verdict == "no":
            return f"{answer.how}, {pen.moment(answer.at)}"
    return ""


# ---------------------------------------------------------------- evidence


def _readings(pen: Pen) -> Iterator[tuple[str, str, str, str]]:
    """The newest reading at each place of each step, in the order they were first taken."""
    newest: dict[tuple[str, str, int], ReadingState] = {}
    for one in pen.work.state.readings:
        newest[(one.step, one.reading, one.index)] = one
    for one in newest.values():
        reading = pen.work.book.readings.get(one.reading)
        if reading is None:
            continue
        low, high = (None, None) if reading.quantity == "words" else limits(pen.work.book, reading)
        limit = limit_of(pen, ReadingShown(one.reading, reading, low, high))
        value = one.words or one.text
        if one.value is not None:
            value = pen.quantity(one.value, reading.quantity, reading.unit)
        place = f", {one.index}" if reading.repeat > 1 else ""
        where = pen.work.steps[one.step].text if one.step in pen.work.steps else ""
        text = reading.text + place + (f" ({where})" if _often(pen.work, one.reading) else "")
        found = judged(pen.work.book, one.reading, one.value)
        how = found.short if found else _SEEN.get(one.verdict, "noted")
        yield text, value, "" if reading.quantity == "words" else limit, how
    for gone in pen.work.state.unread:
        known = pen.work.book.readings.get(gone.reading)
        if known is not None:
            place = f", {gone.index}" if known.repeat > 1 else ""
            yield known.text + place, "not read", "", gone.because


def _often(work: Work, reading: str) -> bool:
    return len({one.step for one in work.state.readings if one.reading == reading}) > 1


def _codes(pen: Pen) -> Iterator[tuple[str, str]]:
    """Each reading and clearing with its time, then what became of the codes."""
    known = codes_of(pen.work)
    for one in known.happened:
        if isinstance(one, Cleared):
            copied = "" if one.said.copied else ", without a copy"
            yield "Cleared", f"{pen.moment(one.entry.at)}{copied}"
        else:
            when = pen.moment(one.entries[0].at)
            yield one.moment.capitalize(), f"{one.words}. {when}, {pen.name(one.author)}"
    for word, became in known.groups if known.compared else ():
        yield word.capitalize(), "; ".join(f"{one.code.written} {one.words}" for one in became)
    if known.comparison.untested:
        several = ", ".join(code.written for code in known.comparison.untested)
        yield "Not tested since cleared", several


def _corrections(work: Work) -> Iterator[str]:
    for name, said in work.state.figures.items():
        figure = work.book.figures.get(name)
        value = said.value or f"{said.low} to {said.high}"
        was = f" (the book had {said.was})" if said.was and said.was != value else ""
        source = said.source or "no source given"
        yield f"{figure.text if figure else name}: {value}{was}, {source}"


def _looks(pen: Pen) -> Iterator[str]:
    table = store.table(pen.work.visit)
    undone = {line.entry for line in pen.work.state.history if line.undone}
    alone = {one.entry: one.how for one in pen.work.state.fallbacks}
    for entry in pen.work.entries:
        said = entry.said
        if not isinstance(said, Looked) or entry.id in undone:
            continue
        items = [table.items[item].words for item in said.items if item in table.items]
        text = "; ".join(item.removeprefix("second look: ") for item in items)
        who = f"{pen.name(entry.author)}, {pen.clock(entry.at)}"
        if entry.id not in alone:
            yield f"{text}: looked at by {who}"
            continue
        how = alone[entry.id]
        after = "a break" if how.apart == "break" else "other work"
        ride = (
            f"not ridden since: {how.not_ridden_because}"
            if how.not_ridden_because
            else "after a road test"
        )
        yield (
            f"{text}: no second person. {who} looked again alone, after {after} of {how.minutes} min, in another "
            f"order, for leaks, stripes and levels too; {ride}"
        )


def _findings(pen: Pen) -> Iterator[str]:
    for one in pen.work.state.findings:
        step = pen.work.steps.get(one.step or "")
        at = f"{step.text}: " if step and one.kind == "won't" else ""
        how = one.settled or "no answer yet"
        yield f"{at}{one.text} ({how})"
