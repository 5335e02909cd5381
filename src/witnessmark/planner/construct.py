"""A plan for a large problem, one operation after the other: the nearest next, by the cheapest access.

From the state of affairs at hand it asks which operation is cheapest to get at, gets there, does it, and goes
on; at the end it brings back what must be brought back. What comes out is sound or nothing: nothing means that
this way found no plan, not that there is none.
"""

from __future__ import annotations

import heapq
from collections.abc import Collection, Iterable, Iterator, Mapping

from witnessmark.planner.access import FAR, Access, Act
from witnessmark.planner.model.outline import runs
from witnessmark.planner.plan import PlanStep
from witnessmark.planner.problem import Move, Operation, Problem, tenths

WINDOW = 200  # operations looked at together, in an order that `after` allows
MOST_TRIES = 60  # detours for one operation, where states lapse on the way

Needs = Mapping[str, frozenset[str]]
Key = tuple[tuple[str, frozenset[str]], ...]


def constructed(problem: Problem) -> list[PlanStep] | None:
    """Steps one after the other, in minutes, without technicians; None where this way finds none."""
    return _Construction(problem).steps()


class _Construction:
    """The work as it goes on: the clock, the states and since when, what is done."""

    def __init__(self, problem: Problem) -> None:
        self.problem, self.clock = problem, 0
        self.states = {name: problem.start_state(name) for name in problem.conditions}
        self.since = {name: -tenths(problem.start_age(name)) for name in problem.conditions}
        self.lapsing = [name for name, c in problem.conditions.items() if c.lapse]
        self.access = Access(problem)
        self.made: list[PlanStep] = []
        self.needs: dict[str, Needs] = {}
        self.free: dict[Key, dict[str, None]] = {}  # what may come next, by what it needs
        self.kinds: dict[Key, int] = {}  # how many are left of each kind of need
        finish = {n: c.finish for n, c in problem.conditions.items() if c.finish is not None}
        self.finish = {name: frozenset((state,)) for name, state in finish.items()}
        self._begin()

    def _begin(self) -> None:
        """What is done is left out; what is under way is waited for."""
        now = self.problem.now
        gone = self.problem.begun
        every = {o.name: o for o in self.problem.operations if o.name not in gone}
        self.waits = {n: {e for e in o.after if e in every} for n, o in every.items()}
        self.later: dict[str, list[str]] = {name: [] for name in every}
        for name, earlier in self.waits.items():
            for before in earlier:
                self.later[before].append(name)
        for running in now.running if now else ():
            over = tenths(running.minutes) + tenths(running.unattended)
            for name, state in self.problem.step(running.name).sets.items():
                self.states[name], self.since[name] = state, over
            self.clock = max(self.clock, over)
        together = _together(self.waits, self.later)
        self.coming = [[every[name] for name in group] for group in together][::-1]
        self.left: dict[str, Operation] = {}
        self.possible = True
        self._look_ahead()
        self.possible &= not self._forbidden(self.problem.never, {})

    def _look_ahead(self) -> None:
        """Take more operations into view, those together that follow one another."""
        while self.coming and len(self.left) < WINDOW:
            group = self.coming.pop()
            if len(group) > WINDOW:
                self.coming.append(group[WINDOW:])
            self.possible &= all(self._look_at(operation) for operation in group[:WINDOW])

    def _look_at(self, operation: Operation) -> bool:
        """Take an operation into view; False where it can never be done."""
        needs = self.access.needs_of(operation)
        if needs is None:
            return False
        self.left[operation.name], self.needs[operation.name] = operation, needs
        self.kinds[_key(needs)] = self.kinds.get(_key(needs), 0) + 1
        if not self.waits[operation.name]:
            self._set_free(operation.name)
        return True

    def _set_free(self, name: str) -> None:
        self.free.setdefault(_key(self.needs[name]), {})[name] = None

    def steps(self) -> list[PlanStep] | None:
        """Everything done and brought back."""
        self._let_lapse()
        while self.left and self.possible:
            if not any(self._do(self.left[name], self.needs[name]) for name in self._nearest()):
                return None
        reached = self.possible and self._get_to(self.finish)
        return self.made if reached and self.possible else None

    def _nearest(self) -> Iterator[str]:
        """Operations that may come next, one of each kind of need, the cheapest to get at first."""
        price, _ = self.access.prices(self.states)
        ranked = []
        for number, (key, names) in enumerate(self.free.items()):
            far = self.access.price_of(dict(key), price)
            if names and far < FAR:
                first = min(names, key=lambda name: -self._alone(name))
                ranked.append((far, -self._alone(first), number, first))
        for *_, name in sorted(ranked):
            yield name

    def _alone(self, name: str) -> int:
        """Its part that needs nobody: the longest is best begun early."""
        return self.left[name].tenths - self.left[name].attended_tenths

    # -------------------------------------------------------------- doing it

    def _do(self, operation: Operation, needs: Needs) -> bool:
        goal = self._goal(operation, needs)
        if goal is None or not self._get_to(goal, operation):
            return False
        self._make(operation)
        del self.left[operation.name]
        self.kinds[_key(needs)] -= 1
        del self.free[_key(needs)][operation.name]
        if not self.free[_key(needs)]:
            del self.free[_key(needs)]
        for name in self.later[operation.name]:
            self.waits[name].discard(operation.name)
            if not self.waits[name] and name in self.left:
                self._set_free(name)
        self._look_ahead()
        return True

    def _goal(self, operation: Operation, needs: Needs) -> Needs | None:
        """What should be so before an operation: what it needs, and what could not be had after it.

        None where, for all we can see, the rest could not be done any more: it may end a state for good.
        """
        goal = dict(needs)
        for _ in range(len(self.states)):
            missing = self._missing_after(operation, goal)
            if missing is None:
                return goal
            more = {c: s for c, s in missing.items() if c not in operation.sets and c not in goal}
            if not more:
                return None
            goal |= more
        return None

    def _missing_after(self, operation: Operation, goal: Needs) -> Needs | None:
        """What the rest needs and could not get at after the operation; None: nothing."""
        if all(self.states[name] == state for name, state in operation.sets.items()):
            return None
        after = dict(self.states)
        for act in self.access.way(self.states, goal) or ():
            after.update(act.sets)
        after.update(operation.sets)
        price, _ = self.access.prices(after)
        wanted = [dict(key) for key, number in self.kinds.items() if number]
        if all(self.access.price_of(needs, price) < FAR for needs in (*wanted, self.finish)):
            return None
        return self._out_of_reach(operation.name, set(price))

    def _out_of_reach(self, but: str, facts: set[tuple[str, str]]) -> Needs | None:
        """The first needs of the rest that are out of reach even if no state were ever left."""
        waiting = {name: o for name, o in self.left.items() if name != but}
        while True:
            next_ = [o for n, o in waiting.items() if not any(e in waiting for e in self.waits[n])]
            ready = [o for o in next_ if not _missing(self.needs[o.name], facts)]
            more = {
                f
                for act in self.access.acts
                if not _missing(act.needs, facts)
                for f in act.sets.items()
            }
            more |= {fact for operation in ready for fact in operation.sets.items()}
            for operation in ready:
                del waiting[operation.name]
            if not ready and more <= facts:
                lacking = [_missing(self.needs[o.name], facts) for o in next_]
                return next(iter(lacking), _missing(self.finish, facts)) or None
            facts |= more

    def _get_to(self, needs: Needs, operation: Operation | None = None) -> bool:
        """Moves and waits until what is needed is there, and will be for as long as the operation takes."""
        for _ in range(MOST_TRIES):
            if operation is not None:
                self._wait(max(0, tenths(operation.release) - self.clock))
            way = self.access.way(self.states, needs)
            if way is None:
                return False
            if not way and operation is None:
                return True
            if not way and operation is not None and self._lasts(operation):
                return self.access.allows(self.states, operation.sets, operation.uses)
            if not way and not self._wait_for_a_lapse():
                return False
            self._follow(way)
        return False

    def _follow(self, way: list[Act]) -> None:
        """As far as nothing lapses on the way that it counted on."""
        for act in way:
            if not self.access.can(self.states, act):
                return
            if act.step is None:
                self._wait(self._due(next(iter(act.sets))) - self.clock)
                continue
            self._wait(max(0, tenths(act.step.release) - self.clock))
            if not self.access.can(self.states, act):
                return
            if not self._lasts(act.step):
                self._wait_for_a_lapse()
                return
            self._make(act.step)

    def _make(self, step: Move | Operation) -> None:
        over = self.clock + step.tenths
        kind = "operation" if isinstance(step, Operation) else "move"
        self.made.append(
            PlanStep(
                name=step.name,
                kind=kind,
                start=self.clock / 10,
                end=(self.clock + step.attended_tenths) / 10,
                tail_end=over / 10,
            )
        )
        self.clock = over
        self._let_lapse(step.sets)
        for name, state in step.sets.items():
            self.states[name], self.since[name] = state, over

    # -------------------------------------------------------------- clocks of states

    def _lasts(self, step: Move | Operation) -> bool:
        """Whether what it needs without setting it stays allowed until it is over."""
        for name in self.lapsing:
            allowed = step.needs.get(name)
            if allowed is None or name in step.sets:
                continue
            since = self.clock - self.since[name]
            spans = runs(self.problem.conditions[name], self.states[name], allowed)
            inside = (b <= since and (e is None or since + step.tenths <= e) for b, e in spans)
            if not any(inside):
                return False
        return True

    def _due(self, name: str) -> int:
        lapse = self.problem.conditions[name].lapse.get(self.states[name])
        return FAR if lapse is None else self.since[name] + tenths(lapse.after)

    def _wait_for_a_lapse(self) -> bool:
        due = min((self._due(name) for name in self.lapsing), default=FAR)
        if due < FAR:
            self._wait(due - self.clock)
        return due < FAR

    def _wait(self, length: int) -> None:
        self.clock += max(0, length)
        self._let_lapse()

    def _let_lapse(self, changing: Mapping[str, str] | None = None) -> None:
        """States that are due, but for those being changed; none may complete what is forbidden."""
        changing = changing or {}
        for name in self.lapsing:
            while name not in changing and (due := self._due(name)) <= self.clock:
                lapse = self.problem.conditions[name].lapse[self.states[name]]
                self.states[name], self.since[name] = lapse.to, due
                self.possible &= not self._forbidden(self.access.rows.get(name, ()), changing)

    def _forbidden(
        self, rows: Iterable[Mapping[str, Collection[str]]], changing: Mapping[str, str]
    ) -> bool:
        return any(
            all(self.states[c] in bad or changing.get(c, "") in bad for c, bad in row.items())
            for row in rows
        )


def _key(needs: Needs) -> Key:
    return tuple(sorted(needs.items(), key=lambda need: need[0]))


def _together(
    waits: Mapping[str, Collection[str]], later: Mapping[str, Collection[str]]
) -> list[list[str]]:
    """Groups of names that wait for one another, each in an order in which they can come."""
    group: dict[str, int] = {}
    for first in waits:
        pending, number = [first], len(group)
        while pending:
            name = pending.pop()
            if name not in group:
                group[name] = number
                pending += [*waits[name], *later[name]]
    groups: dict[int, list[str]] = {}
    for name in _in_order(waits, later):
        groups.setdefault(group[name], []).append(name)
    return [groups[number] for number in sorted(groups)]


def _in_order(
    waits: Mapping[str, Collection[str]], later: Mapping[str, Collection[str]]
) -> list[str]:
    """The names in their own order, but each after those it waits for."""
    missing = {name: len(earlier) for name, earlier in waits.items()}
    place = {name: number for number, name in enumerate(waits)}
    heap = [(place[name], name) for name, number in missing.items() if not number]
    ordered = []
    while heap:
        _, name = heapq.heappop(heap)
        ordered.append(name)
        for after in later[name]:
            missing[after] -= 1
            if not missing[after]:
                heapq.heappush(heap, (place[after], after))
    return ordered


def _missing(needs: Needs, facts: Collection[tuple[str, str]]) -> Needs:
    """The needs of which no state is among the facts."""
    return {n: s for n, s in needs.items() if not any((n, state) in facts for state in s)}
