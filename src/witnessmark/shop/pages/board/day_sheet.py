"""The day's plan as a ruled sheet: a row for each technician, hours across, and the same in words."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property

from django.utils.safestring import mark_safe
from django.utils.text import Truncator
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from witnessmark.book.select import job_of
from witnessmark.charts.drawing import box, drawing, line, words
from witnessmark.planner import Alternative, Board, PlanStep, Range, lasting, range_in_words, spread
from witnessmark.shop.dates import moment_text, time_text
from witnessmark.shop.pages.board.together import Day, Machine
from witnessmark.shop.templatetags.in_every_template import named
from witnessmark.shop.work.branches import alternatives
from witnessmark.shop.work.pricing import laid_out

JOINED = 10.0  # minutes: a shorter break on the same machine is no end of a block
PX_PER_HOUR = 96
NAME_PX, ROW_PX, HEAD_PX = 116, 76, 34
TIMES_PX = 86  # of a block wide enough for its times
MOST_HOURS = 12  # drawn; what comes later is told in words


@dataclass(frozen=True)
class Block:
    """One technician at one machine, from when to when, for which jobs."""

    number: int
    machine: str
    jobs: tuple[str, ...]
    begin: float
    end: float
    since: str
    until: str


@dataclass(frozen=True)
class Person:
    """One technician's day."""

    name: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Ready:
    """When one machine is ready, or what can be done on it is done, and whether that is late."""

    number: int
    machine: Machine
    at: str
    within: str
    late: str
    waits: tuple[str, ...] = ()  # it is not ready then: what it waits for
    otherwise: tuple[str, ...] = ()  # what other answers than the likeliest cost
    average: str = ""  # that, by their chances
    short: tuple[str, ...] = ()  # parts and fluids that are not on the shelf


@dataclass(frozen=True)
class Sheet:
    """A board as it is shown."""

    day: Day
    board: Board

    @property
    def possible(self) -> bool:
        """Whether there is a plan."""
        return bool(self.board.answer.steps)

    @property
    def why_not(self) -> str:
        """Why there is none."""
        if self.board.answer.status == "impossible":
            return _(
                "Not all of this can be done: there is no order for these machines and people."
            )
        return _("No plan was found in the time the planner takes, and none was ruled out.")

    @property
    def over(self) -> str:
        """When all is done."""
        return self._time(self.board.answer.finish_minutes or 0)

    @property
    def waits(self) -> bool:
        """Whether some machine is not ready then."""
        return any(machine.waits for machine in self.day.machines)

    @property
    def work(self) -> str:
        """Labour in all."""
        return lasting(self.board.answer.attended_minutes or 0)

    @property
    def gap(self) -> str:
        """How near to the best it is, in words."""
        gap, answer = self.board.gap, self.board.answer
        if gap is None:
            return _("How near this is to the best plan is not known.")
        if not gap:
            return _("Proven: no plan for these machines and people finishes sooner.")
        finish, bound = answer.finish_minutes or 0, answer.finish_bound or 0
        return _(
            "Not proven best: another plan might finish sooner, by {time} at most ({percent:.1f} "
            "%). Proven: none finishes before {bound}."
        ).format(
            time=lasting(math.ceil(finish - bound)),
            percent=max(0.1, gap * 100),
            bound=self._time(bound),
        )

    @cached_property
    def _numbers(self) -> dict[str, int]:
        return {machine.name: n for n, machine in enumerate(self.day.machines, start=1)}

    def ready(self) -> Iterator[Ready]:
        """Each machine, with its range."""
        found = spread(self.board.problem, self.board.answer)
        ranges: dict[str, Range] = found.ready if found else {}
        for machine in self.day.machines:
            minute = self.board.ready.get(machine.name)
            late = self.board.answer.late.get(machine.name, 0)
            tree = self.day.cases[machine.name].tree
            told = machine.name in ranges and not machine.waits
            yield Ready(
                self._numbers[machine.name],
                machine,
                "" if minute is None else self._time(minute),
                range_in_words(ranges[machine.name], self._time) if told else "",
                _("{late} after it is wanted").format(late=_long(late)) if late else "",
                tuple(machine.waits),
                tuple(alternatives(machine.work, tree.alternatives)) if tree else (),
                _average(tree.alternatives) if tree else "",
                tuple(self._short(machine)),
            )

    def _short(self, machine: Machine) -> Iterator[str]:
        """What its steps need and the shelf lacks."""
        answer, before = self.board.answer, f"{machine.name}: "
        own = tuple(
            step.model_copy(update={"name": step.name.removeprefix(before)})
            for step in answer.steps
            if self.board.problem.step(step.name).machine == machine.name
        )
        laid = laid_out(machine.work, answer.model_copy(update={"steps": own}))
        return (one.words for one in laid.missing if one.kind in ("part", "fluid"))

    @cached_property
    def people(self) -> list[Person]:
        """Each technician with what they do; those with nothing to do too."""
        return [self._person(one.name) for one in self.day.crew.technicians]

    def _person(self, name: str) -> Person:
        steps = [s for s in self.board.answer.steps if name in s.technicians and s.end > s.start]
        return Person(name, tuple(self._blocks(steps)))

    def _blocks(self, steps: list[PlanStep]) -> Iterator[Block]:
        together: list[PlanStep] = []
        for step in steps:
            machine = self.board.problem.step(step.name).machine
            if together and (
                machine != self.board.problem.step(together[-1].name).machine
                or step.start - together[-1].end > JOINED
            ):
                yield self._block(together)
                together = []
            together.append(step)
        if together:
            yield self._block(together)

    def _block(self, steps: list[PlanStep]) -> Block:
        name = self.board.problem.step(steps[0].name).machine or ""
        machine = next(one for one in self.day.machines if one.name == name)
        own = [step.name for step in steps if step.kind == "operation"]
        served = own or [n for step in steps for n in step.for_]  # of access alone: what it is for
        jobs = dict.fromkeys(job_of(n.removeprefix(f"{name}: ")) for n in served)
        begin, end = steps[0].start, steps[-1].end
        return Block(
            self._numbers[name],
            named(machine.work.machine),
            tuple(machine.work.book.jobs[job].text for job in jobs if job),
            begin,
            end,
            self._time(begin),
            self._time(end),
        )

    def _drawn(self, blocks: tuple[Block, ...]) -> Iterator[tuple[float, float, Block]]:
        """Left edge and width of each block that is drawn, in pixels."""
        for block in blocks:
            if block.begin < self.minutes_drawn:
                left, expected = self._x(block.begin), self._x(min(block.end, self.minutes_drawn))
                yield left, max(2.0, expected - left), block

    # ---------------------------------------------------------------- the ruled sheet

    @cached_property
    def minutes_drawn(self) -> float:
        """Up to the full hour after the finish, within what is drawn."""
        finish = min(self.board.answer.finish_minutes or 60, MOST_HOURS * 60)
        return finish + 60 - (self.day.begin.minute + finish) % 60

    @property
    def picture(self) -> str:
        """The sheet as SVG: a row for each technician, hours across, machines by their numbers."""
        width = self._x(self.minutes_drawn) + 30
        height = HEAD_PX + len(self.people) * ROW_PX + 8
        title = _(
            "A row for each technician, hours across; the numbers are those of the machines below"
        )
        shapes = [*self._hours(height), *self._rows(width)]
        return mark_safe(drawing(title, width, height, *shapes))  # noqa: S308 - ours, and escaped

    def _hours(self, height: float) -> Iterator[str]:
        at = self.day.begin.replace(minute=0)
        while (minute := (at - self.day.begin).total_seconds() / 60) <= self.minutes_drawn:
            if minute >= 0:
                yield line(self._x(minute), 24, self._x(minute), height, thick=0.5)
                yield words(self._x(minute), 17, time_text(at), anchor="middle")
            at += timedelta(hours=1)

    def _rows(self, width: float) -> Iterator[str]:
        for place, person in enumerate(self.people):
            y = HEAD_PX + place * ROW_PX
            yield line(0, y, width, y, thick=1.5)
            yield words(0, y + 44, Truncator(person.name).chars(13))
            for x, wide, block in self._drawn(person.blocks):
                middle, times = x + wide / 2, wide > TIMES_PX
                yield box(x, y + 18, wide, 42)
                if wide > 14:
                    number = str(block.number)
                    yield words(middle, y + (38 if times else 46), number, anchor="middle", size=19)
                if times:
                    said = f"{block.since}–{block.until}"
                    yield words(middle, y + 54, said, anchor="middle", size=12)

    @property
    def cut(self) -> bool:
        """Whether it goes on after what is drawn."""
        return (self.board.answer.finish_minutes or 0) > self.minutes_drawn

    def _x(self, minute: float) -> float:
        return round(NAME_PX + minute * PX_PER_HOUR / 60, 1)

    def _time(self, minute: float) -> str:
        at = self.day.at(minute)
        return time_text(at) if _same_day(at, self.day.begin) else moment_text(at)


def _average(others: Sequence[Alternative]) -> str:
    """What readings add to the likeliest on average, each for itself."""
    added = sum(one.probability * one.attended_minutes for one in others)
    return lasting(round(added)) if round(added) > 0 else ""


def _same_day(at: datetime, begin: datetime) -> bool:
    return at.date() == begin.date()


def _long(minutes: float) -> str:
    days = int(minutes // 1440)
    if not days:
        return lasting(minutes)
    return ngettext("{n} day and more", "{n} days and more", days).format(n=days)
