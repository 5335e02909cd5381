"""The best order found of given steps: finish, exposure, the previous order, walks, in turn.

Only the order is chosen here; which steps there are, and how often, is settled (``effort.py``). So the
attended minutes are the same for all orders, and what is won here costs nothing that was proven.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from witnessmark.planner.sequence.model.outline import Outline
from witnessmark.planner.sequence.order import Ordered
from witnessmark.planner.sequence.precedence_graph import PrecedenceGraph, Times, inversions
from witnessmark.planner.sequence.search import Solution

MOST_TRIES = 600  # orders tried for less exposure

Figures = tuple[int, int, int, int]


@dataclass(frozen=True)
class Candidate:
    """An order with its times and figures: finish, exposure, deviation, walks."""

    order: list[int]
    times: Times
    figures: Figures


def reordered(
    outline: Outline,
    order: Ordered,
    previous: Sequence[str] | None = None,
    *,
    tries: int = MOST_TRIES,
) -> Solution:
    """The best plan found with the steps of this order; ``tries``: how many orders for less exposure."""
    graph = PrecedenceGraph(outline, order)
    return graph.found(_Reordering(graph, previous).best(tries).order)


class _Reordering:
    """Orders of the same steps, weighed against each other."""

    def __init__(self, graph: PrecedenceGraph, previous: Sequence[str] | None) -> None:
        self.graph = graph
        self.ranks = None if previous is None else graph.ranks(previous)

    def best(self, tries: int) -> Candidate:
        """The best of some orders, then less exposed by taking out what need not be in between."""
        best = min((self.weighed(order) for order in self._orders()), key=lambda a: a.figures)
        return self._less_exposed(best, tries)

    def weighed(self, order: list[int]) -> Candidate:
        times = self.graph.times(order)
        moved = 0 if self.ranks is None else inversions(self.ranks[n] for n in order)
        figures = (
            times.finish,
            self.graph.exposure(times),
            moved,
            self.graph.walks(order, times),
        )
        return Candidate(order, times, figures)

    def _orders(self) -> Iterator[list[int]]:
        graph, size = self.graph, self.graph.size
        plain = [(n,) for n in range(size)]
        if self.ranks is not None:
            yield graph.topological(self._near())
        yield list(range(size))
        yield graph.dispatched([(-tail,) for tail in graph.tails])
        yield graph.dispatched([(-self._unattended(n), n) for n in range(size)])
        yield graph.dispatched(plain)

    def _near(self) -> list[tuple[int, ...]]:
        """The place in the previous order; a step not in it, that of the step it makes possible."""
        assert self.ranks is not None
        near = list(self.ranks)
        for n in reversed(range(self.graph.size)):
            if near[n] is None:
                after = self.graph.after[n]
                near[n] = min(
                    (r for m, r in enumerate(near) if r is not None and after >> m & 1),
                    default=self.graph.size,
                )
        return [(rank if rank is not None else 0, n) for n, rank in enumerate(near)]

    def _unattended(self, n: int) -> int:
        """The longest unattended part this step leads up to."""
        tasks, after = self.graph.tasks, self.graph.after[n]
        tails = (t.length - t.attended for m, t in enumerate(tasks) if m == n or after >> m & 1)
        return max(tails)

    def _less_exposed(self, best: Candidate, tries: int) -> Candidate:
        """Take out of each exposed interval what need not be done in it, as long as that helps."""
        improved = True
        while improved and best.figures[1]:
            improved = False
            for order in self._tightened(best):
                tries -= 1
                if tries < 0:
                    return best
                other = self.weighed(order)
                if other.figures < best.figures:
                    best, improved = other, True
                    break
        return best

    def _tightened(self, best: Candidate) -> Iterator[list[int]]:
        place = {n: at for at, n in enumerate(best.order)}
        for entered, left, _ in self.graph.exposed(best.times):
            begin = -1 if entered is None else place[entered]
            end = len(best.order) if left is None else place[left]
            yield from self._taken_out(best.order, begin, end)

    def _taken_out(self, order: list[int], begin: int, end: int) -> Iterator[list[int]]:
        """All that can go before or after; then one step at a time, with what it brings along."""
        after = self.graph.after
        first, last = order[max(begin, 0) : begin + 1], order[end : end + 1]
        head, within, rest = order[: max(begin, 0)], order[begin + 1 : end], order[end + 1 :]
        early = [n for n in within if first and not after[first[0]] >> n & 1]
        leads = [n for n in within if not last or after[n] >> last[0] & 1]
        late = [n for n in within if n not in early and n not in leads]
        if early or late:
            kept = [n for n in within if n not in early and n not in late]
            yield [*head, *early, *first, *kept, *last, *late, *rest]
        for n in reversed(late):
            moved = [m for m in within if m == n or after[n] >> m & 1]
            yield [*head, *first, *_without(within, moved), *last, *moved, *rest]
        for n in early:
            moved = [m for m in within if m == n or after[m] >> n & 1]
            yield [*head, *moved, *first, *_without(within, moved), *last, *rest]


def _without(numbers: list[int], some: list[int]) -> list[int]:
    return [n for n in numbers if n not in some]
