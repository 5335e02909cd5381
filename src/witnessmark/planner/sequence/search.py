"""One goal at a time, with proof: the best plan with few copies of moves, then that more cannot help."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from witnessmark.planner.problem.model import END_OF_TIME, tenths
from witnessmark.planner.problem.plan import Goal
from witnessmark.planner.sequence.model.constrain import constrain
from witnessmark.planner.sequence.model.counting import Counted, counted
from witnessmark.planner.sequence.model.outline import Outline, Task, longest_wait
from witnessmark.planner.sequence.model.variables import Variables, variables
from witnessmark.planner.sequence.reachability import Reachability, reachability
from witnessmark.planner.sequence.search_limits import SearchLimits, run

MOST_COPIES = 40
CHEAP = 10  # tenths of attended minutes: such moves fill idle time first; more copies of them at once spare rounds
LITTLE = 0.2  # share of the spare effort; with so much less, how often a move is worth doing is not counted anew
WITHIN_CAPS = 0.6  # share of the limits left; the rest is for the proof


@dataclass(frozen=True)
class Solution:
    """A plan as found: per step (task, copy, start) and who does it; finish and effort in tenths."""

    starts: tuple[tuple[Task, int, int], ...]
    crews: tuple[tuple[int, ...], ...]
    values: Mapping[Goal, int]
    caps: Mapping[str, int]
    horizon: int
    solution: tuple[int, ...]
    exposure: int = 0


@dataclass(frozen=True)
class Outcome:
    """The best plan for one goal (None: none found), the bound, whether there is none or no better."""

    found: Solution | None
    bound: int
    proven: bool


class Search:
    """Searches over one outline; keeps what each has learnt: caps, the best plan, proven floors."""

    def __init__(self, outline: Outline, limits: SearchLimits) -> None:
        self.outline, self.limits = outline, limits
        self.caps = _first_caps(outline)
        self.floors: dict[Goal, int] = {"finish": 0, "attended": 0}
        self.least: dict[Goal, int] = {"finish": 0, "attended": 0}
        self.best: Solution | None = None
        self.reachability: Reachability | None = None
        self.guess: Mapping[str, int] | None = None
        self.cheap_raised = False
        self.counted: tuple[int | None, Counted | None] | None = None

    def take(self, found: Solution | None, least: Mapping[Goal, int]) -> None:
        """Learn a plan, and bounds on the figures of any plan."""
        self.best = found or self.best
        for goal, bound in least.items():
            self.least[goal] = max(self.least[goal], bound)
            self.floors[goal] = max(self.floors[goal], bound)

    def minimise(self, goal: Goal, at_most: Mapping[Goal, int]) -> Outcome:
        """The least value of ``goal`` among plans within ``at_most``, over any number of copies."""
        best = self._known(goal, at_most)
        floor = self.floors[goal]
        # raised: what is within the caps is asked with what is beyond
        raised = optimal = best is not None and _has_no_idle_time(best, at_most)
        within = END_OF_TIME if raised else floor
        while True:
            met = best is not None and best.values[goal] <= floor
            if met or (best is not None and self.limits.over()):
                return Outcome(best, floor, proven=met)
            if not raised:
                found, within = self._best_within(self.caps, goal, _better(at_most, goal, best))
                self.best = best = found or best
                optimal = within >= (END_OF_TIME if best is None else best.values[goal])
            if best is None and not optimal:
                return Outcome(None, floor, proven=False)
            if best is None and self.reachability is None:
                self.reachability = self._ask_whether_possible()
                if self.reachability.possible is False:
                    return Outcome(None, floor, proven=True)
                if self.reachability.possible:
                    continue
            raised = raised or (optimal and not at_most and self._raise_cheap_caps(best))
            better = _better(at_most, goal, best)
            extra, bound = self._best_beyond_caps(goal, better, or_within=raised)
            if raised and extra is not None and not any(extra.values()):
                raised = False
                continue
            bounds = [within, bound] if best is None else [within, bound, best.values[goal]]
            floor = max(floor, min(bounds))
            if extra is None or not optimal or not self._raise_caps(extra):
                none_beyond = extra is None and bound == END_OF_TIME
                return Outcome(best, floor, proven=optimal and none_beyond)
            raised = best is not None

    def _known(self, goal: Goal, at_most: Mapping[Goal, int]) -> Solution | None:
        """The best plan so far, or one with the moves of the guess, where it is not good enough yet."""
        best = self.best if self._fits(at_most) else None
        if self.guess is None or goal != "finish" or self.limits.over():
            return best
        if best is not None and best.values[goal] <= self.floors[goal]:
            return best
        return self._try_guess(self.guess, best, at_most)

    def _try_guess(
        self, guess: Mapping[str, int], best: Solution | None, at_most: Mapping[Goal, int]
    ) -> Solution | None:
        """With the moves of the guess alone, then no more; the caps become one more of each.

        Measured: the small model is quick where its plan meets the floor; where it does not, the proof
        that more copies cannot help is quicker from wider caps than in several rounds.
        """
        self.guess = None
        self.caps = {name: times + 1 for name, times in guess.items()}
        found, _ = self._best_within(guess, "finish", _better(at_most, "finish", best))
        self.best = found or best
        return self.best

    def _fits(self, at_most: Mapping[Goal, int]) -> bool:
        return self.best is not None and all(
            self.best.values[name] <= most for name, most in at_most.items()
        )

    def _ask_whether_possible(self) -> Reachability:
        """Where the caps allow no plan: is there none at all, or how many copies has one?

        Each move of it gets one copy more: measured, the proof that still more cannot help is then
        ten times as quick, and the search is no slower.
        """
        found = reachability(self.outline)
        for name, times in found.times.items():
            if name in self.caps:
                self.caps[name] = max(self.caps[name], times + 1)
        return found

    def _best_within(
        self, caps: Mapping[str, int], goal: Goal, at_most: Mapping[Goal, int]
    ) -> tuple[Solution | None, int]:
        """The best plan within the caps and ``at_most``, and a bound on all of these; the end of time: none."""
        v = variables(self.outline, dict(caps), self._horizon(at_most))
        constrain(v)
        if goal != "finish":  # measured: a hint with another finish misleads more than it helps
            self._add_hint(v)
        solver, status = self._run(v, goal, at_most, WITHIN_CAPS)
        if status == cp_model.INFEASIBLE:
            return None, END_OF_TIME
        bound = max(0, int(-(-(solver.best_objective_bound - 1e-6) // 1)))
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None, bound
        return found_in(v, solver, caps), bound

    def _best_beyond_caps(
        self, goal: Goal, at_most: Mapping[Goal, int], *, or_within: bool = False
    ) -> tuple[dict[str, int] | None, int]:
        """Extra copies per move in some relaxed plan within ``at_most`` that has some, and a bound.

        ``or_within``: or in a plan within the caps, which has none. None and the end of time: there is no such plan.
        None and less: none was found.
        """
        worth = self._worth(self._effort(at_most))
        if worth is None:
            return None, END_OF_TIME
        if all(worth.most[name] <= cap for name, cap in self.caps.items()):
            return ({}, 0) if or_within else (None, END_OF_TIME)
        floor = worth.least_effort
        floor = max(
            self.floors[goal], floor if goal == "attended" else -(-floor // self.outline.hands)
        )
        v = variables(self.outline, self.caps, self._horizon_beyond(at_most), beyond=True)
        constrain(v)
        for name, extra in v.extra.items():
            v.cp.add(v.count(name) <= worth.most[name])
            if worth.most[name] <= self.caps[name]:
                v.cp.add(extra.over == 0)
        if not or_within:
            v.cp.add_bool_or([extra.over for extra in v.extra.values()])
        solver, status = self._run(v, goal, at_most, 1.0, whether=True)
        if status == cp_model.INFEASIBLE:
            return None, END_OF_TIME
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None, floor
        return {name: solver.value(extra.count) for name, extra in v.extra.items()}, floor

    def _worth(self, effort: int | None) -> Counted | None:
        """How often each move can be worth doing; what held for little more effort holds for this."""
        if self.counted is not None:
            known, before = self.counted
            if before is not None and known is not None and effort is not None:
                spare = known - before.least_effort
                if before.least_effort <= effort <= known and known - effort <= LITTLE * spare:
                    return before
        found = counted(self.outline, effort)
        self.counted = (effort, found)
        return found

    def _effort(self, at_most: Mapping[Goal, int]) -> int | None:
        """The most effort within ``at_most``: no longer than all hands work until the finish."""
        efforts = [at_most["attended"]] if "attended" in at_most else []
        if "finish" in at_most and not self.outline.has_shifts:
            running = sum(task.effort for task in self.outline.begun)
            efforts.append(at_most["finish"] * self.outline.hands + running)
        return min(efforts, default=None)

    def _raise_cheap_caps(self, best: Solution | None) -> bool:
        """One more copy of each cheap move, once, where there is idle time that such moves could fill."""
        if self.cheap_raised or not _has_idle_time(best):
            return False
        self.cheap_raised = True
        return self._raise_caps({m.name: m.effort <= CHEAP for m in self.outline.moves})

    def _raise_caps(self, extra: Mapping[str, int]) -> bool:
        """One more copy of each move the relaxation wants more of; False when that leads nowhere."""
        for name, count in extra.items():
            if count:
                self.caps[name] += min(count, 2)
        return max(self.caps.values(), default=0) <= MOST_COPIES

    def _horizon(self, at_most: Mapping[Goal, int]) -> int:
        """By when any plan within the caps can be over: something runs, or lapses, at any time."""
        outline = self.outline
        placed = sum(t.length for t in outline.tasks)
        placed += sum(move.length * self.caps[move.name] for move in outline.moves)
        changes = dict.fromkeys(outline.conditions, 1)
        for task, times in [*((t, 1) for t in outline.tasks), *self._capped()]:
            for name in task.step.sets:
                changes[name] += times
        waits = sum(n * longest_wait(outline.conditions[name]) for name, n in changes.items())
        latest = max((t.release for t in (*outline.tasks, *outline.moves)), default=0)
        return min(placed + waits + latest + outline.last_shift_end, self._most(at_most))

    def _capped(self) -> list[tuple[Task, int]]:
        return [(move, self.caps[move.name]) for move in self.outline.moves]

    def _horizon_beyond(self, at_most: Mapping[Goal, int]) -> int:
        """The same for any number of copies, where their number is bounded by their effort."""
        outline, most = self.outline, self._most(at_most)
        waits = max((longest_wait(c) for c in outline.conditions.values()), default=0)
        effort = at_most.get("attended")
        if (
            effort is None
            or waits
            or outline.has_shifts
            or any(move.effort == 0 for move in outline.moves)
        ):
            return most
        spare = max(0, effort - sum(t.effort for t in outline.tasks))
        moves = max((-(-spare * move.length // move.effort) for move in outline.moves), default=0)
        latest = max((t.release for t in (*outline.tasks, *outline.moves)), default=0)
        return min(sum(t.length for t in outline.tasks) + moves + latest, most)

    def _most(self, at_most: Mapping[Goal, int]) -> int:
        horizon = self.outline.problem.horizon
        most = END_OF_TIME if horizon is None else tenths(horizon)
        return max(0, min(most, at_most.get("finish", most)))

    def _run(
        self,
        v: Variables,
        goal: Goal,
        at_most: Mapping[Goal, int],
        share: float,
        *,
        whether: bool = False,
    ) -> tuple[cp_model.CpSolver, int]:
        """Search for the least of ``goal``, or only ``whether`` there is anything."""
        goals = {"finish": v.finish, "attended": v.attended}
        for name, most in at_most.items():
            v.cp.add(goals[name] <= most)
        v.cp.add(goals[goal] >= self.floors[goal])
        if not whether:
            v.cp.minimize(goals[goal])
        return run(v.cp, self.limits, goal=goal, share=share, whether=whether)

    def _add_hint(self, v: Variables) -> None:
        if self.best is None:
            return
        starts = {(task, copy): start for task, copy, start in self.best.starts}
        for placed in v.placed:
            start = starts.get((placed.task, placed.copy))
            if start is not None:
                v.cp.add_hint(placed.start, start)
            if placed.present is not None:
                v.cp.add_hint(placed.present, start is not None)


def found_in(v: Variables, solver: cp_model.CpSolver, caps: Mapping[str, int]) -> Solution:
    """The plan in a solution."""
    starts = [
        (placed.task, placed.copy, solver.value(placed.start))
        for placed in v.placed
        if placed.present is None or solver.value(placed.present)
    ]
    over = max((start + task.length for task, _, start in starts), default=0)
    waits = any(c.lapse and c.finish is not None for c in v.outline.conditions.values())
    values: dict[Goal, int] = {
        "finish": solver.value(v.finish) if waits else over,
        "attended": solver.value(v.attended),
    }
    in_order = tuple(sorted(starts, key=lambda s: (s[2], s[2] + s[0].length)))
    solution = tuple(solver.response_proto.solution)
    return Solution(in_order, _crews(v, solver, in_order), values, dict(caps), v.horizon, solution)


def _crews(
    v: Variables, solver: cp_model.CpSolver, steps: Sequence[tuple[Task, int, int]]
) -> tuple[tuple[int, ...], ...]:
    """Per step the technicians: as chosen, or, where all are alike, those free first."""
    free = [0] * v.outline.hands
    crews = []
    for task, copy, start in steps:
        if v.workers:
            chosen = v.workers.get((task, copy), {})
            crew = tuple(n for n, literal in chosen.items() if solver.value(literal))
        else:
            there = [n for n, at in enumerate(free) if at <= start or not task.attended]
            crew = tuple(there[: task.step.hands])
            for n in crew:
                free[n] = max(free[n], start + task.attended)
        crews.append(crew)
    return tuple(crews)


def _better(at_most: Mapping[Goal, int], goal: Goal, best: Solution | None) -> Mapping[Goal, int]:
    """The limits within which a plan would be better than the best so far."""
    return at_most if best is None else {**at_most, goal: best.values[goal] - 1}


def _has_no_idle_time(best: Solution, at_most: Mapping[Goal, int]) -> bool:
    """Whether one technician works all of the least time: hardly any plan of that finish is less work."""
    return at_most.get("finish") == best.values["finish"] == best.values["attended"]


def _has_idle_time(best: Solution | None) -> bool:
    """Whether something is waited for: then moves may be done meanwhile that nobody needs."""
    return best is not None and best.values["finish"] > best.values["attended"]


def _first_caps(outline: Outline) -> dict[str, int]:
    """Two copies of the shortest moves, one of the others: a guess that only costs time when wrong."""
    lengths = sorted(move.length for move in outline.moves)
    short = 0.4 * lengths[len(lengths) // 2] if lengths else 0
    return {move.name: 2 if move.length <= short else 1 for move in outline.moves}
