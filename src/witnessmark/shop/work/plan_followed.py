"""Where a visit stands in the plan it follows: what is left, whether it still fits, and what a new one would be."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from witnessmark.ledger.work_left import misfits, steps_left, to_do
from witnessmark.planner import PlanStep
from witnessmark.shop.work.planning import Planned, planned, taken, without
from witnessmark.shop.work.visit import Work


@dataclass(frozen=True)
class PlanProgress:
    """The plan followed, the steps of it that are left, and why they can no longer be followed as they stand."""

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
    return PlanProgress(followed, left, tuple(violation))


def new_order(work: Work) -> Planned:
    """The best order of what is left of the jobs taken on, from where the machine stands now.

    Jobs that the order now followed left for later come in as soon as they can be done.
    """
    followed, wanted = taken(work), to_do(work.book, work.state)
    later = [job for job in wanted if followed and job in followed.later]
    whole = planned(work, wanted)
    if whole.possible or not later:
        return whole
    return without(work, wanted, later)
