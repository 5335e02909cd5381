"""A plan as the page shows it: rows with reasons and times, the kit, or why there is no order and what to do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from string import ascii_uppercase

from django.utils.translation import gettext as _

from witnessmark.book.select import job_of
from witnessmark.charts.order import Bar, ChartRow, meanwhile, order_picture
from witnessmark.errors import WitnessError
from witnessmark.kit import FluidNeed, Kit
from witnessmark.kit.wording import packs_in_words, pours_in_words, refused_in_words
from witnessmark.planner import (
    PlanStep,
    Wait,
    Wish,
    clock,
    conflict_of_book,
    jobs_served,
    lasting,
    proof,
    range_in_words,
    slack,
    spread,
    state_in_words,
    waits_in_words,
    waits_of_each_in_words,
)
from witnessmark.shop.dates import moment_text, time_text
from witnessmark.shop.forms import in_words
from witnessmark.shop.pages.order.by_the_clock import closed_up, ready_at
from witnessmark.shop.pages.order.stretches import stretches
from witnessmark.shop.pages.order.why import Why, why
from witnessmark.shop.work import planning
from witnessmark.shop.work.branches import BranchShown, TreeShown, others, tree_shown
from witnessmark.shop.work.cards import card_of, torque_words
from witnessmark.shop.work.crew import ONE, Crew
from witnessmark.shop.work.held_up import held_up, stays_so, waits_too
from witnessmark.shop.work.plan_followed import plan_progress
from witnessmark.shop.work.planned import Fork, Planned
from witnessmark.shop.work.planning import from_now
from witnessmark.shop.work.pricing import laid_out
from witnessmark.shop.work.visit import Work
from witnessmark.shop.work.waits_now import waits_of
from witnessmark.units import System, show

WIDTHS = {"on-tablet": 880, "on-phone": 340}  # class: pixels


@dataclass(frozen=True)
class OrderRow:
    """One step of the order, or a wait before it."""

    number: int
    words: str
    start: str
    lasts: str
    access: bool = False
    served: str = ""  # of an access step: the jobs it is done for
    job: str = ""
    place: str = ""
    tail: str = ""  # what goes on by itself afterwards
    needs_first: tuple[str, ...] = ()  # what must be over before it
    why: tuple[str, ...] = ()  # why it stands where it stands, besides
    torque: str = ""  # what its first fastener is made tight to
    over: str = ""
    wait: str = ""  # what there is to wait for before it
    who: str = ""  # where several work on it


@dataclass(frozen=True)
class Opened:
    """A stretch of the order with its steps; a letter names it, since its steps have numbers."""

    letter: str
    words: str
    start: str
    lasts: str
    rows: tuple[OrderRow, ...]
    branches: tuple[BranchShown, ...] = ()  # of other answers, where a reading in it decides

    @property
    def last(self) -> int:
        """The number of its last step."""
        return self.rows[-1].number

    @property
    def over(self) -> bool:
        """Whether each of its steps is done or left out."""
        return all(row.over and row.over != "not tight" for row in self.rows)


@dataclass(frozen=True)
class Stand:
    """A state the machine may have reached meanwhile, to be said with one tap."""

    condition: str
    state: str
    words: str


@dataclass(frozen=True)
class Leaving:
    """The order without one job, where all together cannot be had."""

    job: str
    words: str
    lasts: str


@dataclass(frozen=True)
class OrderView:
    """The order of work of a visit: the one followed, or the best for what is to be done now.

    ``crew``: who works on it, by choice of who looks; ``asked``: whether that, or a ``wish``, was asked for, so
    that the order followed is not shown.
    """

    work: Work
    later: tuple[str, ...] = ()
    crew: Crew = ONE
    wish: Wish | None = None
    asked: bool = False

    @cached_property
    def jobs(self) -> list[str]:
        """What is to be done."""
        return planning.to_do(self.work)

    @cached_property
    def followed(self) -> Planned | None:
        """The order taken, where it still fits."""
        course = plan_progress(self.work) if self.work.state.plan else None
        fits = course and course.fits and not self.later and not self.asked
        return course.plan if course and fits else None

    @cached_property
    def plan(self) -> Planned:
        """The order shown. Raises WitnessError where the states found do not allow one."""
        return self.followed or planning.without(
            self.work, self.jobs, self.later, self.crew, self.wish
        )

    @property
    def must_plan(self) -> bool:
        """Whether the order has yet to be worked out, which takes some seconds."""
        if not self.jobs or self.followed:
            return False
        try:
            jobs = [job for job in self.jobs if job not in self.later]
            return not planning.order_is_known(self.work, jobs, self.crew, self.wish)
        except WitnessError:
            return False  # told by `fault`

    @cached_property
    def fault(self) -> str:
        """Why there is nothing to show, in words."""
        try:
            _made = self.plan
        except WitnessError as error:
            return in_words(error)
        return ""

    @property
    def possible(self) -> bool:
        """Whether there is an order to show."""
        return bool(self.jobs) and not self.fault and self.plan.possible

    def _read(self, fork: Fork) -> bool:
        """Whether a reading has decided already."""
        return all(name in self.work.state.answers for name in fork.names)

    @cached_property
    def tree(self) -> TreeShown | None:
        """What is known of it where readings decide."""
        return tree_shown(self.work, self.plan)

    @property
    def proof(self) -> str:
        """What is proven of it."""
        return self.tree.proof if self.tree else proof(self.plan.answer)

    @property
    def ready_in(self) -> str:
        """How long what is left takes; all of it, where nothing is."""
        left = self._to_come or self.plan.answer.steps
        return lasting(max((step.tail_end for step in left), default=0))

    @cached_property
    def _to_come(self) -> tuple[PlanStep, ...]:
        """What is left, in minutes from its beginning; nothing once all is done."""
        if not self.followed:
            return self.plan.answer.steps
        if not self._left:
            return ()
        begin = min(step.start for step in self._left)
        over = [s for s in self.plan.answer.steps if s not in self._left and s.start >= begin]
        waits = {wait.step: wait.seconds_left / 60 for wait in waits_of(self.work)}
        return from_now(closed_up(self._left, over, waits))

    @cached_property
    def held_up(self) -> list[str]:
        """What waits for a part, or for another answer, so that the machine is not ready when this is done."""
        return [] if self.work.closed else held_up(self.work)

    @cached_property
    def waits_too(self) -> list[str]:
        """The jobs that wait with it."""
        return waits_too(self.work) if self.held_up else []

    @property
    def stays_so(self) -> list[str]:
        """How the machine stays until that has its answer."""
        return stays_so(self.work, self.plan) if self.held_up else []

    def ready_by(self, begin: datetime, crew: Crew) -> str:
        """When what is left is done, if work goes on at ``begin``; empty where nothing is left.

        Past midnight only the hours of who works can tell; without them no time of day is named.
        """
        if self.work.closed or not self._to_come:
            return ""
        at = ready_at(self._to_come, crew, begin)
        if at.date() == begin.date():
            return time_text(at)
        return moment_text(at) if all(one.shifts is not None for one in crew.technicians) else ""

    @cached_property
    def within(self) -> str:
        """How long it takes at least and at most, since real times vary."""
        found = spread(self.plan.problem, self.plan.answer)
        return range_in_words(found.finish, lasting) if found else ""

    @property
    def several(self) -> bool:
        """Whether several people work on it."""
        return len({name for step in self.plan.answer.steps for name in step.technicians}) > 1

    @property
    def labour(self) -> str:
        """How much of it is labour."""
        return lasting(self.plan.answer.attended_minutes or 0)

    @cached_property
    def _left(self) -> tuple[PlanStep, ...]:
        """Steps to come: a ride done before and made void is among them once more."""
        return plan_progress(self.work).left

    @cached_property
    def _waits(self) -> list[tuple[Wait, str]]:
        return waits_in_words(self.work.book, self.plan.problem, self.plan.answer)

    @property
    def last_wait(self) -> str:
        """What there is to wait for at the end."""
        return next((words for wait, words in self._waits if wait.before is None), "")

    @cached_property
    def _job_of(self) -> dict[str, str]:
        return {step.name: job_of(step.name) for step in self.plan.answer.steps}

    @cached_property
    def stretches(self) -> list[Opened]:
        """The order in a dozen stretches at most."""
        book, rows = self.work.book, list(self._rows())
        texts = {job: one.text for job, one in book.jobs.items()}
        texts |= {name: step.text for name, step in self.work.steps.items()}
        return [
            Opened(
                letter,
                one.words,
                clock(one.begin),
                lasting(one.end - one.begin),
                tuple(rows[one.first : one.last + 1]),
                tuple(
                    branch
                    for fork in self.plan.forks
                    if one.first < fork.place <= one.last + 1 and not self._read(fork)
                    for branch in others(self.work, fork)
                ),
            )
            for letter, one in zip(
                ascii_uppercase,
                stretches(self.plan.answer.steps, self._job_of, texts),
                strict=False,
            )
        ]

    def pictures(self) -> list[tuple[str, str]]:
        """The timeline for a tablet and for a phone: a class and the SVG text."""
        answer, book = self.plan.answer, self.work.book
        conditions = {name: (one.text, one.state_words) for name, one in book.conditions.items()}
        texts = {name: (step.text, step.waits_for) for name, step in self.work.steps.items()}
        rows = [*self._work_rows(), *meanwhile(self.plan.problem, answer, conditions, texts)]
        finish = answer.finish_minutes or 0
        title = _(
            "Timeline: the stretches below by their letter, and what is open or runs by itself"
        )
        return [
            (name, order_picture(title, rows, finish, width_px=width))
            for name, width in WIDTHS.items()
        ]

    def _work_rows(self) -> Iterator[ChartRow]:
        """Each stretch as a bar of whoever works in it."""
        people: dict[str, list[Bar]] = {}
        for one in self.stretches:
            spent: dict[str, list[PlanStep]] = {}
            for row in one.rows:
                step = self.plan.answer.steps[row.number - 1]
                for name in step.technicians:
                    spent.setdefault(name, []).append(step)
            for name, steps in spent.items():
                bar = Bar(steps[0].start, max(s.end for s in steps), one.letter)
                people.setdefault(name, []).append(bar)
        for name, bars in sorted(people.items()):
            yield ChartRow(name if self.several else _("Work"), tuple(bars), work=True)

    def _rows(self) -> Iterator[OrderRow]:
        """The steps in order, each with the wait before it."""
        made = self.plan
        waits = {(wait.before, wait.end): words for wait, words in self._waits}
        for wait, words in waits_of_each_in_words(self.work.book, made.problem, made.answer):
            key = (wait.before, wait.end)
            waits[key] = f"{waits[key]}; {words}" if key in waits else words
        rooms = slack(made.problem, made.answer)
        for number, (step, within) in enumerate(zip(made.answer.steps, rooms, strict=True), 1):
            reasons = why(self.work, made.answer.steps, number - 1, within)
            yield self._row(number, step, reasons, waits.get((step.name, step.start), ""))

    def _row(self, number: int, planned: PlanStep, reasons: Why, wait: str) -> OrderRow:
        card = card_of(self.work, planned.name)
        step, job = self.work.steps[planned.name], job_of(planned.name)
        state = self.work.state.steps.get(planned.name) if self.followed else None
        again = state is not None and state.status in ("done", "again") and planned in self._left
        alone = planned.tail_end - planned.end
        tail = _("then {alone} by itself").format(alone=lasting(alone)) if alone > 0 else ""
        return OrderRow(
            number=number,
            words=step.text,
            start=clock(planned.start),
            lasts=lasting(planned.end - planned.start),
            access=not job,
            served=_some(jobs_served(self.work.book, planned)) if not job else "",
            job=self.work.book.jobs[job].text if job else "",
            place=step.place,
            tail=f"{tail}: {step.waits_for}" if tail and step.waits_for else tail,
            needs_first=reasons.needs_first,
            why=reasons.besides,
            torque=torque_words(card.to_tighten),
            over=card.stands if state and job and not again else "",
            wait=wait,
            who=" and ".join(planned.technicians) if self.several else "",
        )

    # ---------------------------------------------------------------- where there is none

    @property
    def conflict(self) -> list[str]:
        """What cannot be had together."""
        made = self.plan
        return conflict_of_book(self.work.book, made.problem, made.answer.conflict or ())

    def leavings(self) -> Iterator[Leaving]:
        """The jobs of the conflict; without which of them there is an order."""
        for job in self._jobs_in_conflict():
            rest = planning.without(self.work, self.jobs, [*self.later, job], self.crew)
            if rest.possible and rest.jobs:
                words, minutes = self.work.book.jobs[job].text, rest.answer.finish_minutes or 0
                yield Leaving(job, words, lasting(minutes))

    def _jobs_in_conflict(self) -> list[str]:
        members = self.plan.answer.conflict or ()
        names = (job_of(m.name or "") for m in members if m.kind == "operation")
        return [job for job in dict.fromkeys(names) if job]

    def stands(self) -> Iterator[Stand]:
        """States that steps of the conflict need and that no step brings about: they come by themselves."""
        problem, book = self.plan.problem, self.work.book
        reached = {(name, state) for step in problem.steps for name, state in step.sets.items()}
        seen: set[tuple[str, str]] = set()
        for member in self.plan.answer.conflict or ():
            if member.kind != "operation":
                continue
            for name, allowed in problem.step(member.name or "").needs.items():
                now = self.work.state.states.get(name, book.conditions[name].start)
                if now in allowed or any((name, state) in reached for state in allowed):
                    continue
                for state in allowed:
                    if (name, state) not in seen:
                        seen.add((name, state))
                        yield Stand(name, state, state_in_words(book, name, [state]))


def _some(names: Sequence[str], most: int = 4) -> str:
    """The first few names, and how many more."""
    more = f" and {len(names) - most + 1} more" if len(names) > most else ""
    return ", ".join(names[: most - 1] if more else names) + more


@dataclass(frozen=True)
class FluidShown:
    """A fluid of the kit in words."""

    words: str
    volume: str
    grade: str
    open: str  # packs to open
    how: tuple[str, ...]  # strokes, stages
    refused: tuple[str, ...] = ()  # bottles of the shelf that this machine does not allow, and why


def kit_of(work: Work, made: Planned) -> Kit:
    """What must lie ready for a plan, whatever its readings tell."""
    return laid_out(work, made.every_step)


def fluids_shown(work: Work, needs: Sequence[FluidNeed], system: System) -> Iterator[FluidShown]:
    """The fluids with packs, strokes and stages."""
    for need in needs:
        yield FluidShown(
            words=need.text,
            volume=show(need.volume_ml, "volume", system)
            if need.volume_ml
            else _("volume not known"),
            grade=need.grade or "",
            open=packs_in_words(need, system),
            how=tuple(pours_in_words(work.book, need, system)),
            refused=tuple(refused_in_words(need)),
        )
