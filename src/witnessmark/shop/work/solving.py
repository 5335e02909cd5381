"""Problems solved once, for all processes: under one name where one technician is free to do all, whoever asks."""

from __future__ import annotations

import hashlib
from functools import cache as cache_once
from functools import lru_cache
from pathlib import Path
from typing import TypeVar

from witnessmark import planner
from witnessmark.planner import (
    Answer,
    ContingentProblem,
    Problem,
    Technician,
    Tree,
    TreeKind,
    load_contingent_problem,
    plan,
    plan_tree,
    search_seconds,
)
from witnessmark.shop import solved
from witnessmark.shop.work.crew import ONE

Asked = TypeVar("Asked", Problem, ContingentProblem)


def solved_once(problem: Problem) -> Answer:
    """The checked answer, solved once."""
    found = _solved(_plain(problem))
    if problem.technicians[1:] or not _is_free(problem.technicians[0]):
        return found
    own = problem.technicians[0].name
    named = (
        step.model_copy(update={"technicians": (own,) * len(step.technicians)})
        for step in found.steps
    )
    return found.model_copy(update={"steps": tuple(named)})


def least_attended(problem: Problem) -> Answer:
    """The checked answer with the least attended minutes, worked out once."""
    said = problem.model_dump_json(by_alias=True)
    key = key_of("attended", said.encode())
    found = solved.get(key, Answer)
    if found is None:
        limit = search_seconds.ONE_MACHINE
        found = plan(problem, objective="attended", deterministic_limit=limit)
        solved.keep(key, Answer, found)
    return found


def is_solved(problem: Problem) -> bool:
    """Whether `solved_once` need not search."""
    return solved.has(_key_of_plan(_plain(problem)))


def tree_once(problem: ContingentProblem, how: TreeKind = "tree") -> Tree:
    """The checked tree, grown once. Raises ProblemError as `plan_tree`."""
    return _tree(_plain_tree(problem), how)


def is_grown(problem: ContingentProblem) -> bool:
    """Whether `tree_once` need not search."""
    return solved.has(_key_of_tree(_plain_tree(problem), "tree"))


@lru_cache(maxsize=64)
def _tree(problem: str, how: TreeKind) -> Tree:
    key = _key_of_tree(problem, how)
    found = solved.get(key, Tree)
    if found is None:
        found = plan_tree(load_contingent_problem(problem), how=how)
        solved.keep(key, Tree, found)
    return found


def _key_of_tree(problem: str, how: TreeKind) -> str:
    return key_of(how, problem.encode())


def _plain(problem: Problem) -> str:
    return _as_one(problem).model_dump_json(by_alias=True)


def _plain_tree(problem: ContingentProblem) -> str:
    return _as_one(problem).model_dump_json(by_alias=True, exclude_defaults=True)


def _as_one(problem: Asked) -> Asked:
    """What is solved: for one who is free to do all under one name, whoever that is."""
    if problem.technicians[1:] or not _is_free(problem.technicians[0]):
        return problem
    return problem.model_copy(update={"technicians": ONE.technicians})


def _is_free(technician: Technician) -> bool:
    return technician.skills is None and technician.shifts is None


@lru_cache(maxsize=256)
def _solved(problem: str) -> Answer:
    """The same problem is solved once, for all processes; the answer has passed the independent check."""
    key = _key_of_plan(problem)
    found = solved.get(key, Answer)
    if found is not None:
        return found
    answer = plan(
        Problem.model_validate_json(problem), deterministic_limit=search_seconds.ONE_MACHINE
    )
    solved.keep(key, Answer, answer)
    return answer


def _key_of_plan(problem: str) -> str:
    return key_of("plan", problem.encode())


def key_of(what: str, asked: bytes) -> str:
    """Named by what is asked and by the planner that answers: another planner is asked anew."""
    return f"{what}-{_planner()}-{hashlib.sha256(asked).hexdigest()}"


@cache_once
def _planner() -> str:
    """A mark of the planner's own files."""
    folder = Path(planner.__file__).parent
    files = sorted(folder.rglob("*.py"))
    told = "".join(f"{file.name}{file.stat().st_size}{file.stat().st_mtime_ns}" for file in files)
    return f"{hashlib.sha256(told.encode()).hexdigest()[:16]}-{search_seconds.ONE_MACHINE:g}"
