"""The machines in the shop planned together: each from where it stands now, people and lifts shared."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from functools import cached_property
from typing import Any

import rfc8785
from django.utils.translation import gettext as _

from witnessmark import planner
from witnessmark.errors import WitnessError
from witnessmark.planner import Board, search_seconds
from witnessmark.shop import solved
from witnessmark.shop.forms import in_words
from witnessmark.shop.models import Member, VisitSummary
from witnessmark.shop.scope import Desk
from witnessmark.shop.work.crew import Crew, crew_of
from witnessmark.shop.work.held_up import can_go_on, held_up
from witnessmark.shop.work.planning import Likeliest, likeliest, to_do
from witnessmark.shop.work.solving import key_of
from witnessmark.shop.work.visit import Work, read


@dataclass(frozen=True)
class Machine:
    """A machine with work that can be done; ``name``: what the plan calls it.

    ``jobs``: all with steps left, those that wait too, for the machine may stand open until they can go on.
    """

    name: str
    work: Work
    jobs: tuple[str, ...]
    wanted_by: date | None

    @property
    def texts(self) -> list[str]:
        """What can be done on it."""
        return [self.work.book.jobs[job].text for job in can_go_on(self.work)]

    @cached_property
    def waits(self) -> list[str]:
        """What else on it waits, so that it is not ready when this is done."""
        return held_up(self.work)


@dataclass(frozen=True)
class Day:
    """Who works on which machines from when on; ``left_out``: machines with the reason they are not planned."""

    begin: datetime
    members: tuple[Member, ...]
    machines: tuple[Machine, ...]
    left_out: tuple[tuple[Work, str], ...] = ()
    shop_resources: dict[str, int] = field(default_factory=dict)
    change_minutes: float = 0.0

    @property
    def jobs(self) -> int:
        """How many jobs there are to be done."""
        return sum(len(machine.texts) for machine in self.machines)

    @cached_property
    def crew(self) -> Crew:
        """The people with their shifts."""
        return crew_of(self.members, self.begin)

    @cached_property
    def cases(self) -> dict[str, Likeliest]:
        """Per machine what is planned of it. Raises WitnessError where a machine allows no order."""
        found = {}
        for machine in self.machines:
            try:
                found[machine.name] = likeliest(machine.work, machine.jobs, self.crew)
            except WitnessError as error:
                look = _("look at its order of work")
                raise WitnessError(machine.name, in_words(error), look) from None
        return found

    def at(self, minute: float) -> datetime:
        """The time of a minute of the plan."""
        return self.begin + timedelta(minutes=minute)


def day_of(desk: Desk, members: Sequence[Member], begin: datetime) -> Day:
    """Everything in the shop that is not handed back."""
    rows = desk.all(VisitSummary).filter(handed_back_at=None).select_related(
        "visit__machine__owner", "visit__machine__book", "visit__shop"
    ).order_by("arrived_at", "visit__number")  # fmt: skip
    machines, left_out = [], []
    for row in rows:
        work = read(row.visit)
        jobs, why = _jobs(work)
        if jobs:
            machines.append(Machine(_name(work), work, jobs, row.wanted_by))
        else:
            left_out.append((work, why))
    shop = desk.shop
    return Day(
        begin,
        tuple(members),
        tuple(machines),
        tuple(left_out),
        {**shop.resources, "lift": shop.lifts},
        float(shop.change_minutes),
    )


def _jobs(work: Work) -> tuple[tuple[str, ...], str]:
    """The jobs with steps left, of which some can be done; else why there is nothing to plan."""
    if work.state.book is None:
        return (), _("no service book is pinned to it")
    if not work.state.taken:
        return (), _("nothing is booked")
    jobs = to_do(work)
    if not jobs:
        return (), _("nothing is agreed")
    over = work.state.over
    left = [j for j in jobs if {f"{j}/{n}" for n in work.book.jobs[j].operations} - over]
    if not left:
        return (), _("its work is done")
    return tuple(jobs) if can_go_on(work) else (), "; ".join(held_up(work))


def _name(work: Work) -> str:
    return f"{work.visit.number} {work.machine.plate or work.machine}".strip()


def worked_out(day: Day) -> Board:
    """The plan for all of them, checked; worked out once.

    Raises WitnessError where a machine allows no order, or where they stand on more lifts than there are.
    """
    visits = list(_visits(day))
    resources = _wanted(visits, day)
    _see_that_there_is_enough(visits, resources)
    asked: list[Any] = [
        [[v.machine, v.problem.model_dump(mode="json"), v.due_by] for v in visits],
        [one.model_dump(mode="json") for one in day.crew.technicians],
        [day.crew.clock, day.shop_resources, day.change_minutes],
    ]
    key = key_of("board", rfc8785.dumps(asked))
    found = solved.get(key, Board)
    if found is None:
        found = planner.plan_board(
            visits,
            day.crew.technicians,
            resources=resources,
            change_minutes=day.change_minutes,
            clock=day.crew.clock,
            deterministic_limit=search_seconds.MACHINES_TOGETHER,
        )
        solved.keep(key, Board, found)
    return found


def _wanted(visits: Sequence[planner.MachineWork], day: Day) -> dict[str, int]:
    """What the shop has of the resources that some machine asks for."""
    named = {name for visit in visits for name in visit.problem.resources}
    return {name: units for name, units in day.shop_resources.items() if name in named}


def _see_that_there_is_enough(
    visits: Sequence[planner.MachineWork], resources: Mapping[str, int]
) -> None:
    """Refuse what no plan can begin with: more lifts taken now than the shop has."""
    for name, units in resources.items():
        taken = {visit.machine: _taken_now(visit.problem, name) for visit in visits}
        if sum(taken.values()) > units:
            raise WitnessError(
                name,
                _("“{name}”: {taken} taken now, by {machines}; the shop has {units}").format(
                    name=name,
                    taken=sum(taken.values()),
                    machines=", ".join(machine for machine, held in taken.items() if held),
                    units=units,
                ),
                _("say at Lifts and room how many there are, or at the bench what came down"),
            )


def _taken_now(problem: planner.Problem, resource: str) -> int:
    """Units of a resource that a machine takes as it stands."""
    return sum(
        condition.holds.get(problem.start_state(name), {}).get(resource, 0)
        for name, condition in problem.conditions.items()
    )


def _visits(day: Day) -> Iterator[planner.MachineWork]:
    for machine in day.machines:
        problem = day.cases[machine.name].problem
        yield planner.MachineWork(machine.name, problem, due_by=_due(machine, day))


def _due(machine: Machine, day: Day) -> float | None:
    """The end of the last shift of the day it is wanted by; of the day itself where no hours are set."""
    if machine.wanted_by is None:
        return None
    ends = [
        end for one in day.members if machine.wanted_by.weekday() in one.weekdays for _, end in one.hours
    ]  # fmt: skip
    midnight = datetime.combine(machine.wanted_by, time(), day.begin.tzinfo)
    wanted = midnight + timedelta(minutes=max(ends, default=1440))
    return max(0.0, (wanted - day.begin).total_seconds() // 60)
