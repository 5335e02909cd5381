"""Where a visit stands in the plan it follows: what is left, whether it still fits, and what a new one would be."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.book.riding import rides_after
from witnessmark.ledger.bench_bodies import Done
from witnessmark.planner.plan import PlanStep
from witnessmark.shop.work.cards import in_words
from witnessmark.shop.work.planning import Planned, planned, stuck, taken, to_do, without
from witnessmark.shop.work.visit import Work


@dataclass(frozen=True)
class Course:
    """The plan followed, the steps of it that are left, and why they can no longer be followed as they stand."""

    plan: Planned | None
    left: tuple[PlanStep, ...]
    misfits: tuple[str, ...]

    @property
    def fits(self) -> bool:
        """Whether what is left can be done in this order."""
        return self.plan is not None and not self.misfits


def course_of(work: Work) -> Course:
    """Read how far the plan has come."""
    followed = taken(work)
    if followed is None:
        return Course(None, (), ("no order of work has been taken",))
    left = _left(work, followed)
    return Course(followed, left, tuple(_misfits(work, followed, left)))


def new_order(work: Work) -> Planned:
    """The best order of what is left of the jobs taken on, from where the machine stands now.

    Jobs that the order now followed left for later come in as soon as they can be done.
    """
    followed, wanted = taken(work), to_do(work)
    later = [job for job in wanted if followed and job in followed.later]
    whole = planned(work, wanted)
    if whole.possible or not later:
        return whole
    return without(work, wanted, later)


def _left(work: Work, followed: Planned) -> tuple[PlanStep, ...]:
    """Operations not over, and copies of access steps not yet used up since this plan was taken."""
    over = {*work.state.done, *work.state.not_done, *stuck(work, followed.jobs)}
    used = _done_since(work)
    rides = rides_after(work.book)
    looks_back = {*rides, *(name for behind in rides.values() for name in behind)}
    left = []
    for step in followed.answer.steps:
        if step.kind == "operation":
            # A ride done before this plan was taken is in it once more: work it has not seen is to come.
            again = step.name in looks_back and step.name in work.state.done
            if step.name not in over or (again and not used[step.name]):
                left.append(step)
        elif used[step.name]:
            used[step.name] -= 1
        else:
            left.append(step)
    return tuple(left)


def _done_since(work: Work) -> Counter[str]:
    """How often each step was confirmed since the plan was taken; what was undone does not count."""
    undone = {line.entry for line in work.state.history if line.undone}
    count: Counter[str] = Counter()
    for entry in work.entries:
        if entry.kind == "plan_taken":
            count.clear()
        elif entry.kind == "done" and entry.id not in undone:
            said = entry.said
            assert isinstance(said, Done)
            count.update((*said.along, said.step))
    return count


def _misfits(work: Work, followed: Planned, left: Sequence[PlanStep]) -> list[str]:
    """The first step that the order cannot come to, and jobs that are in one and not in the other."""
    wanted = to_do(work)
    wrong = [
        f"“{work.book.jobs[job].text}” is to be done and is not in this order"
        for job in wanted
        if job not in followed.jobs and (job not in followed.later or not left)
    ]
    wrong += [
        f"“{work.book.jobs[job].text}” is in this order and is no longer to be done"
        for job in followed.jobs
        if job not in wanted and any(step.name.startswith(f"{job}/") for step in left)
    ]
    return wrong or _first_unmet(work, left)


def _first_unmet(work: Work, left: Sequence[PlanStep]) -> list[str]:
    states = dict(work.state.states)
    for planned_step in left:
        step = work.steps[planned_step.name]
        for condition, allowed in step.needs.items():
            now = states.get(condition, work.book.conditions[condition].start)
            if now not in allowed and not _lapses_to(work, condition, now, allowed):
                return [
                    f"{in_words(work.book, condition, now)}; “{step.text}” would find it otherwise"
                ]
        states |= step.sets
    return [
        f"{in_words(work.book, name, states[name])} would be left so"
        for name, condition in work.book.conditions.items()
        if condition.finish not in (None, "as found") and states.get(name, condition.finish) != condition.finish
        and not _lapses_to(work, name, states[name], [condition.finish or ""])
    ]  # fmt: skip


def _lapses_to(work: Work, condition: str, state: str, wanted: Sequence[str]) -> bool:
    """Whether a state becomes a wanted one by itself."""
    lapse, seen = work.book.conditions[condition].lapse, {state}
    while state in lapse and (state := lapse[state].to) not in seen:
        if state in wanted:
            return True
        seen.add(state)
    return False
