"""Why a step stands where it stands: what it needs and which step brings that, what it follows, its room."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from django.utils.translation import gettext as _

from witnessmark.book.model import Operation
from witnessmark.book.select import before
from witnessmark.ledger.ids import StepId
from witnessmark.planner import PlanStep, Slack, clock, state_in_words
from witnessmark.shop.work.visit import Work

MOST_NAMED = 3  # steps that are done while another goes on by itself


def why(work: Work, steps: Sequence[PlanStep], place: int, room: Slack) -> list[str]:
    """The reasons of the step at a place of the order, counted from 0, each a sentence.

    That it must not start later is said where nothing else is.
    """
    before_it = [*_needs(work, steps, place), *_after(work, steps, place)]
    meanwhile = list(_meanwhile(work, steps, place))
    fixed = room.latest - room.earliest < 1
    said = [] if fixed and (before_it or meanwhile) else [_room(room)]
    return [*(before_it or [_("No other step has to come before it.")]), *meanwhile, *said]


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


def _after(work: Work, steps: Sequence[PlanStep], place: int) -> Iterator[str]:
    """The steps that the book puts before it."""
    name = steps[place].name
    step = work.steps[name]
    if isinstance(step, Operation):
        for other in (before(StepId(name).job, after) for after in step.after):
            found = _last(steps, place, {other})
            if found is not None:
                said = _("It comes after step {number}, “{step}”.")
                yield said.format(number=found + 1, step=work.steps[other].text)


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
