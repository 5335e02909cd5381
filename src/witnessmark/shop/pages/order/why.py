"""Why a step stands where it stands: what it needs and which step brings that, what it follows, its room."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, cast

from django.utils.translation import gettext as _

from witnessmark.book.model import Operation
from witnessmark.book.model_step import before
from witnessmark.book.rides import is_ride
from witnessmark.book.select import job_of
from witnessmark.ledger.ids import StepId
from witnessmark.planner import PlanStep, Slack, clock, state_in_words
from witnessmark.shop.work.visit import Work

MOST_NAMED = 3  # steps that are done while another goes on by itself


@dataclass(frozen=True)
class Why:
    """What must be over before a step, and what else there is to say of its place, each a sentence."""

    needs_first: tuple[str, ...]
    besides: tuple[str, ...]


def why(work: Work, steps: Sequence[PlanStep], place: int, room: Slack) -> Why:
    """The reasons of the step at a place of the order, counted from 0.

    That it must not start later is said where nothing else is.
    """
    before_it = (
        *_needs(work, steps, place),
        *_needed_before(work, steps, place),
        *_after(work, steps, place),
    )
    meanwhile = tuple(_meanwhile(work, steps, place))
    fixed = room.latest - room.earliest < 1
    said = () if fixed and (before_it or meanwhile) else (_room(room),)
    nothing = () if before_it else (_("No other step has to come before it."),)
    return Why(before_it, (*nothing, *meanwhile, *said))


def _needs(work: Work, steps: Sequence[PlanStep], place: int) -> Iterator[str]:
    """The states it needs that a step before it brings; how the machine stands anyway is no reason."""
    for condition in work.steps[steps[place].name].needs:
        setters = {name for name, step in work.steps.items() if condition in step.sets}
        found = _last(steps, place, setters)
        if found is not None:
            step = work.steps[steps[found].name]
            state = state_in_words(work.book, condition, [step.sets[condition]])
            said = _("{state}, by step {number}, “{step}”.")
            yield said.format(state=state, number=found + 1, step=step.text)


def _needed_before(work: Work, steps: Sequence[PlanStep], place: int) -> Iterator[str]:
    """The operations since the last change of a state which need it as it is before this step changes it."""
    step = work.steps[steps[place].name]
    for condition, to in () if isinstance(step, Operation) else step.sets.items():
        setters = {name for name, one in work.steps.items() if condition in one.sets}
        since = _last(steps, place, setters)
        for n in range(since + 1 if since is not None else 0, place):
            one = work.steps[steps[n].name]
            needed = one.needs.get(condition, [to])
            if isinstance(one, Operation) and to not in needed:
                state = state_in_words(work.book, condition, needed)
                said = _("step {number}, “{step}”: it needs {state}.")
                yield said.format(number=n + 1, step=one.text, state=state)


def _after(work: Work, steps: Sequence[PlanStep], place: int) -> Iterator[str]:
    """The steps that the book puts before it, and why."""
    name = steps[place].name
    step = work.steps[name]
    if isinstance(step, Operation):
        for other in (before(StepId(name).job, after) for after in step.after):
            found = _last(steps, place, {other})
            if found is not None:
                said = _("step {number}, “{step}”: {reason}.")
                reason = next(_reasons(work, other, name))
                yield said.format(number=found + 1, step=work.steps[other].text, reason=reason)


def _reasons(work: Work, first: str, then: str) -> Iterator[str]:
    """Why one operation comes after another, by what both have to do with; at the last that the book has it so."""
    one, other, book = work.steps[first], work.steps[then], work.book
    tied = (
        (one.loosens, other.tightens, book.fasteners, _("{what} loosened there, made tight here")),
        (one.snugs, other.tightens, book.fasteners, _("{what} seated there, made tight here")),
        (one.opens, other.closes, book.circuits, _("{what} opened there, closed here")),
        (one.closes, other.closes, book.circuits, _("{what}: closed in this order")),
        (one.disturbs, other.renews, book.renewals, _("{what} disturbed there, renewed here")),
        (one.loosens, other.loosens, book.fasteners, _("{what} loosened in this order")),
        (one.tightens, other.tightens, book.fasteners, _("{what} made tight in this order")),
        (one.readings, other.readings, book.readings, _("“{what}” read there, and again here")),
    )
    for mine, its, table, words in tied:
        for name in mine:
            if name in its:
                yield words.format(what=cast("Mapping[str, Any]", table)[name].text)
    if is_ride(other):
        yield _("it is ridden when that is over")
    if is_ride(one):
        yield _("ridden first")
    if one.unattended and one.waits_for:
        yield _("it waits there: {what}").format(what=one.waits_for)
    alone = (
        (one.readings, book.readings, _("“{what}” read first")),
        (one.renews, book.renewals, _("{what} renewed first")),
        (one.tightens, book.fasteners, _("{what} tight first")),
    )
    for mine, table, words in alone:
        for name in mine[:1]:
            yield words.format(what=cast("Mapping[str, Any]", table)[name].text)
    if job_of(first) == job_of(then):
        yield _("the service book has this order within the job")
    yield _("the service book has “{job}” first").format(job=book.jobs[job_of(first)].text)


def _meanwhile(work: Work, steps: Sequence[PlanStep], place: int) -> Iterator[str]:
    """What goes on by itself while it is done, and what is done while it goes on by itself."""
    mine = steps[place]
    for number, one in enumerate(steps[:place], 1):
        if one.end <= mine.start < one.tail_end:
            what = work.steps[one.name].waits_for or _("it goes on by itself")
            said = _("Done while {what}: step {number}, “{step}”.")
            yield said.format(number=number, step=work.steps[one.name].text, what=what)
    within = [n for n, one in enumerate(steps) if mine.end <= one.start < mine.tail_end]
    if within:
        what = work.steps[mine.name].waits_for or _("it goes on by itself")
        step = _("step {number}, “{step}”")
        named = [
            step.format(number=n + 1, step=work.steps[steps[n].name].text)
            for n in within[:MOST_NAMED]
        ]
        if more := len(within) - len(named):
            named.append(_("{n} more").format(n=more))
        yield _("While {what}: {steps}.").format(what=what, steps="; ".join(named))


def _last(steps: Sequence[PlanStep], place: int, names: Collection[str]) -> int | None:
    """The last place before one at which one of these steps stands."""
    return next((n for n in reversed(range(place)) if steps[n].name in names), None)


def _room(room: Slack) -> str:
    """How far it may move without a later finish."""
    if room.latest - room.earliest < 1:
        return _("Started later, everything is ready later.")
    return _("It can start from {earliest} to {latest} without a later finish.").format(
        earliest=clock(room.earliest), latest=clock(room.latest)
    )
