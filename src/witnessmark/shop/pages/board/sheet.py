"""The day's plan as a ruled sheet: a row for each technician, hours across, and the same in words."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property

from witnessmark.planner import Board, PlanStep, Range, job_of, lasting, range_in_words, spread
from witnessmark.shop.templatetags.sheet import named
from witnessmark.shop.work.together import Day, Machine

JOINED = 10.0  # minutes: a shorter break on the same machine is no end of a block
PX_PER_HOUR = 96
NAME_PX, ROW_PX, HEAD_PX = 116, 76, 34
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
class Drawn:
    """A block on the sheet, in pixels."""

    block: Block
    x: float
    width: float

    @property
    def middle(self) -> float:
        """Where its number stands."""
        return self.x + self.width / 2

    @property
    def wide(self) -> bool:
        """Whether its times fit in."""
        return self.width > 86


@dataclass(frozen=True)
class Person:
    """One technician's day."""

    name: str
    blocks: tuple[Block, ...]
    drawn: tuple[Drawn, ...]
    y: int

    @property
    def bar_y(self) -> int:
        """Top of his blocks."""
        return self.y + 18


@dataclass(frozen=True)
class Ready:
    """When one machine is ready, and whether that is late."""

    number: int
    machine: Machine
    at: str
    within: str
    late: str


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
            return "Not all of this can be done: there is no order for these machines and people."
        return "No plan was found in the time the planner takes, and none was ruled out."

    @property
    def over(self) -> str:
        """When all is done."""
        return self._time(self.board.answer.finish_minutes or 0)

    @property
    def work(self) -> str:
        """Work of hands in all."""
        return lasting(self.board.answer.attended_minutes or 0)

    @property
    def gap(self) -> str:
        """How near to the best it is, in words."""
        gap, answer = self.board.gap, self.board.answer
        if gap is None:
            return "Nothing is proven of how near to the best it is."
        if not gap:
            return "Proven: no plan for these machines and people is over sooner."
        finish, bound = answer.finish_minutes or 0, answer.finish_bound or 0
        return (
            f"Not proven best: another plan might be over sooner, by {lasting(math.ceil(finish - bound))} at most "
            f"({max(0.1, gap * 100):.1f} %). Proven: none is over before {self._time(bound)}."
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
            yield Ready(
                self._numbers[machine.name],
                machine,
                "" if minute is None else self._time(minute),
                range_in_words(ranges[machine.name], self._time) if machine.name in ranges else "",
                f"{_long(late)} after it is wanted" if late else "",
            )

    @cached_property
    def people(self) -> list[Person]:
        """Each technician with what he does; those with nothing to do too."""
        return [
            self._person(one.name, place) for place, one in enumerate(self.day.crew.technicians)
        ]

    def _person(self, name: str, place: int) -> Person:
        steps = [s for s in self.board.answer.steps if name in s.technicians and s.end > s.start]
        blocks = tuple(self._blocks(steps))
        drawn = tuple(self._drawn(blocks))
        return Person(name, blocks, drawn, HEAD_PX + place * ROW_PX)

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

    def _drawn(self, blocks: tuple[Block, ...]) -> Iterator[Drawn]:
        for block in blocks:
            if block.begin < self.minutes_drawn:
                end = min(block.end, self.minutes_drawn)
                yield Drawn(
                    block, self._x(block.begin), max(2.0, self._x(end) - self._x(block.begin))
                )

    # ---------------------------------------------------------------- the ruled sheet

    @cached_property
    def minutes_drawn(self) -> float:
        """Up to the full hour after the finish, within what is drawn."""
        finish = min(self.board.answer.finish_minutes or 60, MOST_HOURS * 60)
        return finish + 60 - (self.day.begin.minute + finish) % 60

    def hours(self) -> Iterator[tuple[float, str]]:
        """Where the rules of the hours stand, and what they are."""
        at = self.day.begin.replace(minute=0)
        while (minute := (at - self.day.begin).total_seconds() / 60) <= self.minutes_drawn:
            if minute >= 0:
                yield self._x(minute), f"{at:%H:%M}"
            at += timedelta(hours=1)

    @property
    def width(self) -> int:
        """Of the drawing."""
        return int(self._x(self.minutes_drawn)) + 30

    @property
    def height(self) -> int:
        """Of the drawing."""
        return HEAD_PX + len(self.people) * ROW_PX + 8

    @property
    def cut(self) -> bool:
        """Whether it goes on after what is drawn."""
        return (self.board.answer.finish_minutes or 0) > self.minutes_drawn

    def _x(self, minute: float) -> float:
        return round(NAME_PX + minute * PX_PER_HOUR / 60, 1)

    def _time(self, minute: float) -> str:
        at = self.day.at(minute)
        return f"{at:%H:%M}" if _same_day(at, self.day.begin) else f"{at:%a %H:%M}"


def _same_day(at: datetime, begin: datetime) -> bool:
    return at.date() == begin.date()


def _long(minutes: float) -> str:
    days = int(minutes // 1440)
    return lasting(minutes) if not days else f"{days} day{'s' if days > 1 else ''} and more"
