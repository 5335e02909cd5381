"""The plan of a visit: compiled from where the machine stands now, solved, checked, kept under its hash."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import ceil
from uuid import UUID

import rfc8785
from pydantic_core import from_json

from witnessmark.kept_versions import KeptError
from witnessmark.ledger import work_left
from witnessmark.ledger.work_left import left_of
from witnessmark.planner import (
    Answer,
    Now,
    PlanStep,
    Problem,
    ProblemError,
    RemainingWork,
    Running,
    Saving,
    Tree,
    Undecided,
    Wish,
    check_plan,
    continued,
    explained,
    recovery_problem,
    saving,
    tenths,
    undecided,
    visits_alone,
    with_wish,
)
from witnessmark.shop import content_store, solved
from witnessmark.shop.models import PlanKept, Shop
from witnessmark.shop.work.crew import ONE, Crew
from witnessmark.shop.work.likely import likely
from witnessmark.shop.work.planned import Planned, read_back
from witnessmark.shop.work.solving import is_grown, is_solved, key_of, solved_once, tree_once
from witnessmark.shop.work.visit import Work
from witnessmark.shop.work.waits_now import waits_of

log = logging.getLogger(__name__)
AT_ONCE = 15  # operations that are planned while one waits for the page: a second at most


def planned(
    work: Work, jobs: Sequence[str], crew: Crew | None = None, wish: Wish | None = None
) -> Planned:
    """The best order of what is left of these jobs, from the states the machine is in now.

    Steps done or skipped are over; so are those that would not go and what follows them: they wait for an answer,
    and the rest goes on. Where nothing else leads on, steps are had again (`planner`). ``crew``: who works on
    it; else who did in the order followed, else one who can do everything. Raises WishError for a wish that names
    what is not there.
    """
    problem = _to_solve(work, jobs, crew, wish)
    answer = None if wish else _rest_of_followed(work, problem, tuple(jobs))
    return Planned(problem, answer or solved_once(problem), tuple(jobs), work.state.book or "")


def ordered(
    work: Work, jobs: Sequence[str], crew: Crew | None = None, wish: Wish | None = None
) -> Planned:
    """The order to take: `planned`, and where readings decide the likeliest way through a tree. Raises as `planned`.

    All the work is planned where some answer leaves no way open.
    """
    made = _undecided(work, jobs, crew, wish)
    try:
        tree = tree_once(made.problem) if made else None
    except ProblemError:
        log.info("no tree for %s, all of its work is planned", work.visit, exc_info=True)
        tree = None
    if made is None or tree is None:
        return planned(work, jobs, crew, wish)
    whole = Planned(
        made.problem.union, Answer(status="unknown"), tuple(jobs), work.state.book or "",
        tree=tree, undecided=made.problem, left_out=made.left_out,
    )  # fmt: skip
    return whole.along({})


@dataclass(frozen=True)
class Likeliest:
    """The problem of the likeliest answers, and the price of each other; ``tree`` is None where nothing decides."""

    problem: Problem
    tree: Tree | None = None


def likeliest(work: Work, jobs: Sequence[str], crew: Crew) -> Likeliest:
    """What is left of these jobs by the likeliest answers, to be planned among other machines.

    Other answers are priced for this machine alone and one technician. Raises CompileError.
    """
    problem = to_solve(work, jobs, crew, among_others=True)
    made = _told_apart(work, jobs, problem)
    if made is None:
        return Likeliest(problem)
    try:
        alone = made.problem.model_copy(update={"technicians": ONE.technicians, "clock": 0.0})
        tree = tree_once(alone, "likeliest")
    except ProblemError:
        log.info("no likeliest case of %s, all of its work is planned", work.visit, exc_info=True)
        return Likeliest(problem)
    return Likeliest(made.problem.case(tree.least.answers, made.problem.answered), tree)


def _undecided(
    work: Work, jobs: Sequence[str], crew: Crew | None, wish: Wish | None
) -> Undecided | None:
    """The problem with what readings will decide; None where nothing is to be decided any more. Raises WishError."""
    if not work.folded.table.unknowns:
        return None
    try:
        problem = _to_solve(work, jobs, crew, wish)
    except ProblemError:
        return None  # `planned` says so
    return _told_apart(work, jobs, problem)


def _told_apart(work: Work, jobs: Sequence[str], problem: Problem) -> Undecided | None:
    try:
        made = undecided(
            problem,
            work.book,
            jobs,
            readers={name: rule.readers for name, rule in work.folded.table.unknowns.items()},
            likely=likely(work.visit.shop, work.book),
            answers=work.state.answers,
        )
    except ProblemError:
        log.info("nothing can be told apart of %s", work.visit, exc_info=True)
        return None
    return made if made.problem.unknowns else None


def is_known(
    work: Work, jobs: Sequence[str], crew: Crew | None = None, wish: Wish | None = None
) -> bool:
    """Whether `planned` answers at once: worked out before, or small. Raises as `planned`."""
    problem = _to_solve(work, jobs, crew, wish)
    if len(problem.operations) <= AT_ONCE or is_solved(problem):
        return True
    return wish is None and _rest_of_followed(work, problem, tuple(jobs)) is not None


def order_is_known(
    work: Work, jobs: Sequence[str], crew: Crew | None = None, wish: Wish | None = None
) -> bool:
    """Whether `ordered` answers at once. Raises as `planned`."""
    made = _undecided(work, jobs, crew, wish)
    return is_grown(made.problem) if made else is_known(work, jobs, crew, wish)


def _to_solve(work: Work, jobs: Sequence[str], crew: Crew | None, wish: Wish | None) -> Problem:
    problem = _with_waits(work, to_solve(work, jobs, crew or crew_now(work)))
    return problem if wish is None else with_wish(problem, wish)


def _with_waits(work: Work, problem: Problem) -> Problem:
    """The problem from here on, where steps of it wait by themselves: what they lead to comes after them.

    Minutes left in fives, so that the same question is not solved anew each minute.
    """
    known = {
        step.name
        for step in problem.steps
        if all(problem.start_state(name) in states for name, states in step.needs.items())
    }  # one begun although the machine stood otherwise is planned as though it had not begun
    left = {wait.step: wait.left for wait in waits_of(work) if wait.step in known}
    if not left:
        return problem
    run = tuple(
        Running(name=step, unattended=max(ceil(minutes / 5) * 5.0, 0.1))
        for step, minutes in left.items()
    )
    return problem.model_copy(update={"now": Now(running=run)})


def _rest_of_followed(work: Work, problem: Problem, jobs: tuple[str, ...]) -> Answer | None:
    """What is left of the order followed, where that is proven the best from here: nothing need be searched.

    None where it is not, or where more matters now than when it was taken. What no longer matters is left out of
    ``problem`` and does no harm (``from_book``), so the proof holds for it; the answer is checked against it.
    """
    followed = taken(work)
    if followed is None or followed.jobs != jobs or not _is_part_of(problem, followed.problem):
        return None
    left = {operation.name for operation in problem.operations}
    start = {name: condition.start for name, condition in followed.problem.conditions.items()}
    now = Now(
        states={name: work.state.states.get(name, state) for name, state in start.items()},
        done=tuple(o.name for o in followed.problem.operations if o.name not in left),
        running=problem.now.running if problem.now else (),
    )
    here = followed.problem.model_copy(update={"now": now})
    rest = continued(here, followed.problem, followed.answer)
    if rest is None:
        return None
    answer = explained(problem, rest.model_copy(update={"deviation": None}))
    return None if check_plan(problem, answer) else answer


def _is_part_of(problem: Problem, whole: Problem) -> bool:
    """Whether a problem has nothing that the whole did not have, wants the same finish, and has the same people."""
    same = problem.technicians == whole.technicians and problem.resources == whole.resources
    known = {step.name for step in whole.steps} >= {step.name for step in problem.steps}
    return (
        same
        and known
        and all(
            name in whole.conditions and whole.conditions[name].finish == condition.finish
            for name, condition in problem.conditions.items()
        )
    )


def to_solve(work: Work, jobs: Sequence[str], crew: Crew, *, among_others: bool = False) -> Problem:
    """The problem of what is left of these jobs, from the states the machine is in now, for this crew.

    ``among_others``: it keeps what it takes of resources that other machines want too. Raises CompileError.
    """
    problem = recovery_problem(left(work, jobs, crew, among_others=among_others))
    return problem.model_copy(update={"clock": crew.clock}) if crew.clock else problem


def left(
    work: Work, jobs: Sequence[str], crew: Crew = ONE, *, among_others: bool = False
) -> RemainingWork:
    """What is left of these jobs, from the states the machine is in now, with what the shop has."""
    shop = work.visit.shop
    return left_of(
        work.book,
        work.state,
        jobs,
        resources={**shop.resources, "lift": shop.lifts},
        technicians=crew.technicians,
        among_others=among_others,
    )


def crew_now(work: Work) -> Crew:
    """Who works by the order followed; their shifts are not carried on, for its minutes began at another time."""
    followed = taken(work)
    if followed is None:
        return ONE
    there = (one.model_copy(update={"shifts": None}) for one in followed.problem.technicians)
    return Crew(tuple(there))


def without(
    work: Work,
    jobs: Sequence[str],
    later: Sequence[str],
    crew: Crew | None = None,
    wish: Wish | None = None,
) -> Planned:
    """The best order of these jobs without some, which are left for later on purpose."""
    made = ordered(work, [job for job in jobs if job not in later], crew, wish)
    return replace(made, later=tuple(job for job in jobs if job in later))


def from_now(left: Sequence[PlanStep]) -> tuple[PlanStep, ...]:
    """The steps left, moved together to begin now."""
    gone = tenths(min(step.start for step in left))

    def earlier(minutes: float) -> float:
        return (tenths(minutes) - gone) / 10

    return tuple(
        step.model_copy(
            update={
                "start": earlier(step.start),
                "end": earlier(step.end),
                "tail_end": earlier(step.tail_end),
            }
        )
        for step in left
    )


def saved(work: Work, made: Planned) -> Saving:
    """What doing the jobs together saves against one per visit, each with what it brings; worked out once."""
    together = visits_alone(work.book, made.jobs)
    asked = [made.problem.model_dump(mode="json"), made.answer.attended_minutes, together]
    key = key_of("saving", rfc8785.dumps(asked))
    found = solved.get(key, Saving)
    if found is None:
        found = saving(made.problem, made.answer, together)
        solved.keep(key, Saving, found)
    return found


def to_do(work: Work) -> list[str]:
    """The jobs to be done now (`ledger.plan_progress.to_do`)."""
    return work_left.to_do(work.book, work.state)


def keep(shop: Shop, made: Planned) -> str:
    """Keep a plan; return its hash."""
    return content_store.keep(shop, PlanKept, made.canonical())


def taken(work: Work) -> Planned | None:
    """The plan now followed; None before one was taken, and for one that cannot be read any more.

    Where readings decide it is the way by what they told; of one that was to tell and did not, what it leads to is
    done, as in a book that says nothing of it.
    """
    if work.state.plan is None:
        return None
    try:
        kept = of_hash(work.visit.shop, work.state.plan)
        if kept.undecided is None:
            return kept
        untold = {
            n: True for n, u in kept.undecided.unknowns.items() if u.revealed_by in work.state.done
        }
        answers = tuple(sorted((untold | work.state.answers).items()))
        return _along(work.visit.shop.pk, work.state.plan, answers)
    except KeptError:
        log.exception("the plan %s of %s cannot be read", work.state.plan, work.visit)
        return None


def of_hash(shop: Shop, sha256: str) -> Planned:
    """A kept plan. Raises KeptError where it is gone, changed, or of a newer version."""
    return _of_hash(shop.pk, sha256)


@lru_cache(maxsize=64)
def _of_hash(shop_id: UUID, sha256: str) -> Planned:
    """A kept plan never changes, so it is read once."""
    return read_back(from_json(content_store.content(shop_id, PlanKept, sha256)))


@lru_cache(maxsize=256)
def _along(shop_id: UUID, sha256: str, answers: tuple[tuple[str, bool], ...]) -> Planned:
    """The way through a kept tree by these answers."""
    return _of_hash(shop_id, sha256).along(dict(answers))
