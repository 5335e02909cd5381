"""Plan a problem whose readings decide: a tree, what is proven of it, and what knowing would be worth."""

from __future__ import annotations

from collections.abc import Sequence

from witnessmark.planner import search_seconds
from witnessmark.planner.check.check_tree import check_tree
from witnessmark.planner.contingent.grow import Assumed, Grown, Growth, Reading
from witnessmark.planner.contingent.knew import Knew
from witnessmark.planner.contingent.places import Needed, Place
from witnessmark.planner.contingent.rests import DeadEndError, Rests
from witnessmark.planner.explain.reasons import explained
from witnessmark.planner.explain.wording import conflict_in_words
from witnessmark.planner.planning import UnsoundPlanError, plan
from witnessmark.planner.problem.checked import Problem, ProblemError
from witnessmark.planner.problem.plan import Answer
from witnessmark.planner.problem.tree import (
    Alternative,
    Outcome,
    Stretch,
    Tree,
    TreeGoal,
    TreeKind,
    Way,
    ways,
)
from witnessmark.planner.problem.unknowns import Answers, ContingentProblem
from witnessmark.planner.sequence.conflict import conflict_of
from witnessmark.planner.sequence.search_limits import SearchLimits
from witnessmark.planner.sequence.solve import limits_of
from witnessmark.planner.system import seconds_now

READINGS: tuple[Reading, ...] = ("first", "in between", "as it comes")
SEARCHES = 16  # for rests of cases that are not proven, in one tree. Judged by us
TRIES = 12  # cases whose floors are raised one by one. Judged by us
CLOSE = 1.0  # tenths: what is nearer to the bound is not worth a search. Judged by us
NEAR = 1e-6  # tenths by which a sum of probable minutes may be off


def plan_tree(
    problem: ContingentProblem,
    *,
    objective: TreeGoal = "attended",
    time_limit: float | None = None,
    deterministic_limit: float | None = None,
    seed: int = 1,
    interruptible: bool = False,
    how: TreeKind = "tree",
) -> Tree:
    """The tree found for a problem with unknowns; only what the independent checker finds sound is returned.

    ``objective``: the expected attended minutes, then the expected finish, then the worst visit; or the worst visit
    first. Limits as for ``plan``; `search_seconds.TREE` where neither is given. Several technicians, or several
    machines with changes watched, or ``how`` is likeliest: the likeliest answers are planned, the others priced.
    Raises ProblemError where some answers leave no plan, or none is found; UnsoundPlanError as ``plan``.
    """
    began = seconds_now()
    if time_limit is None and deterministic_limit is None:
        deterministic_limit = search_seconds.TREE
    limits = limits_of(time_limit, deterministic_limit, seed=seed, interruptible=interruptible)
    with limits.heeding():
        several = len(problem.technicians) > 1 or problem.change_minutes is not None
        if several or how == "likeliest":
            tree = _likeliest(problem, objective, limits)
        else:
            tree = _Planning(problem, objective, limits).tree()
    tree = tree.model_copy(update={"solve_seconds": round(seconds_now() - began, 3)})
    faults = check_tree(problem, tree)
    if faults:
        raise UnsoundPlanError("; ".join(str(fault) for fault in faults))
    return tree


class _Planning:
    """The tree of one technician."""

    def __init__(
        self, problem: ContingentProblem, objective: TreeGoal, limits: SearchLimits
    ) -> None:
        self.problem, self.objective, self.limits = problem, objective, limits
        self.rests = Rests(limits)
        self.knew = Knew(problem, self.rests)
        self.whole = max(self.knew.cases, key=len)

    def tree(self) -> Tree:
        self._search(self.whole)
        best = self._first()
        self.knew.share(self._order(), self.knew.always)
        best = self._better(best, READINGS[:1])
        self._prove(best)
        if self._gap(best) > CLOSE:
            self.rests.searches = SEARCHES
            best = self._better(best, READINGS[:1], by_all=False)
            self.rests.searches = 0
        return self._told(self._better(best, READINGS[1:], by_all=False))

    def _root(self, known: Answers | None = None) -> Place:
        problem = self.problem
        known = {**problem.answered, **(known or {})}
        return Place(problem, problem.union, 0, known, (), self.knew.floors)

    def _search(self, needed: Needed) -> None:
        """Find the best plan of a case, all known at the door. Raises ProblemError where there is none."""
        answers = self.knew.cases[needed][0]
        try:
            self.rests.least(self._root(answers), answers)
        except DeadEndError as dead:
            raise _no_plan(answers, dead) from None

    def _order(self) -> tuple[str, ...]:
        """The best order of the case with the most operations."""
        answers = self.knew.cases[self.whole][0]
        return self.rests.least(self._root(answers), answers)

    def _first(self) -> Grown:
        """The first tree found: the likeliest answers assumed. Raises ProblemError where no way is found."""
        dead: DeadEndError | None = None
        for assumed in _ASSUMED[self.objective]:
            for reading in READINGS:
                try:
                    return self._grown(assumed, reading, self._root())
                except DeadEndError as error:
                    dead = error
        assert dead is not None
        for needed in self.knew.cases:
            self._search(needed)
        raise _no_plan(None, dead)

    def _better(self, best: Grown, readings: Sequence[Reading], *, by_all: bool = True) -> Grown:
        """The best of the trees by these ways of reading: by each assumption while there is a gap, or by the best's."""
        for assumed in _ASSUMED[self.objective] if by_all else (best.assumed,):
            for reading in readings:
                if not self.limits.over() and not (by_all and self._gap(best) <= CLOSE):
                    best = self._best_of(best, assumed, reading, self._root()) or best
        return best

    def _best_of(
        self, best: Grown | None, assumed: Assumed, reading: Reading, place: Place
    ) -> Grown | None:
        try:
            grown = self._grown(assumed, reading, place)
        except DeadEndError:
            return best
        worth = grown.worth(self.objective)
        return grown if best is None or worth < best.worth(self.objective) else best

    def _grown(self, assumed: Assumed, reading: Reading, place: Place) -> Grown:
        grown = Growth(self.rests, assumed, reading).grown(place)
        self.limits.spent += len(grown.ends) * search_seconds.END_OF_A_TREE
        return grown

    def _gap(self, grown: Grown) -> float:
        """Tenths by which the tree is not proven."""
        if self.objective == "worst":
            return max(end.attended for end in grown.ends) - self.knew.worst()
        return grown.expected() - self.knew.expected()

    def _prove(self, grown: Grown) -> None:
        """Raise the floors of cases: first of the smallest, which raise those of others too."""
        attended = {end.needed: end.attended for end in grown.ends}
        probable = {needed: p for needed, (_, p) in self.knew.cases.items()}
        tries = 0
        for needed in sorted(attended, key=lambda one: (len(one), -probable[one])):
            if self._gap(grown) <= CLOSE or self.limits.over() or tries == TRIES:
                return
            if attended[needed] > self.knew.floors[needed]:
                tries += 1
                before = self.knew.expected()
                self.knew.share(self._order(), needed)
                if self.knew.expected() <= before + NEAR:
                    return  # not the floors are too low: the tree is not the best

    def _told(self, grown: Grown) -> Tree:
        gap = max(0.0, self._gap(grown)) / 10
        bound = self.knew.worst() if self.objective == "worst" else self.knew.expected()
        expected, finish, _ = grown.worth("attended")
        return Tree(
            status="optimal" if gap <= NEAR else "feasible",
            how="tree",
            objective=self.objective,
            expected_attended_minutes=_minutes(expected),
            expected_finish_minutes=_minutes(finish),
            bound_minutes=_minutes(bound),
            gap_minutes=_minutes(gap * 10),
            least=_outcome(grown, min(end.attended for end in grown.ends)),
            worst=_outcome(grown, max(end.attended for end in grown.ends)),
            worth=self._worth(grown),
            first=with_reasons(self.problem, grown.stretch),
        )

    def _worth(self, grown: Grown) -> dict[str, float]:
        """Per unknown the expected minutes that knowing its answer at the door would save.

        The gap is the most that all answers together are worth. What the limits leave no time for is left out.
        """
        open_ = [name for name in self.problem.unknowns if name not in self.problem.answered]
        most = grown.expected() - self.knew.expected()
        if most <= CLOSE:
            return dict.fromkeys(open_, 0.0)
        found: dict[str, float] = {}
        for name in open_:
            if not self.limits.over():
                found[name] = _minutes(min(most, self._saved(grown, name)))
        return found

    def _saved(self, grown: Grown, name: str) -> float:
        total = 0.0
        for yes in (True, False):
            known = {name: yes}
            share = sum(
                p
                for answers, p in self.problem.cases(self.problem.answered)
                if answers[name] == yes
            )
            if share:
                best = self._best_of(None, grown.assumed, READINGS[0], self._root(known))
                if best is None:
                    return 0.0
                total += share * best.expected()
        return max(0.0, grown.expected() - total)


_ASSUMED: dict[TreeGoal, tuple[Assumed, ...]] = {
    "attended": ("likeliest", "most", "least"),
    "worst": ("most", "likeliest", "least"),
}


def _minutes(tenths_: float) -> float:
    return round(tenths_ / 10, 4)


def _outcome(grown: Grown, attended: int) -> Outcome:
    alike = [end for end in grown.ends if end.attended == attended]
    return Outcome(
        attended_minutes=attended / 10,
        probability=round(sum(end.probability for end in alike), 9),
        answers=dict(max(alike, key=lambda end: end.probability).known),
    )


def _no_plan(answers: Answers | None, dead: DeadEndError) -> ProblemError:
    told = ", ".join(f"{n} {'yes' if yes else 'no'}" for n, yes in (answers or {}).items())
    if not dead.proven:
        return ProblemError(
            "problem $.unknowns",
            f"no plan was found for {told or 'some answers'}",
            "allow more time",
        )
    if answers is None:
        return ProblemError(
            "problem $.unknowns",
            "no order was found that leaves a way open whatever the readings tell",
            "add an access step back, or let a reading be done earlier",
        )
    why = conflict_in_words(dead.case, conflict_of(dead.case))
    return ProblemError(
        "problem $.unknowns", f"a branch can never end: {told}", f"{why} Change what these bring"
    )


def with_reasons(problem: ContingentProblem, stretch: Stretch) -> Stretch:
    """The tree with ``for`` of each step: what it is done for on any way it is on."""
    reasons: dict[int, dict[str, None]] = {}
    for way in ways(stretch):
        case = case_of(problem, way)
        steps = explained(case, Answer(status="feasible", steps=way.steps)).steps
        for step, told in zip(way.steps, steps, strict=True):
            reasons.setdefault(id(step), {}).update(dict.fromkeys(told.for_))
    return _with(stretch, reasons)


def case_of(problem: ContingentProblem, way: Way) -> Problem:
    """The problem of what turned out to be needed on a way; what nobody asked is not."""
    answers = dict.fromkeys(problem.unknowns, False) | problem.answered | dict(way.answers)
    return problem.case(answers, answers)


def _with(stretch: Stretch, reasons: dict[int, dict[str, None]]) -> Stretch:
    steps = tuple(
        step.model_copy(update={"for_": tuple(reasons[id(step)])}) for step in stretch.steps
    )
    branches = tuple(
        branch.model_copy(update={"then": _with(branch.then, reasons)})
        for branch in stretch.branches
    )
    return stretch.model_copy(update={"steps": steps, "branches": branches})


def _likeliest(problem: ContingentProblem, objective: TreeGoal, limits: SearchLimits) -> Tree:
    """The plan of the likeliest answers, and the price of each other answer to one unknown."""
    cases = list(problem.cases(problem.answered))
    likeliest = max(cases, key=lambda case: case[1])[0]
    chosen = _planned(problem, likeliest, limits)
    attended, finish = chosen.attended_minutes or 0.0, chosen.finish_minutes or 0.0
    needed = problem.needed(likeliest)
    alternatives = list[Alternative]()
    for name in problem.unknowns:
        others = [c for c in cases if c[0][name] != likeliest[name]]
        if name in problem.answered or not others:
            continue
        answers, _ = max(others, key=lambda case: case[1])
        told = {n: yes for n, yes in answers.items() if yes != likeliest[n]}
        other = chosen
        if problem.needed(answers) != needed:
            other = _planned(problem, answers, limits)
        alternatives.append(
            Alternative(
                answers=told,
                probability=round(sum(p for _, p in others), 9),
                attended_minutes=round((other.attended_minutes or 0.0) - attended, 1),
                finish_minutes=round((other.finish_minutes or 0.0) - finish, 1),
            )
        )
    share = sum(p for answers, p in cases if problem.needed(answers) == needed)
    outcome = Outcome(attended_minutes=attended, probability=round(share, 9), answers=likeliest)
    return Tree(
        status="feasible",
        how="likeliest",
        objective=objective,
        expected_attended_minutes=attended,
        expected_finish_minutes=finish,
        least=outcome,
        worst=outcome,
        alternatives=tuple(alternatives),
        first=Stretch(
            steps=chosen.steps,
            expected_minutes=attended,
            least_minutes=attended,
            most_minutes=attended,
        ),
    )


def _planned(problem: ContingentProblem, answers: Answers, limits: SearchLimits) -> Answer:
    seconds, deterministic = limits.left()
    case = problem.case(answers, problem.answered)
    answer = plan(case, time_limit=seconds, deterministic_limit=deterministic, seed=limits.seed)
    if answer.finish_minutes is None:
        raise _no_plan(answers, DeadEndError(case, proven=answer.status == "impossible"))
    limits.spent += 0.0 if deterministic is None else answer.solve_seconds
    return answer
