"""The independent checker of a tree: every way through it is a sound plan, and none acts on what is not known yet.

Written from the planning model alone, as ``check_plan``. Of what readings decide it reads:

1. The steps of a way, taken together, are a plan of the operations that its answers make needed.
2. A branch begins when the reading is over that tells it; before, all its ways have the same steps.
3. An operation that depends on an answer starts when the reading is over. One that comes after an operation which
   is not needed starts when that is known.
4. The branches of a place are all that may be told there, each as probable as the problem says.
5. Expected, least and most minutes are those of the ways.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from witnessmark.planner.check.check_plan import replay
from witnessmark.planner.check.layout import PlanFault, Rule, minutes
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import tenths
from witnessmark.planner.problem.plan import PlanStep
from witnessmark.planner.problem.tree import Stretch, Tree, Way, ways
from witnessmark.planner.problem.unknowns import ContingentProblem

ROUNDED = 1e-3  # minutes: expected figures are told rounded


def check_tree(problem: ContingentProblem, tree: Tree) -> list[PlanFault]:
    """Everything wrong with a tree; empty if it is sound. Optimality is not checked, only that the bound fits."""
    if tree.how == "likeliest":
        return _one_way(problem, tree)
    faults = [*_branches(problem, tree.first, dict(problem.answered), 0)]
    expected, finish, attended = 0.0, 0.0, list[int]()
    for way in ways(tree.first):
        case = _case(problem, {**problem.answered, **way.answers})
        found, timelines = replay(case, way.steps)
        faults += found
        faults += _in_time(problem, way)
        effort = sum(case.step(s.name).effort_tenths for s in way.steps if s.name in _names(case))
        attended.append(effort)
        expected += way.probability * minutes(effort)
        finish += way.probability * minutes(timelines.finish)
    faults += _equal("expected_attended_minutes", tree.expected_attended_minutes, expected)
    faults += _equal("expected_finish_minutes", tree.expected_finish_minutes, finish)
    faults += _equal("least", tree.least.attended_minutes, minutes(min(attended)))
    faults += _equal("worst", tree.worst.attended_minutes, minutes(max(attended)))
    reached = expected if tree.objective == "attended" else minutes(max(attended))
    if tree.bound_minutes is None or tree.bound_minutes > reached + ROUNDED:
        faults.append(_fault(f"bound_minutes is {tree.bound_minutes}, the tree takes {reached:g}"))
    elif tree.status == "optimal" and tree.bound_minutes < reached - ROUNDED:
        faults.append(_fault(f"status optimal, but the bound does not reach {reached:g}"))
    return faults


def _one_way(problem: ContingentProblem, tree: Tree) -> list[PlanFault]:
    """The plan of the likeliest answers."""
    case = _case(problem, {**problem.answered, **tree.least.answers})
    if tree.first.branches:
        return [_fault("one plan was said, and there are branches")]
    faults, timelines = replay(case, tree.first.steps)
    effort = sum(case.step(step.name).effort_tenths for step in tree.first.steps)
    return [
        *faults,
        *_equal("attended", tree.expected_attended_minutes, minutes(effort)),
        *_equal("finish", tree.expected_finish_minutes, minutes(timelines.finish)),
    ]


def _case(problem: ContingentProblem, known: Mapping[str, bool]) -> Problem:
    """The operations that turn out to be needed; what nobody asked is not answered."""
    needed = _needed(problem, known)
    operations = tuple(
        o.model_copy(update={"after": tuple(name for name in o.after if name in needed)})
        for o in problem.union.operations
        if o.name in needed
    )
    return problem.union.model_copy(update={"operations": operations})


def _needed(problem: ContingentProblem, known: Mapping[str, bool]) -> set[str]:
    """Operations begun, and those of whose every ``only_if`` one was asked and answered so: added until no more are."""
    needed = {o.name for o in problem.operations if not o.only_if} | problem.begun
    while True:
        asked = {u for u, one in problem.unknowns.items() if one.revealed_by in needed}
        told = {u: yes for u, yes in known.items() if u in asked or u in problem.answered}
        more = {
            o.name
            for o in problem.operations
            if all(
                any(told.get(one.lstrip("!")) == (one[0] != "!") for one in row.split("|"))
                for row in o.only_if
            )
        }
        if more <= needed:
            return needed
        needed |= more


def _names(case: Problem) -> set[str]:
    return {step.name for step in case.steps}


def _overs(problem: ContingentProblem, steps: Sequence[PlanStep]) -> dict[str, int]:
    """When each operation is over, in tenths; those done, at 0."""
    now = problem.now
    overs = dict.fromkeys(now.done if now else (), 0)
    overs |= {
        r.name: tenths(r.minutes) + tenths(r.unattended) for r in (now.running if now else ())
    }
    return overs | {step.name: tenths(step.tail_end) for step in steps}


def _in_time(problem: ContingentProblem, way: Way) -> Iterator[PlanFault]:
    """Rule 3."""
    overs = _overs(problem, way.steps)
    given = {o.name: o for o in problem.operations}

    def settled(name: str) -> int:
        """When it is known whether an operation is needed: every row has one that is so, or a row has none."""
        rows = [of_row(row.split("|")) for row in given[name].only_if]
        if name in overs:
            return max((min(so) if so else max(not_so) for so, not_so in rows), default=0)
        return min((max(not_so) for so, not_so in rows if not so), default=0)

    def of_row(row: Sequence[str]) -> tuple[list[int], list[int]]:
        """When each of a row is told to be so, and not to be so."""
        so, not_so = list[int](), list[int]()
        for one in row:
            unknown, yes = one.lstrip("!"), one[0] != "!"
            reader = problem.unknowns[unknown].revealed_by
            if unknown not in problem.answered and reader not in overs:
                not_so.append(settled(reader))
                continue
            at = 0 if unknown in problem.answered else overs[reader]
            is_so = way.answers.get(unknown, problem.answered.get(unknown)) == yes
            (so if is_so else not_so).append(at)
        return so, not_so

    for step in way.steps:
        if step.name not in given or step.name in problem.begun:
            continue
        for name in (step.name, *(a for a in given[step.name].after if a not in overs)):
            if tenths(step.start) < settled(name):
                words = f"{step.name} starts at {step.start:g}, before it is known whether {name} is needed"
                yield PlanFault(Rule.ORDER, (step.name, name), step.start, words)


def _branches(
    problem: ContingentProblem, stretch: Stretch, known: dict[str, bool], begin: int
) -> Iterator[PlanFault]:
    """Rules 2, 4, 5."""
    for step in stretch.steps:
        if tenths(step.start) < begin:
            words = (
                f"{step.name} starts at {step.start:g}, before the reading that leads to it is over"
            )
            yield PlanFault(Rule.ORDER, (step.name,), step.start, words)
    if not stretch.branches:
        return
    at = tenths(stretch.known_at or 0.0)
    told = tuple(stretch.branches[0].answers)
    probable = dict[tuple[bool, ...], float]()
    for answers, probability in problem.cases(known):
        key = tuple(answers[name] for name in told)
        probable[key] = probable.get(key, 0.0) + probability
    given = {tuple(b.answers.get(n, False) for n in told): b.probability for b in stretch.branches}
    if given.keys() != probable.keys() or len(given) != len(stretch.branches):
        yield _fault(f"the branches at {at / 10:g} are not what may be told of {', '.join(told)}")
    for key, probability in given.items():
        yield from _equal(f"probability at {at / 10:g}", probability, probable.get(key, 0.0))
    for branch in stretch.branches:
        if set(branch.answers) != set(told):
            yield _fault(f"the branches at {at / 10:g} tell different things")
        yield from _branches(problem, branch.then, {**known, **branch.answers}, at)
    yield from _told_by_then(problem, stretch, told, at)


def _told_by_then(
    problem: ContingentProblem, stretch: Stretch, told: Sequence[str], at: int
) -> Iterator[PlanFault]:
    """What a branch acts on is told on every way by ``known_at``: the reading is among the steps before."""
    for way in ways(stretch):
        overs = _overs(problem, way.steps)
        for name in told:
            reader = problem.unknowns[name].revealed_by
            if reader in overs and overs[reader] > at:
                words = f"{name} is told when {reader} is over, not at {at / 10:g}"
                yield PlanFault(Rule.ORDER, (reader,), at / 10, words)


def _equal(key: str, stated: float, computed: float) -> Iterator[PlanFault]:
    if abs(stated - computed) > ROUNDED:
        yield _fault(f"{key} is {computed:g} by the ways of the tree; the answer says {stated:g}")


def _fault(words: str) -> PlanFault:
    return PlanFault(Rule.FIGURE, (), None, words)
