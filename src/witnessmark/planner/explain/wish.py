"""What a wish costs: the best plan that meets it, compared with the best plan without it."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from witnessmark.errors import WitnessError, nearest
from witnessmark.planner.problem.checked import Problem, problem_from
from witnessmark.planner.problem.model import Operation, Technician, tenths
from witnessmark.planner.problem.plan import Answer

WishKind = Literal["first", "before", "ready", "by"]
Solver = Callable[[Problem], Answer]
IN_TIME, TOO_LATE = "in time", "too late"


class WishError(WitnessError):
    """A wish that cannot be read, or names what is not there."""


@dataclass(frozen=True)
class Wish:
    """What should change of the order.

    ``first``: nothing else is begun until this job is over, but what it rests on. ``before``: nothing of
    ``than`` is begun until this job is over. ``ready``: the job, or all where it is empty, is over by ``minute``.
    ``by``: technician ``who`` does its steps that take one technician.
    """

    kind: WishKind
    job: str = ""
    than: str = ""
    minute: float | None = None
    who: str = ""


@dataclass(frozen=True)
class Margin:
    """Minutes that something costs more: as found, and within what it must lie."""

    minutes: float
    least: float
    most: float

    @property
    def proven(self) -> bool:
        """Whether it is known exactly."""
        return self.least == self.most


@dataclass(frozen=True)
class Price:
    """What a wish costs: later by, more work by; both None where it cannot be had, or no plan was found."""

    wish: Wish
    answer: Answer
    later: Margin | None
    more: Margin | None


def price_of_wish(problem: Problem, answer: Answer, wish: Wish, solve: Solver) -> Price:
    """Plan again with the wish held, and compare with ``answer``, the plan of ``problem`` without it.

    Raises WishError for a job or technician the problem does not have.
    """
    held = with_wish(problem, wish)
    wished = solve(held)
    if wished.finish_minutes is None or answer.finish_minutes is None:
        return Price(wish, wished, None, None)
    return Price(
        wish,
        wished,
        _margin(answer.finish_minutes, answer.finish_bound, wished.finish_minutes, wished.finish_bound),
        _work(answer, wished),
    )  # fmt: skip


def _margin(now: float, bound: float | None, then: float, then_bound: float | None) -> Margin:
    """Without the wish it is between ``bound`` and ``now``, with it between ``then_bound`` and ``then``."""
    then_bound = max(then_bound or 0.0, bound or 0.0)  # a wish never makes it better
    least, most = max(0.0, then_bound - now), max(0.0, then - (bound or 0.0))
    return Margin(round(max(0.0, then - now), 1), round(least, 1), round(most, 1))


def _work(answer: Answer, wished: Answer) -> Margin:
    """How much more work the two plans are; each is the least for its finish only where it was proven."""
    more = round((wished.attended_minutes or 0) - (answer.attended_minutes or 0), 1)
    if answer.status == wished.status == "optimal":
        return Margin(more, more, more)
    least = (wished.attended_bound or 0) - (answer.attended_minutes or 0)
    most = (wished.attended_minutes or 0) - (answer.attended_bound or 0)
    return Margin(more, round(min(more, least), 1), round(max(more, most), 1))


# ---------------------------------------------------------------- the wish, as part of the problem


def with_wish(problem: Problem, wish: Wish) -> Problem:
    """The problem in which only plans that hold the wish are sound. Raises WishError."""
    _job_known(problem, wish.job, needed=wish.kind != "ready")
    if wish.kind == "ready":
        return _ready(problem, wish)
    if wish.kind == "by":
        return _done_by(problem, wish)
    others = {operation.job or "" for operation in problem.operations} - {wish.job}
    if wish.kind == "before":
        _job_known(problem, wish.than, needed=True)
        others = {wish.than}
    return _after(problem, wish.job, others)


def _job_known(problem: Problem, job: str, *, needed: bool) -> None:
    jobs = sorted({operation.job for operation in problem.operations if operation.job})
    if job in jobs or not (job or needed):
        return
    like = nearest(job, jobs)
    expected = f'did you mean "{like}"?' if like else f"to be done are {', '.join(jobs) or 'none'}"
    raise WishError("wish", f'no job "{job}" is to be done', expected)


def _after(problem: Problem, job: str, others: Collection[str]) -> Problem:
    """Operations of the others come after all of this job, but those it rests on itself."""
    own = [operation.name for operation in problem.operations if operation.job == job]
    rests = _rests_on(problem, own)
    return _changed(
        problem,
        operations=[
            o.model_copy(update={"after": tuple(dict.fromkeys((*o.after, *own)))})
            if (o.job or "") in others and o.name not in rests
            else o
            for o in problem.operations
        ],
    )


def _rests_on(problem: Problem, names: Iterable[str]) -> set[str]:
    """All that must be over before these, by ``after``."""
    before = {operation.name: operation.after for operation in problem.operations}
    found, new = set[str](), list(names)
    while new:
        for name in before[new.pop()]:
            if name not in found:
                found.add(name)
                new.append(name)
    return found


def _ready(problem: Problem, wish: Wish) -> Problem:
    """A last minute: of all the horizon, of one job a state of the clock that its operations need and that lapses."""
    minute = wish.minute
    if minute is None or minute <= 0:
        raise WishError("wish", "no time to be ready by", "give minutes from the start, above 0")
    if not wish.job:
        last = minute if problem.horizon is None else min(minute, problem.horizon)
        return _changed(problem, horizon=last)
    clock = _unused(f"wish {wish.job}", problem.conditions)
    lapse = {IN_TIME: {"after": minute, "to": TOO_LATE}}
    condition = {"states": [IN_TIME, TOO_LATE], "start": IN_TIME, "lapse": lapse}
    return _changed(
        problem,
        conditions=problem.conditions | {clock: condition},
        operations=[
            o.model_copy(update={"needs": {**o.needs, clock: (IN_TIME,)}}) if o.job == wish.job else o
            for o in problem.operations
        ],
    )  # fmt: skip


def _done_by(problem: Problem, wish: Wish) -> Problem:
    """A skill that only this technician has."""
    names = [technician.name for technician in problem.technicians]
    if wish.who not in names:
        raise WishError("wish", f'no technician "{wish.who}"', f"there are {', '.join(names)}")
    declared = {skill for step in problem.steps for skill in step.skills}
    declared |= {skill for one in problem.technicians for skill in one.skills or ()}
    own = _unused(f"does {wish.job}", dict.fromkeys(declared))
    return _changed(
        problem,
        technicians=[_skilled(one, declared, own, wish.who) for one in problem.technicians],
        operations=[_asking(operation, wish.job, own) for operation in problem.operations],
    )


def _skilled(technician: Technician, declared: Iterable[str], own: str, who: str) -> Technician:
    skills = technician.skills if technician.skills is not None else tuple(sorted(declared))
    more = (own,) if technician.name == who else ()
    return technician.model_copy(update={"skills": (*skills, *more)})


def _asking(operation: Operation, job: str, skill: str) -> Operation:
    if operation.job != job or operation.hands != 1:
        return operation
    return operation.model_copy(update={"skills": (*operation.skills, skill)})


def _unused(name: str, taken: Mapping[str, Any]) -> str:
    while name in taken:
        name += "'"
    return name


def _changed(problem: Problem, **parts: Any) -> Problem:
    data = {name: getattr(problem, name) for name in type(problem).model_fields}
    return problem_from(data | parts, file="wish")


# ---------------------------------------------------------------- reading and saying it


def read_wish(text: str, jobs: Mapping[str, str], technicians: Collection[str] = ()) -> Wish:
    """A wish as it is typed; jobs by their id, or by words of their text where only one has them.

    Examples: ``brakes first``, ``brakes before oil``, ``brakes by 60``, ``ready by 90``, ``brakes with Jonas``.
    Raises WishError.
    """
    typed = " ".join(text.split())
    if found := re.fullmatch(r"(?:all )?(?:ready|over|done) by (.+)", typed, re.IGNORECASE):
        return Wish("ready", minute=_minute(found[1]))
    if found := re.fullmatch(r"(.+?),? first", typed, re.IGNORECASE):
        return Wish("first", _job(found[1], jobs))
    if found := re.fullmatch(r"(.+) before (.+)", typed, re.IGNORECASE):
        return Wish("before", _job(found[1], jobs), than=_job(found[2], jobs))
    if found := re.fullmatch(r"(.+?)(?: ready| over| done)? by (.+)", typed, re.IGNORECASE):
        return Wish("ready", _job(found[1], jobs), minute=_minute(found[2]))
    if found := re.fullmatch(r"(.+) with (.+)", typed, re.IGNORECASE):
        return Wish("by", _job(found[1], jobs), who=_who(found[2], technicians))
    raise WishError(
        "wish",
        f"“{text}” is no wish that is understood",
        "write “JOB first”, “JOB before JOB”, “JOB by MINUTES”, “ready by MINUTES”, “JOB with NAME”",
    )


def _minute(text: str) -> float:
    found = re.fullmatch(r"(?:(\d{1,3}):)?(\d+(?:[.,]\d)?)(?: ?min(?:utes)?)?", text.strip())
    if found is None or (found[1] is not None and float(found[2].replace(",", ".")) >= 60):
        raise WishError("wish", f"“{text}” is no time", "give minutes or h:mm from the start")
    minutes = 60 * int(found[1] or 0) + float(found[2].replace(",", "."))
    return tenths(minutes) / 10


def _job(text: str, jobs: Mapping[str, str]) -> str:
    wanted = text.strip().strip("“”\"'").casefold()
    exact = [job for job, words in jobs.items() if wanted in {job.casefold(), words.casefold()}]
    some = [job for job, words in jobs.items() if wanted in words.casefold() or wanted in job]
    found = exact or some
    if len(found) == 1:
        return found[0]
    if found:
        several = ", ".join(f"{job} ({jobs[job]})" for job in found)
        raise WishError("wish", f"“{text}” may be {several}", "write one of these")
    raise WishError("wish", f"no job “{text}” is to be done", f"to be done are {', '.join(jobs)}")


def _who(text: str, technicians: Collection[str]) -> str:
    found = [name for name in technicians if name.casefold() == text.strip().casefold()]
    found = found or [n for n in technicians if n.casefold().startswith(text.strip().casefold())]
    if len(found) == 1:
        return found[0]
    raise WishError("wish", f"no technician “{text}”", f"there are {', '.join(technicians)}")
