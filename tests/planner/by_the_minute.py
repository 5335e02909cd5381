"""The best plan by trying every start at every whole minute: the whole form, for very small problems.

Written from the description of the form alone. Lengths and times are whole minutes here.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from itertools import combinations, count
from typing import Any

Data = dict[str, Any]
DAY = 1440


class Workshop:
    """A state of affairs is (conditions, ages, done, running); running is (name, busy, left, crew)."""

    def __init__(self, data: Data) -> None:
        self.data = data
        self.conditions = data.get("conditions", {})
        self.names = list(self.conditions)
        self.steps = {s["name"]: s for s in [*data.get("moves", []), *data.get("operations", [])]}
        self.operations = [s["name"] for s in data.get("operations", [])]
        self.technicians = data.get("technicians", [{"name": "A"}])
        self.ends = self._day_ends()

    def _day_ends(self) -> list[int]:
        ends: dict[int, int] = {}
        for technician in self.technicians:
            if technician.get("shifts") is None:
                return []
            for begin, end in technician["shifts"]:
                ends[begin // DAY] = max(ends.get(begin // DAY, 0), end)
        return sorted(ends.values())

    def start(self) -> Any:
        states = tuple(c["start"] for c in self.conditions.values())
        ages = tuple(c.get("age", 0) if c.get("lapse") else 0 for c in self.conditions.values())
        return (*self.lapsed(states, ages, ()), frozenset(), ())

    def lapsed(self, states: Any, ages: Any, running: Any) -> tuple[Any, Any]:
        """What has become of states that nobody is changing."""
        occupied = {c for r in running for c in self.steps[r[0]].get("sets", {})}
        new_states, new_ages = list(states), list(ages)
        for n, name in enumerate(self.names):
            lapse = self.conditions[name].get("lapse", {})
            while name not in occupied and new_states[n] in lapse:
                rule = lapse[new_states[n]]
                if new_ages[n] < rule["after"]:
                    break
                new_ages[n] -= rule["after"]
                new_states[n] = rule["to"]
            if new_states[n] not in lapse:
                new_ages[n] = 0
        return tuple(new_states), tuple(new_ages)

    def counts(self, states: Any, running: Any) -> dict[str, set[str]]:
        """Per condition the states it counts as in."""
        found = {name: {state} for name, state in zip(self.names, states, strict=True)}
        for name, *_ in running:
            for c, state in self.steps[name].get("sets", {}).items():
                found[c].add(state)
        return found

    def is_allowed(self, states: Any, running: Any) -> bool:
        """Nothing forbidden holds, nobody is needed twice, nothing is used beyond what there is."""
        now = self.counts(states, running)
        for combination in self.data.get("never", []):
            if all(now[c] & set(s) for c, s in combination.items()):
                return False
        for resource, capacity in self.data.get("resources", {}).items():
            used = sum(self.steps[r[0]].get("uses", {}).get(resource, 0) for r in running)
            for name, held in now.items():
                holds = self.conditions[name].get("holds", {})
                used += max(holds.get(state, {}).get(resource, 0) for state in held)
            if used > capacity:
                return False
        for name, state in zip(self.names, states, strict=True):
            for other, *_ in running:
                step = self.steps[other]
                needed = None if name in step["sets"] else step["needs"].get(name)
                if needed is not None and state not in needed:
                    return False
        return True

    def crews(self, name: str, time: int, running: Any) -> Iterator[tuple[int, ...]]:
        step = self.steps[name]
        busy = {n for r in running if r[1] > 0 for n in r[3]}
        able = [
            n
            for n, who in enumerate(self.technicians)
            if (n not in busy or not step["minutes"])
            and (who.get("skills") is None or set(step.get("skills", [])) <= set(who["skills"]))
            and (
                who.get("shifts") is None
                or any(b <= time and time + step["minutes"] <= e for b, e in who["shifts"])
            )
        ]
        yield from combinations(able, step.get("hands", 1))

    def may_start(self, name: str, time: int, here: Any) -> bool:
        states, _, done, running = here
        step, now = self.steps[name], dict(zip(self.names, states, strict=True))
        names = [r[0] for r in running]
        if name in self.operations and (name in done or name in names):
            return False
        if not set(step.get("after", [])) <= done or time < step.get("release", 0):
            return False
        if any(now[c] not in allowed for c, allowed in step.get("needs", {}).items()):
            return False
        sets, needs = set(step.get("sets", {})), set(step.get("needs", {}))
        for other in names:
            theirs = set(self.steps[other].get("sets", {}))
            if sets & theirs or theirs & needs or sets & set(self.steps[other].get("needs", {})):
                return False
        return True

    def starts(self, time: int, here: Any) -> Iterator[tuple[int, Any]]:
        states, ages, done, running = here
        for name, step in self.steps.items():
            if self.may_start(name, time, here):
                for crew in self.crews(name, time, running):
                    begun = (
                        name,
                        step["minutes"],
                        step["minutes"] + step.get("unattended", 0),
                        crew,
                    )
                    now = tuple(sorted([*running, begun]))
                    if self.is_allowed(states, now):
                        cost = step["minutes"] * step.get("hands", 1)
                        yield cost, (states, ages, done, now)

    def a_minute_later(self, time: int, here: Any) -> Any:
        """The state of affairs at the end of the minute; None if it is not allowed."""
        states, ages, done, running = here
        if not self.is_allowed(states, running):
            return None
        rest = [(n, max(0, b - 1), left - 1, crew) for n, b, left, crew in running]
        new, older = list(states), [age + 1 for age in ages]
        for name, _, left, _ in rest:
            for c, state in self.steps[name].get("sets", {}).items():
                at = self.names.index(c)
                if left:
                    older[at] = ages[at]
                else:
                    new[at], older[at] = state, 0
        done = done | {n for n, _, left, _ in rest if not left and n in self.operations}
        running = tuple(sorted(r for r in rest if r[2]))
        now, older_now = self.lapsed(tuple(new), tuple(older), running)
        there = (now, older_now, done, running)
        if time + 1 in self.ends and self.exposed(here) and self.exposed(there):
            for name, before in self.counts(states, [r[:1] for r in here[3]]).items():
                after = self.counts(now, running)[name]
                if before & after & set(self.conditions[name].get("exposed", [])):
                    return None
        return there

    def exposed(self, here: Any) -> bool:
        now = self.counts(here[0], here[3])
        return any(now[c] & set(self.conditions[c].get("exposed", [])) for c in now)

    def left_alone(self, here: Any, minutes: int) -> Any:
        states, ages, done, running = here
        return (*self.lapsed(states, tuple(age + minutes for age in ages), ()), done, running)

    def is_finished(self, time: int, here: Any) -> bool:
        """Exposed states left standing would last over the end of the day."""
        states, _, done, running = here
        return (
            not running
            and not any(
                self.exposed(self.left_alone(here, end - time)) for end in self.ends if end > time
            )
            and len(done) == len(self.operations)
            and all(
                self.conditions[c].get("finish", s) == s
                for c, s in zip(self.names, states, strict=True)
            )
        )


def best_by_the_minute(data: Data, latest: int, most: int = 300_000) -> tuple[int, int] | None:
    """Least finish, then least attended minutes, up to ``latest``; None where there is no plan till then."""
    shop = Workshop(data)
    order = count()
    heap: list[Any] = [(0, 0, next(order), shop.start())]
    best: dict[Any, list[tuple[int, int]]] = {}
    found: tuple[int, int] | None = None
    while heap:
        time, cost, number, here = heapq.heappop(heap)
        if number > most:
            raise TimeoutError
        if time > latest or (found and time > found[0]):
            return found
        labels = best.setdefault((here, time if shop.data.get("timed") else None), [])
        if any(t <= time and c <= cost for t, c in labels):
            continue
        labels.append((time, cost))
        if shop.is_finished(time, here) and shop.is_allowed(here[0], here[3]):
            found = min(found or (time, cost), (time, cost))
            continue
        for more, there in shop.starts(time, here):
            heapq.heappush(heap, (time, cost + more, next(order), there))
        later = shop.a_minute_later(time, here)
        if later is not None:
            heapq.heappush(heap, (time + 1, cost, next(order), later))
    return found
