"""The least work from a place in the tree to the end of one case.

Orders known for other cases and places are tried first: one that meets a bound known already needs no search.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from witnessmark.planner.check.check_plan import replay
from witnessmark.planner.contingent.orders import Orders
from witnessmark.planner.contingent.places import Needed, Place
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.plan import PlanStep
from witnessmark.planner.problem.unknowns import Answers
from witnessmark.planner.sequence.effort import least_effort
from witnessmark.planner.sequence.model.ordering import is_by_order_alone
from witnessmark.planner.sequence.model.outline import outline
from witnessmark.planner.sequence.search_limits import SearchLimits
from witnessmark.planner.sequence.solve import solve_within

ALIKE = 4  # sets of operations whose orders are tried before a search. Judged by us
EACH = 6  # of these orders, the newest. The same

Order = tuple[str, ...]


class DeadEndError(Exception):
    """From a place no way leads to the end of a case, or none was found within the limits."""

    def __init__(self, case: Problem, *, proven: bool) -> None:
        super().__init__(case, proven)
        self.case, self.proven = case, proven


@dataclass
class Rests:
    """Finds the rest of a case from a place, and remembers what it found.

    ``searches``: how many more are made where an order is known that may not be the best.
    """

    limits: SearchLimits
    searches: int = 0
    _orders: dict[Needed, list[Order]] = field(default_factory=dict)
    _found: dict[object, Order] = field(default_factory=dict)
    _timed: dict[object, tuple[PlanStep, ...]] = field(default_factory=dict)

    def least(self, place: Place, answers: Answers) -> Order:
        """The steps left in an order of the least work found. Raises DeadEndError."""
        case, needed = place.case(answers), place.problem.needed(answers)
        key = (place.names, tuple((o.name, o.after) for o in case.operations))
        if key in self._found:
            return self._found[key]
        orders, floor = Orders(case), place.floors.get(needed, 0) - place.spent
        best = self._guess(orders, place, needed, floor)
        is_best = best is not None and orders.effort(best) <= floor
        if best is None or (not is_best and self.searches and not self.limits.over()):
            self.searches -= best is not None
            best = self._searched(orders, place, answers, best)
            is_best = True
        if is_best:
            self._found[key] = best
        self.keep(needed, (*place.names, *best))
        return best

    def keep(self, needed: Needed, order: Order) -> None:
        """Remember an order for all of these operations, from the start."""
        known = self._orders.setdefault(needed, [])
        if order not in known:
            known.append(order)

    def _guess(self, orders: Orders, place: Place, needed: Needed, floor: int) -> Order | None:
        """The best order made of those known; the first that meets the floor."""
        best: Order | None = None
        for order in self._known(needed):
            made = orders.adapted(order, place.names)
            if made is not None and (best is None or orders.effort(made) < orders.effort(best)):
                best = made
                if orders.effort(best) <= floor:
                    break
        return best

    def _known(self, needed: Needed) -> Iterator[Order]:
        """Orders of the same operations, then of those most alike, the newest first."""
        for other in sorted(self._orders, key=lambda other: len(other ^ needed))[:ALIKE]:
            yield from self._orders[other][: -EACH - 1 : -1]

    def _searched(
        self, orders: Orders, place: Place, answers: Answers, best: Order | None
    ) -> Order:
        there = outline(orders.problem)
        effort = least_effort(there, self.limits)
        if effort.impossible:
            raise DeadEndError(orders.problem, proven=True)
        if not place.waits(answers):
            needed = place.problem.needed(answers)
            least = place.spent + effort.bound - sum(task.effort for task in there.begun)
            place.floors[needed] = max(place.floors.get(needed, 0), least)
        if effort.order is not None:
            found = tuple(task.name for task, _ in effort.order if not task.running)
            if best is None or orders.effort(found) < orders.effort(best):
                best = found
        if best is None:
            raise DeadEndError(orders.problem, proven=False)
        return best

    def by_the_clock(
        self, case: Problem, steps: tuple[PlanStep, ...], place: Place
    ) -> tuple[PlanStep, ...]:
        """These steps where the clock allows them; else the plan of least work that it allows. Raises DeadEndError."""
        if is_by_order_alone(outline(case)) or not replay(case, steps)[0]:
            return steps
        key = (place.names, place.minute, tuple((o.name, o.after) for o in case.operations))
        if key not in self._timed:
            answer = solve_within(case, self.limits, "attended")
            if answer.finish_minutes is None:
                raise DeadEndError(case, proven=answer.status == "impossible")
            self._timed[key] = answer.steps
        return self._timed[key]
