"""Which copy can follow which: a state is left as often as it was reached, at every instant.

Take the arc on which setter i reaches state s and setter j leaves it. Up to then s was reached, the
start included, exactly once more often than it was left. Copies of a move are in order, so the k-th copy
of a move that sets s has been there k times; of a move that leaves nothing but s likewise. What the
other setters add is known within bounds: an operation comes once, another move as often as it is placed.
Where one move alone leads into s and one alone out of it, copy follows copy and nothing is left to choose.
"""

from __future__ import annotations

from collections.abc import Collection

from witnessmark.planner.sequence.model.variables import Placed, Variables


class Visits:
    """Bounds on how often the states of one condition are reached and left."""

    def __init__(self, v: Variables, name: str) -> None:
        self.name, self.condition = name, v.outline.conditions[name]
        self.start = v.outline.problem.start_state(name)
        self.setters = v.setters(name)
        self.accepted = {
            placed.task: frozenset(placed.task.accepts(name, self.condition.states))
            for placed in self.setters
        }

    def may_follow(self, earlier: Placed | None, state: str, later: Placed) -> bool:
        """Whether ``later`` can be the one that leaves the state ``earlier`` (None: the start) reached."""
        if self.condition.lapse:
            return True
        begun = int(state == self.start)
        reached, more_reached = self._times(earlier, self._reaching(state))
        left, more_left = self._times_left(later, state)
        if earlier is None:
            reached, more_reached = 0, 0
        else:
            reached += 1
        fewest, most = reached + begun - 1, reached + more_reached + begun - 1
        return left <= most and fewest <= left + more_left

    def _reaching(self, state: str) -> list[Placed]:
        return [p for p in self.setters if p.task.step.sets[self.name] == state]

    def _times_left(self, later: Placed, state: str) -> tuple[int, int]:
        """How often the state was left before, at least, and how much more it can have been."""
        leaving = [p for p in self.setters if state in self.accepted[p.task]]
        times, more = self._times(later, leaving)
        if len(self.accepted[later.task]) == 1:
            return times, more
        return 0, times + more

    def _times(self, placed: Placed | None, all_of_them: Collection[Placed]) -> tuple[int, int]:
        """Copies of the same step before this one, and how many others there are."""
        if placed is None:
            return 0, 0
        return placed.copy, sum(p.task is not placed.task for p in all_of_them)
