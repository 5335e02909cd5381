"""Where a visit stands in the plan it follows: what is left, whether it still fits, and what a new one would be."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from witnessmark.ledger.ids import StepId
from witnessmark.ledger.work_left import for_nothing, misfits, steps_left, to_do
from witnessmark.planner import PlanStep
from witnessmark.shop.work.planned import Planned
from witnessmark.shop.work.planning import ordered, taken, without
from witnessmark.shop.work.visit import Work


@dataclass(frozen=True)
class PlanProgress:
    """The plan followed, the steps of it that are left, and why they can no longer be followed as they stand.

    Where they cannot, what nothing needs any more is no longer among them.
    """

    plan: Planned | None
    left: tuple[PlanStep, ...]
    misfits: tuple[str, ...]

    @property
    def fits(self) -> bool:
        """Whether what is left can be done in this order."""
        return self.plan is not None and not self.misfits


def plan_progress(work: Work) -> PlanProgress:
    """Read how far the plan has come."""
    followed = taken(work)
    if followed is None:
        unread = _("the order of work that was taken cannot be read any more")
        words = unread if work.state.plan else _("no order of work has been taken")
        return PlanProgress(None, (), (words,))
    order = followed.answer.steps
    left = steps_left(work.book, work.state, work.entries, followed.jobs, order)
    violation = misfits(
        work.book, work.state, left, followed.problem, followed.jobs, followed.later
    )
    if violation:
        idle = for_nothing(work.book, work.state, left, followed.jobs)
        left = tuple(step for step in left if step not in idle)
    return PlanProgress(followed, left, tuple(violation))


def jobs_served(work: Work, followed: Planned | None, step: str) -> list[str]:
    """The jobs to be done that an access step is for, by the order followed; none where it is for none of them."""
    order = followed.answer.steps if followed else ()
    needing = (StepId(name).job for one in order if one.name == step for name in one.for_)
    wanted = to_do(work.book, work.state)
    return [job for job in dict.fromkeys(needing) if job in wanted]


def new_order(work: Work) -> Planned:
    """The best order of what is left of the jobs taken on, from where the machine stands now.

    Jobs that the order now followed left for later come in as soon as they can be done.
    """
    followed, wanted = taken(work), to_do(work.book, work.state)
    later = [job for job in wanted if followed and job in followed.later]
    whole = ordered(work, wanted)
    if whole.possible or not later:
        return whole
    return without(work, wanted, later)
