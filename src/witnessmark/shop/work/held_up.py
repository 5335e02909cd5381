"""Steps that could not be done and have no answer yet: what a machine waits for, in words."""

from __future__ import annotations

from django.utils.translation import gettext as _

from witnessmark.ledger.stuck import finish_of, known_states, stuck, unanswered
from witnessmark.planner import state_in_words
from witnessmark.shop.work.planned import Planned
from witnessmark.shop.work.planning import to_do
from witnessmark.shop.work.visit import Work

FOR_A_PART = ("part missing", "wrong part")


def held_up(work: Work) -> list[str]:
    """Each unanswered “It cannot be done”. Example: ``waits for a part for “Change the tyre”: ordered for Friday``."""
    said = []
    for found in unanswered(work.state):
        if found.step in work.steps:
            what, _colon, more = found.text.partition(": ")
            step = work.steps[found.step].text
            words = _("cannot go on with “{step}”, {what}")
            if what in FOR_A_PART:
                words = _("waits for a part for “{step}”")
            words = words.format(step=step, what=_(what))
            said.append(f"{words}: {more}" if more else words)
    return said


def waits_too(work: Work) -> list[str]:
    """The jobs, by their words, of which a step comes after one that has no such answer."""
    held = stuck(work.book, work.state, jobs := to_do(work))
    own = {found.step for found in work.state.findings if not found.settled}
    return [
        work.book.jobs[job].text
        for job in jobs
        if {f"{job}/{name}" for name in work.book.jobs[job].operations} & held - own
    ]


def stays_so(work: Work, made: Planned | None) -> list[str]:
    """How an order leaves the machine until such a step has its answer, in words: ``Stand: upright``."""
    if made is None or not unanswered(work.state):
        return []
    now = known_states(work.book, work.state.states)
    return [
        state_in_words(work.book, name, [now[name]])
        for name, condition in made.problem.conditions.items()
        if condition.finish is None
        and finish_of(work.book, work.state, name) not in (None, now[name])
    ]


def can_go_on(work: Work) -> list[str]:
    """The jobs with steps left that wait for no such answer."""
    jobs = to_do(work)
    over = work.state.over | stuck(work.book, work.state, jobs)
    return [j for j in jobs if {f"{j}/{n}" for n in work.book.jobs[j].operations} - over]
