"""The service record: what was done, by what evidence; what was not; what was found; when to come again."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from witnessmark.book.figures import limits
from witnessmark.book.model import Reading
from witnessmark.facts import Verdict
from witnessmark.ledger.bodies import OPEN, JobLeft, Looked, Returned
from witnessmark.ledger.bodies import Done as StepDone
from witnessmark.ledger.gates import alike
from witnessmark.ledger.ids import StepId
from witnessmark.ledger.state import OpenItem
from witnessmark.ledger.worked import ReadingState
from witnessmark.money import EstimateLine
from witnessmark.papers import ServiceRecord
from witnessmark.papers.contents import Done, PaperReading
from witnessmark.shop.work import hand_back
from witnessmark.shop.work.beyond_book import words_of
from witnessmark.shop.work.cards import ReadingShown, card_of, figure_shown
from witnessmark.shop.work.codes import AFTER, BEFORE, Cleared, codes_of
from witnessmark.shop.work.deciding import why_not_needed
from witnessmark.shop.work.hand_back import beside_the_plan, came_with, passed_by, verdict
from witnessmark.shop.work.left import LeftJob, left_for_later
from witnessmark.shop.work.paperwork.came_after import came_after
from witnessmark.shop.work.paperwork.findings import answer_words, finding_words
from witnessmark.shop.work.paperwork.job_card import limit_of
from witnessmark.shop.work.paperwork.language_and_heading import (
    NoPaperError,
    Pen,
    complaint_answer,
    head_of,
)
from witnessmark.shop.work.paperwork.marks import all_proven, marks
from witnessmark.shop.work.paperwork.next_due import next_due
from witnessmark.shop.work.paperwork.open_items import line as open_line
from witnessmark.shop.work.paperwork.open_items import lines as open_lines
from witnessmark.shop.work.paperwork.open_items import looked_at, thing
from witnessmark.shop.work.paperwork.parts_and_fluids import used
from witnessmark.shop.work.paperwork.sum_and_taxes import charged
from witnessmark.shop.work.paperwork.waited import waited
from witnessmark.shop.work.pricing import estimate_kept
from witnessmark.shop.work.readings import judged
from witnessmark.shop.work.visit import Work

_SEEN = {"bad": noop("a finding"), "": noop("noted")}  # of words
_STANDS = {
    "within limits": noop("within limits"),
    "at the limit": noop("at the limit of {limit}"),
    "below the limit": noop("below the limit of {limit}"),
    "above the limit": noop("above the limit of {limit}"),
    "no limit": noop("no limit is known"),
}
_GATES = {
    "starter": noop("Started anyway"),
    "wheels on the ground": noop("Put on its wheels anyway"),
    "road test": noop("Ridden anyway"),
    "hand-back": noop("Handed back anyway"),
}
_BECAME = {
    "new": noop("New"),
    "returned": noop("Returned"),
    "stayed": noop("Stayed"),
    "gone": noop("Gone"),
}
_MOMENTS = {BEFORE: noop("Before the work"), AFTER: noop("After the work")}


def service_record(pen: Pen) -> ServiceRecord:
    """The record as it stands; one that is not final says so. Raises NoPaperError before arrival."""
    work = pen.work
    arrived = next((line for line in work.state.history if line.kind == "arrived"), None)
    if arrived is None:
        raise NoPaperError(noop("the machine was not taken in"))
    judged = verdict(work, "hand-back")
    returned = next((one for one in work.entries if one.id == work.state.returned), None)
    total, lines = charged(pen)
    return ServiceRecord(
        heading=pen.heading().model_copy(update={"head": head_of(work)}),
        arrived=pen.moment(arrived.at),
        handed_back=f"{pen.moment(returned.at)}, {pen.name(returned.author)}" if returned else "",
        facts=list(_facts(pen)),
        done=list(_jobs(pen)),
        marks=list(marks(pen)),
        readings=list(_readings(pen)),
        codes=list(_codes(pen)),
        corrections=list(_corrections(pen)),
        left_open=[_let_through(pen, group) for group in alike(judged.let_through)],
        passed_by=list(_passed_by(pen)),
        still_open=open_lines(pen, judged.blocking),
        came_after=came_after(pen),
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
        yield _("Complaint"), came.complaint
        yield _("Answer to it"), complaint_answer(pen)
    if hand_back.never_asked(pen.work):
        yield _("Agreed"), _("nothing: the work was never offered to the owner")
    if came.owner_said:
        yield _("Said by the owner"), came.owner_said
    if not isinstance(said, Returned):
        return
    came_in = hand_back.counted(came.keys, came.fobs) or _("none")
    back = hand_back.counted(said.keys, said.fobs) or _("none")
    differ = _("{back}; {came} came in").format(back=back, came=came_in)
    yield _("Given back"), back if back == came_in else differ
    if said.old_parts_given is not None:
        yield _("Old parts"), _("given back") if said.old_parts_given else _("not given back")
    yield _("It left"), _("ridden away") if said.ridden_away else _("on a trailer")
    if said.text:
        yield _("Told to the owner"), said.text


def _let_through(pen: Pen, group: list[OpenItem]) -> str:
    by = group[0].override
    assert by is not None
    said = _("{what}. Signed off as is by {name}: {reason}.").format(
        what=open_line(pen, group), name=pen.name(by.person), reason=by.reason
    )
    if by.paper == "printed in the record":
        return said
    return f"{said} " + _("Signed by the owner: {paper}.").format(paper=pen.chosen(by.paper))


def _passed_by(pen: Pen) -> Iterator[str]:
    """Gates passed with something open, and waits cut short; each with what, why and who."""
    work = pen.work
    for one in passed_by(work):
        what = "; ".join(dict.fromkeys(thing(pen, item) for item in one.open))
        yield f"{_(_GATES[one.gate])}: {what}. {one.because}. {pen.signed(one.at, one.author)}"
    for entry in work.standing:
        said = entry.said
        if isinstance(said, StepDone) and said.short_wait:
            text = work.steps[said.step].text if said.step in work.steps else ""
            yield f"{text}: {said.short_wait}. {pen.signed(entry.at, entry.author)}"


# ---------------------------------------------------------------- work


def _jobs(pen: Pen) -> Iterator[Done]:
    work = pen.work
    for job in work.state.jobs:
        if job in work.book.jobs and job not in work.state.declined:
            yield _job(pen, job)
    yield from _on_the_way(pen)
    for line in work.state.declined:
        yield Done(text=_line_words(pen, line), state="declined", words=_declined(pen, line))
    yield from (_job(pen, line) for line in work.state.lines if line in work.state.agreed)
    yield from (_beside(pen, line) for line in beside_the_plan(work))
    yield from (_opened(pen, name) for name in work.state.added)


def _beside(pen: Pen, line: EstimateLine) -> Done:
    """An agreed line of before lines had cards: done where the finding it answers was put right."""
    how = next((f.settled for f in pen.work.state.findings if f.line == line.id), "")
    if how == "put right":
        return Done(text=line.text, state="done", words=_("found, agreed and put right"))
    return Done(text=line.text, state="agreed", words=_("no step of its own shows it done"))


def _job(pen: Pen, job: str) -> Done:
    work = pen.work
    names = [f"{job}/{name}" for name in work.jobs[job].operations]
    done = [name for name in names if name in work.state.done]
    needless = [
        _("Not needed: {step}, {why}").format(
            step=work.steps[name].text, why=why_not_needed(work, name)
        )
        for name in names
        if name in work.state.not_needed
    ]
    rest = [
        _not_done(pen, name)
        for name in names
        if name not in {*work.state.done, *work.state.not_needed}
    ]
    rest += [
        _("Not tight: {step}").format(step=work.steps[name].text)
        for name in done
        if card_of(work, name).stands == "not tight"
    ]
    text = work.jobs[job].text
    left = next((_later(pen, one) for one in left_for_later(work) if one.job == job), [])
    if not done:
        said = [_not_done(pen, name) for name in names if work.state.not_done.get(name)]
        return Done(text=text, state="not done", words=_left(work, job), lines=[*left, *said])
    state: Literal["partly done", "done"] = "partly done" if rest else "done"
    lines = [*left, *_diagnosed(pen, job), *used(pen, done), *waited(pen, names), *needless, *rest]
    if left:
        state = "partly done"
    why = _left(work, job) if left else ""
    proven = not rest and all_proven(work, done)
    return Done(text=text, state=state, words=why, lines=lines, proven=proven)


def _on_the_way(pen: Pen) -> Iterator[Done]:
    """What was fitted, filled and drained by access steps: they belong to no one job."""
    said = [entry.said for entry in pen.work.standing if isinstance(entry.said, StepDone)]
    steps = [step for one in said for step in (*one.along, one.step)]
    access = [step for step in steps if step in pen.work.book.access]
    lines = [*used(pen, access), *waited(pen, access)]
    if lines:
        yield Done(text=_("Taken apart and put together again"), state="done", lines=lines)


def _diagnosed(pen: Pen, job: str) -> list[str]:
    """What was tested before a repair, and the cause."""
    repair = pen.work.state.repairs.get(job)
    if repair is None:
        return []
    told = [
        _("Tested: {what}: {found}").format(what=test.text, found=test.found)
        + (f", {_(_AS_IT_SHOULD[test.verdict])}" if test.verdict in _AS_IT_SHOULD else "")
        for test in repair.tests
    ]
    return [*told, *([_("Cause: {cause}").format(cause=repair.cause)] if repair.cause else [])]


_AS_IT_SHOULD = {"within": noop("as it should be"), "outside": noop("not as it should be")}


def _later(pen: Pen, one: LeftJob) -> list[str]:
    """Who left a job for later and when, and what that means for its price."""
    signed = pen.signed(one.at.isoformat(), one.author)
    said = [_("Left for later: {signed}").format(signed=signed)]
    if one.gross_minor is not None:
        price = pen.money(one.gross_minor, one.currency)
        said.append(_("Agreed at {price}, not charged").format(price=price))
    return said


def _opened(pen: Pen, name: str) -> Done:
    """What was opened beyond the book, and by whom it was closed."""
    work, said = pen.work, pen.work.state.added[name]
    steps = [f"{name}/{one}" for one in work.jobs[name].operations if one != OPEN]
    done = {one: work.state.steps[one] for one in steps if one in work.state.done}
    lines = [
        f"{_(_CLOSED[StepId(one).operation])}: {pen.signed(how.at, how.author)}"
        for one, how in done.items()
    ]
    waits = any(set(item.closed_by) & {*steps} for item in work.state.items.values())
    many = f" × {said.count}" if said.count > 1 else ""
    words = _("opened beyond the work listed; not closed")
    words = words if waits else _("opened beyond the work listed; closed")
    state: Literal["not done", "done"] = "not done" if waits else "done"
    proven = not waits and said.grade == "proven" and all_proven(work, steps)
    return Done(text=said.words + many, state=state, words=words, lines=lines, proven=proven)


_CLOSED = {  # the steps of what was opened beyond the book
    "tighten": noop("Tightened"),
    "close": noop("Closed and filled"),
    "bleed": noop("Bled"),
    "leaks": noop("Looked for leaks"),
    "refit": noop("Refitted"),
}


def _not_done(pen: Pen, name: str) -> str:
    reason = pen.work.state.not_done.get(name, "")
    said = _("Not done: {step}").format(step=pen.work.steps[name].text)
    return f"{said}, {reason}" if reason else said


def _left(work: Work, job: str) -> str:
    for entry in reversed(work.entries):
        said = entry.said
        if isinstance(said, JobLeft) and said.job == job:
            return said.because
    return ""


def _line_words(pen: Pen, line: str) -> str:
    """A line of an estimate by its text."""
    for offer in reversed(pen.work.state.offers):
        if line in offer.lines:
            return pen.of_book(estimate_kept(pen.work.visit.shop, offer.estimate).line(line).text)
    return words_of(pen.work, line)


def _declined(pen: Pen, line: str) -> str:
    for offer in reversed(pen.work.state.offers):
        answer = offer.answers.get(line)
        if answer and answer.verdict == "no":
            return f"{pen.chosen(answer.how)}, {pen.moment(answer.at)}"
    return ""


# ---------------------------------------------------------------- evidence


def _readings(pen: Pen) -> Iterator[PaperReading]:
    """The newest reading at each place of each step, in the order they were first taken."""
    newest: dict[tuple[str, str, int], ReadingState] = {}
    for one in pen.work.state.readings:
        newest[(one.step, one.reading, one.index)] = one
    for one in newest.values():
        reading = pen.work.book.readings.get(one.reading)
        if reading is None:
            continue
        limit = ""
        if reading.quantity != "words":
            shown = ReadingShown(one.reading, reading, *limits(pen.work.book, reading))
            limit = limit_of(pen, shown)
        value = pen.of_book(one.words or "") or one.text
        if one.value is not None:
            value = pen.quantity(one.value, reading.quantity, reading.unit)
        place = f", {one.index}" if reading.repeat > 1 else ""
        where = pen.work.steps[one.step].text if one.step in pen.work.steps else ""
        text = reading.text + place + (f" ({where})" if _often(pen.work, one.reading) else "")
        found = judged(pen.work.book, one.reading, one.value)
        how = _stands(pen, found, reading) if found else _(_SEEN.get(one.verdict, _SEEN[""]))
        if one.let_be:
            how += ", " + _("let be by {name}").format(name=pen.name(one.let_be))
        yield PaperReading(what=text, value=value, limit=limit, verdict=how)
    for gone in pen.work.state.unread:
        known = pen.work.book.readings.get(gone.reading)
        if known is not None:
            place = f", {gone.index}" if known.repeat > 1 else ""
            what, value = known.text + place, _("not read")
            yield PaperReading(what=what, value=value, limit="", verdict=gone.because)


def _stands(pen: Pen, found: Verdict, reading: Reading) -> str:
    """How a value stands to its limits. Example: ``below the limit of 2 mm``."""
    limit = found.limit
    said = "" if limit is None else pen.quantity(limit.value, reading.quantity, reading.unit)
    return _(_STANDS[found.stand]).format(limit=said)


def _often(work: Work, reading: str) -> bool:
    return len({one.step for one in work.state.readings if one.reading == reading}) > 1


def _codes(pen: Pen) -> Iterator[tuple[str, str]]:
    """Each reading and clearing with its time, then what became of the codes."""
    known = codes_of(pen.work)
    for one in known.happened:
        if isinstance(one, Cleared):
            copied = "" if one.said.copied else ", " + _("without a copy")
            yield _("Cleared"), f"{pen.moment(one.entry.at)}{copied}"
        else:
            when = pen.moment(one.entries[0].at)
            codes = dict.fromkeys(each.code.written for each in one.seen if each.there)
            said = ", ".join(codes) or _("none")
            yield _(_MOMENTS.get(one.moment, one.moment)), f"{said}. {when}, {pen.name(one.author)}"
    for word, became in known.groups if known.compared else ():
        codes_now = (f"{one.code.written} {pen.only_english(one.words)}" for one in became)
        yield _(_BECAME[word]), "; ".join(one.rstrip() for one in codes_now)
    if known.comparison.untested:
        several = ", ".join(code.written for code in known.comparison.untested)
        yield _("Not tested since cleared"), several


def _corrections(pen: Pen) -> Iterator[str]:
    book = pen.work.book
    for name, said in pen.work.state.figures.items():
        figure = book.figures.get(name)
        span = _("{low} to {high}").format(low=said.low, high=said.high)
        value = said.value or span
        had = _("the book had {value}").format(value=said.was)
        was = f" ({had})" if said.was and said.was != value else ""
        text = figure.text if figure else _("a figure that the book does not have")
        photo = ", " + _("photo of the page kept") if said.photo else ""
        yield f"{text}: {value}{was}, {pen.source(figure_shown(book, name)) if figure else said.source}{photo}"


def _looks(pen: Pen) -> Iterator[str]:
    alone = {one.entry: one.how for one in pen.work.state.fallbacks}
    for entry in pen.work.standing:
        said = entry.said
        if not isinstance(said, Looked):
            continue
        text = "; ".join(looked_at(pen, item) for item in said.items)
        who = f"{pen.name(entry.author)}, {pen.clock(entry.at)}"
        if entry.id not in alone:
            yield _("{what}: looked at by {who}").format(what=text, who=who)
            continue
        how = alone[entry.id]
        after = _("after a break of {minutes} min")
        after = after if how.apart == "break" else _("after other work of {minutes} min")
        ride = _("after a road test")
        if how.not_ridden_because:
            ride = _("not ridden since: {why}").format(why=how.not_ridden_because)
        yield _(
            "{what}: no second person. {who} looked again alone, {after}, in another order, "
            "for leaks, stripes and levels too; {ride}"
        ).format(what=text, who=who, after=after.format(minutes=how.minutes), ride=ride)


def _findings(pen: Pen) -> Iterator[str]:
    for one in pen.work.state.findings:
        yield f"{finding_words(pen, one)} ({answer_words(pen, one)})"
