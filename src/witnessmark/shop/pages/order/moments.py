"""Until when an answer to an open line or a declined job is in time, by the order of what is agreed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial

import rfc8785
from django.utils import timezone
from django.utils.translation import gettext as _

from witnessmark.book.select import with_brought
from witnessmark.errors import WitnessError
from witnessmark.planner import (
    LastMoment,
    Rule,
    check_plan,
    last_moment,
    moment_in_words,
    plan,
    search_seconds,
)
from witnessmark.shop import solved
from witnessmark.shop.dates import time_text
from witnessmark.shop.work.crew import Crew
from witnessmark.shop.work.plan_followed import plan_progress
from witnessmark.shop.work.planned import Planned
from witnessmark.shop.work.planning import from_now, planned, to_do, to_solve
from witnessmark.shop.work.pricing import waiting
from witnessmark.shop.work.solving import key_of
from witnessmark.shop.work.visit import Work


@dataclass(frozen=True)
class CachedMoment:
    """A moment as it is kept once worked out; also that there is none."""

    moment: LastMoment | None


@dataclass(frozen=True)
class LastYes:
    """A job that waits for an answer or was declined, and until when a yes is in time, in words."""

    job: str
    words: str
    declined: bool
    said: str


def moments(work: Work, begin: datetime | None = None) -> list[LastYes]:
    """For each open line and each declined job that could still be done: its last moment.

    Times of the day count from ``begin``, or now, as if work went on then.
    """
    jobs = _open_jobs(work)
    if not jobs or not to_do(work):
        return []
    base = going_on(work)
    if base is None:
        return []
    at = partial(_time, begin or timezone.localtime())
    return [
        LastYes(
            job, work.book.jobs[job].text, job in work.state.declined, _said(work, base, job, at)
        )
        for job in jobs
    ]


def _open_jobs(work: Work) -> list[str]:
    named = dict.fromkeys([*waiting(work), *work.state.declined])
    doing = set(to_do(work))
    return [job for job in named if job in work.book.jobs and job not in doing]


def _time(begin: datetime, minute: float) -> str:
    return time_text(begin + timedelta(minutes=minute))


def going_on(work: Work) -> Planned | None:
    """What is left of the order followed, from now on; or the best order, where none is followed or it no longer fits.

    None where there is none.
    """
    course = plan_progress(work)
    if course.fits and course.plan is not None and course.left:
        left = from_now(course.left)
        crew = Crew(
            tuple(t.model_copy(update={"shifts": None}) for t in course.plan.problem.technicians)
        )
        problem = to_solve(work, course.plan.jobs, crew)
        answer = course.plan.answer.model_copy(
            update={"steps": left, "finish_minutes": max(step.tail_end for step in left)}
        )
        if all(fault.rule is Rule.FIGURE for fault in check_plan(problem, answer)):
            return replace(course.plan, problem=problem, answer=answer)
    try:
        made = planned(work, to_do(work))
    except WitnessError:
        return None
    return made if made.possible else None


def _said(work: Work, base: Planned, job: str, at: partial[str]) -> str:
    try:
        moment = _moment(work, base, job)
    except WitnessError:
        moment = None
    if moment is None:
        return _("No order with it was found: it cannot be done as the machine stands now.")
    step = work.steps[moment.before.name].text if moment.before else ""
    return moment_in_words(moment, step, at)


def _moment(work: Work, base: Planned, job: str) -> LastMoment | None:
    """Worked out once for each order and job. Raises CompileError where the job cannot be added."""
    jobs = list(dict.fromkeys([*base.jobs, *with_brought(work.book, [job])]))
    with_job = to_solve(work, jobs, Crew(base.problem.technicians, base.problem.clock))
    key = key_of("moment", rfc8785.dumps([base.hash, with_job.model_dump(mode="json")]))
    found = solved.get(key, CachedMoment)
    if found is None:
        solve = partial(
            plan, objective="attended", deterministic_limit=search_seconds.MOMENT_ON_A_PAGE
        )
        found = CachedMoment(last_moment(base.answer, with_job, solve))
        solved.keep(key, CachedMoment, found)
    return found.moment
