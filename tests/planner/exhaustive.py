"""The best plan by trying everything: slow, and written without the solver in mind.

Steps start only when something ends (or at the beginning); without lapses and set times no plan gains
by waiting longer. One technician.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from itertools import count
from typing import Any

Data = dict[str, Any]


class World:
    """What a step may do in a state of affairs: states, operations done, steps running."""

    def __init__(self, data: Data) -> None:
        self.conditions = data["conditions"]
        self.names = list(self.conditions)
        self.never = data.get("never", [])
        self.steps = {s["name"]: s for s in [*data.get("moves", []), *data.get("operations", [])]}
        self.operations = [s["name"] for s in data.get("operations", [])]

    def minutes(self, name: str) -> tuple[int, int]:
        step = self.steps[name]
        return round(step["minutes"] * 10), round(step.get("unattended", 0) * 10)

    def effort(self, name: str) -> int:
        return self.steps[name].get("hands", 1) * self.minutes(name)[0]

    def startable(
        self, name: str, states: tuple[str, ...], done: frozenset[str], running: Any
    ) -> bool:
        step, now = self.steps[name], dict(zip(self.names, states, strict=True))
        names = [r[0] for r in running]
        attended = step.get("hands", 1) and self.minutes(name)[0]
        return (
            not (name in self.operations and (name in done or name in names))
            and set(step.get("after", [])) <= done
            and all(now[c] in allowed for c, allowed in step["needs"].items())
            and not (attended and any(r[1] > 0 for r in running))
            and not any(self.in_the_way(step, self.steps[other]) for other in names)
            and not self.forbidden(now, [*names, name])
        )

    @staticmethod
    def in_the_way(step: Data, other: Data) -> bool:
        """Whether one changes what the other needs or changes."""
        sets, others = set(step["sets"]), set(other["sets"])
        return bool(sets & (others | set(other["needs"])) or others & set(step["needs"]))

    def forbidden(self, now: dict[str, str], running: list[str]) -> bool:
        counts = {c: {state} for c, state in now.items()}
        for name in running:
            for c, state in self.steps[name]["sets"].items():
                counts[c].add(state)
        return any(all(counts[c] & set(s) for c, s in nv.items()) for nv in self.never)

    def is_finished(self, states: tuple[str, ...], done: frozenset[str]) -> bool:
        return len(done) == len(self.operations) and all(
            self.conditions[c].get("finish", s) == s
            for c, s in zip(self.names, states, strict=True)
        )

    def start(self) -> tuple[str, ...]:
        return tuple(self.conditions[c]["start"] for c in self.names)

    def after(self, name: str, states: tuple[str, ...]) -> tuple[str, ...]:
        sets = self.steps[name]["sets"]
        return tuple(sets.get(c, s) for c, s in zip(self.names, states, strict=True))


def least_attended(data: Data) -> int | None:
    """Least attended tenths over all plans, one step at a time; None if there is no plan."""
    world, order = World(data), count()
    if world.forbidden(dict(zip(world.names, world.start(), strict=True)), []):
        return None
    heap = [(0, next(order), world.start(), frozenset[str]())]
    seen = set()
    while heap:
        cost, _, states, done = heapq.heappop(heap)
        if (states, done) in seen:
            continue
        seen.add((states, done))
        if world.is_finished(states, done):
            return cost
        for name in world.steps:
            if world.startable(name, states, done, ()):
                more = done | {name} if name in world.operations else done
                item = (cost + world.effort(name), next(order), world.after(name, states), more)
                heapq.heappush(heap, item)
    return None


def earliest_finish(data: Data, most: int = 400_000) -> tuple[int, int] | None:
    """Least finish, then least attended tenths; None if no plan. Raises when it takes too long."""
    world = World(data)
    if world.forbidden(dict(zip(world.names, world.start(), strict=True)), []):
        return None
    heap: list[Any] = [(0, 0, 0, world.start(), frozenset[str](), ())]
    numbers = count(1)
    best: dict[Any, list[tuple[int, int]]] = {}
    found: tuple[int, int] | None = None
    while heap:
        time, cost, number, *here = heapq.heappop(heap)
        if number > most:
            raise TimeoutError
        if found and time > found[0]:
            return found
        labels = best.setdefault(tuple(here), [])
        if any(t <= time and c <= cost for t, c in labels):
            continue
        labels.append((time, cost))
        states, done, running = here
        if not running and world.is_finished(states, done):
            found = min(found or (time, cost), (time, cost))
            continue
        for more_time, more_cost, *there in _choices(world, states, done, running):
            heapq.heappush(heap, (time + more_time, cost + more_cost, next(numbers), *there))
    return found


def _choices(world: World, states: Any, done: Any, running: Any) -> Iterator[tuple[Any, ...]]:
    """Start a step now, or wait for the next end: minutes and effort more, and what then is so."""
    for name in world.steps:
        if world.startable(name, states, done, running):
            attended, tail = world.minutes(name)
            busy = attended if world.steps[name].get("hands", 1) else 0
            begun = tuple(sorted([*running, (name, busy, attended + tail)]))
            yield 0, world.effort(name), states, done, begun
    if running:
        step = min(busy or length for _, busy, length in running)
        rest = [(name, max(0, busy - step), length - step) for name, busy, length in running]
        over = [name for name, _, length in rest if not length]
        for name in over:
            states = world.after(name, states)
        done |= {name for name in over if name in world.operations}
        yield step, 0, states, done, tuple(sorted(r for r in rest if r[2]))
