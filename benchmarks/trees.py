"""Trees of what readings decide: the ways to one, two rules of thumb, and the one who knew.

Expected attended minutes, and processor seconds. *Assume all*: the plan of everything that may be needed is followed,
planned again where a reading says no. *Assume none*: the plan of what is needed in any case, planned again where a
reading says yes. Both read in the order their plan happens to have. *Likeliest* is followed in the same way, and the
same with each reading as early as its access allows; the last line is what `plan_tree` answers.
"""

from __future__ import annotations

from collections.abc import Iterator

from benchmarks.stopwatch import timed
from benchmarks.unknowns import BOOKS_AND_UNKNOWNS, COUNTS, problem
from witnessmark.planner import (
    Answer,
    ContingentProblem,
    Problem,
    Tree,
    contingent_problem_from,
    plan,
    plan_tree,
    snapshot_at,
)

ROW = "{:<14} {:>8} {:<24} {:>9} {:>7} {:>7} {:>8}"
QUICK = 0.6  # deterministic seconds for the first tree
EACH = 1.0  # the same for each plan of a rule of thumb


def main() -> None:
    print("\nWhat readings decide: expected attended minutes of the annual service, one technician")
    print(ROW.format("book", "unknowns", "way", "expected", "gap", "gap %", "seconds"))
    for name in BOOKS_AND_UNKNOWNS:
        for count in COUNTS:
            unknown = contingent_problem_from(problem(name, count))
            first, quick = timed(
                lambda unknown=unknown: plan_tree(unknown, deterministic_limit=QUICK)
            )
            tree, seconds = timed(lambda unknown=unknown: plan_tree(unknown))
            bound = tree.bound_minutes or 0.0
            if count == min(COUNTS):
                for title, size in (("assume all", 1), ("assume none", -1), ("likeliest", 0)):
                    minutes, spent = timed(lambda u=unknown, s=size: followed(u, s))
                    print(line(name, count, title, minutes, bound, spent), flush=True)
            print(line(name, count, "first tree", _expected(first), bound, quick), flush=True)
            print(
                line(name, count, f"tree ({tree.status})", _expected(tree), bound, seconds),
                flush=True,
            )


def line(book: str, count: int, way: str, minutes: float, bound: float, seconds: float) -> str:
    gap = minutes - bound
    percent = f"{100 * gap / bound:.1f}"
    return ROW.format(book, count, way, f"{minutes:.1f}", f"{gap:.1f}", percent, f"{seconds:.2f}")


def _expected(tree: Tree) -> float:
    return tree.expected_attended_minutes


def followed(problem: ContingentProblem, size: int) -> float:
    """Expected attended minutes of assuming answers, following their plan, and planning again where one differs.

    ``size``: 1 assumes what needs most operations, -1 what needs fewest, 0 the likeliest.
    """
    return _from(problem, problem.union, dict(problem.answered), size)


def _from(problem: ContingentProblem, at: Problem, known: dict[str, bool], size: int) -> float:
    cases = list(problem.cases(known))
    assumed, _ = max(cases, key=lambda case: (size * len(problem.needed(case[0])), case[1]))
    return _along(
        problem,
        at,
        known,
        size,
        plan(problem.case(assumed, known, at), objective="attended", deterministic_limit=EACH),
    )


def _along(
    problem: ContingentProblem, at: Problem, known: dict[str, bool], size: int, answer: Answer
) -> float:
    told = dict(_told(problem, answer, known))
    if not told:
        return answer.attended_minutes or 0.0
    minute = min(told.values())
    snapshot = snapshot_at(at, answer.steps, minute)
    names = [name for name, when in told.items() if when <= minute]
    shares: dict[tuple[bool, ...], float] = {}
    for answers, probability in problem.cases(known):
        key = tuple(answers[name] for name in names)
        shares[key] = shares.get(key, 0.0) + probability
    return snapshot.spent + sum(
        share
        * _from(problem, snapshot.problem, {**known, **dict(zip(names, key, strict=True))}, size)
        for key, share in shares.items()
    )


def _told(
    problem: ContingentProblem, answer: Answer, known: dict[str, bool]
) -> Iterator[tuple[str, float]]:
    """What the plan comes to read, and when that is over."""
    overs = {step.name: step.tail_end for step in answer.steps}
    for name in problem.unknowns:
        if name not in known and problem.reader(name) in overs:
            yield name, overs[problem.reader(name)]
