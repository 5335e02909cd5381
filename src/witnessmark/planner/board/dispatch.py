"""A schedule by dispatching: time advances, and each free technician takes the next step there is.

Quick, and sound whenever it succeeds; it gives up where it cannot place a step. Machines are taken in a given
order of priority. A technician stays with a machine while there is work on it, or soon will be, and helps on
one already begun when none is left to begin.
"""

from __future__ import annotations

import heapq
from bisect import insort
from collections.abc import Sequence
from dataclasses import dataclass, field

from witnessmark.planner.board.path import FINISH, ORIGIN
from witnessmark.planner.board.prepared import NEVER, Prepared
from witnessmark.planner.problem.model import tenths

ROUNDS = 20  # per item; who needs more goes round in circles


@dataclass(frozen=True)
class Schedule:
    """Starts and crews per item of a path, and the finish; in tenths."""

    starts: tuple[int, ...]
    crews: tuple[tuple[int, ...], ...]
    finish: int


@dataclass(frozen=True)
class PriorityRule:
    """In which order work is dispatched: machines in order, items by rank, and how long to wait for work."""

    machines: Sequence[str | None]
    rank: Sequence[float]
    patience: int


@dataclass
class _Worker:
    """A technician: on which machine, from when free, what was opened and not closed."""

    name: str
    skills: frozenset[str] | None
    shifts: tuple[tuple[int, int], ...] | None
    free: int = 0
    machine: str | None = None
    opened: set[int] = field(default_factory=set)


class Dispatch(Prepared):
    """Runs over one path."""

    def run(self, rule: PriorityRule) -> Schedule | None:
        """One schedule, or None where this rule finds none."""
        return _Run(self, rule).schedule()


class _Run:
    """One dispatch from minute 0 to the end."""

    def __init__(self, d: Dispatch, rule: PriorityRule) -> None:
        self.d, self.rule = d, rule
        count = len(d.path.items)
        self.starts: list[int | None] = [None] * count
        self.crews: list[tuple[int, ...]] = [()] * count
        self.waiting = [len(before) for before in d.before]
        self.at = list(d.least)
        self.ready: dict[str | None, dict[int, None]] = {}  # all whose predecessors are placed
        self.left: dict[str | None, int] = {}
        for machine, effort in zip(d.machine, d.attended, strict=True):
            self.left[machine] = self.left.get(machine, 0) + effort
        self.hands = [
            _Worker(
                t.name,
                None if t.skills is None else frozenset(t.skills),
                None if t.shifts is None else tuple((tenths(a), tenths(b)) for a, b in t.shifts),
            )
            for t in d.problem.technicians
        ]
        self.taken = dict.fromkeys(d.scarce, 0)
        self.returns: list[tuple[int, str, int]] = []  # when how many units of what come back
        self.shut: dict[int, int] = {}
        self.soon: list[tuple[int, int]] = []  # items that may start from a later time on
        self.open: dict[str | None, list[tuple[float, int]]] = {}  # items that may start, by rank
        self.alone: list[tuple[float, int]] = []  # the same, for those without an attended part
        self.times = [begin for hand in self.hands for begin, _ in hand.shifts or ()] + d.nights
        heapq.heapify(self.times)
        self.now = 0
        self.todo = count

    def schedule(self) -> Schedule | None:
        self._begin()
        for _ in range(ROUNDS * (len(self.starts) + len(self.times) + 1)):
            if not self.todo:
                break
            if not self._dispatch() and not self._pass_time():
                return None
        if self.todo:
            return None
        return self._result()

    def _begin(self) -> None:
        """What is held and under way at minute 0."""
        d = self.d
        for hold in d.path.holds:
            if hold.begin.item < 0:
                self._take_units(hold.resource, hold.units)
        for n, item in enumerate(d.path.items):
            if item.running is not None:
                names = [t.name for t in d.problem.technicians]
                crew = tuple(names.index(name) for name in item.running.technicians)
                self._place(n, 0, crew)
        for n, count in enumerate(self.waiting):
            if not count and self.starts[n] is None:
                self._make_ready(n)

    def _result(self) -> Schedule | None:
        d = self.d
        starts = [start for start in self.starts if start is not None]
        finish = max((s + n for s, n in zip(starts, d.lengths, strict=True)), default=0)
        for first, gap in d.to_finish:
            finish = max(finish, gap + (0 if first == ORIGIN else starts[first]))
        for first, then, gap in d.deadlines:
            at = {ORIGIN: 0, FINISH: finish}
            if at.get(then, starts[then]) < at.get(first, starts[first]) + gap:
                return None
        for interval in d.path.opens:
            begin = interval.begin.after + (
                0 if interval.begin.item < 0 else starts[interval.begin.item]
            )
            last = interval.end.item
            end = (
                NEVER if last == FINISH else interval.end.after + (0 if last < 0 else starts[last])
            )
            if any(begin < night < end for night in d.nights):
                return None
        return Schedule(tuple(starts), tuple(self.crews), finish)

    # -------------------------------------------------------------- what is done now

    def _dispatch(self) -> bool:
        """Start whatever can start now; False where nothing can."""
        started = False
        for t in sorted(range(len(self.hands)), key=lambda t: (self.hands[t].free, t)):
            hand = self.hands[t]
            if hand.free > self.now:
                continue
            item = self._next_for(hand, hand.machine)
            if item is None:
                started |= self._change(t)
                continue
            started |= self._start(item, t)
        for _, n in list(self.alone):
            if self._fits(n):
                self._take(n)
                self._place(n, self.now, ())
                started = True
        return started

    def _next_for(self, hand: _Worker, machine: str | None) -> int | None:
        """The first item on this machine, or on none, that this technician can begin now."""
        found = []
        for place in dict.fromkeys((machine, None)):
            fitting = (
                one
                for one in self.open.get(place, ())
                if self._able(hand, one[1]) and self._in_shift(hand, one[1]) and self._fits(one[1])
            )
            found += [one for one in (next(fitting, None),) if one is not None]
        return min(found)[1] if found else None

    def _able(self, hand: _Worker, n: int) -> bool:
        return hand.skills is None or self.d.skills[n] <= hand.skills

    def _in_shift(self, hand: _Worker, n: int) -> bool:
        if hand.shifts is None:
            return True
        end = self.now + self.d.attended[n]
        return any(a <= self.now and end <= b for a, b in hand.shifts)

    def _fits(self, n: int) -> bool:
        """Whether resources suffice from now on, and what it opens will be closed before night."""
        d = self.d
        wanted: dict[str, int] = {}
        for number in d.begins[n]:
            hold = d.path.holds[number]
            wanted[hold.resource] = wanted.get(hold.resource, 0) + hold.units
        for resource, units in d.path.items[n].step.uses.items():
            wanted[resource] = wanted.get(resource, 0) + units
        for resource, units in wanted.items():
            taken = self.taken.get(resource)
            if taken is not None and taken + units > d.problem.resources[resource]:
                return False
        for number in d.opens[n]:
            span = d.spans[number]
            if any(self.now < night < self.now + span for night in d.nights):
                return False
        return True

    def _start(self, n: int, t: int) -> bool:
        """Start it with as many others as it takes, all of them on this machine and free."""
        crew = [
            t,
            *(other for other in range(len(self.hands)) if other != t and self._here(other, n)),
        ]
        crew = crew[: self.d.hands[n]]
        if len(crew) < self.d.hands[n]:
            return self._call(n, len(crew))
        self._take(n)
        self._place(n, self.now, tuple(crew))
        return True

    def _here(self, t: int, n: int) -> bool:
        hand = self.hands[t]
        here = hand.free <= self.now and hand.machine in (None, self.d.machine[n])
        return here and self._able(hand, n) and self._in_shift(hand, n)

    def _call(self, n: int, here: int) -> bool:
        """Ask free technicians who have nothing open elsewhere over to this machine."""
        missing, called = self.d.hands[n] - here, False
        for hand in self.hands:
            elsewhere = hand.machine not in (None, self.d.machine[n])
            free = hand.free <= self.now and elsewhere and self._may_leave(hand)
            if missing and free and self._able(hand, n):
                self._go(hand, self.d.machine[n])
                missing, called = missing - 1, True
        return called

    def _take(self, n: int) -> None:
        machine = self.d.machine[n]
        del self.ready[machine][n]
        ranked = self.open[machine] if self.d.hands[n] else self.alone
        ranked.remove((self.rule.rank[n], n))

    def _place(self, n: int, start: int, crew: tuple[int, ...]) -> None:
        d = self.d
        self.starts[n], self.crews[n] = start, crew
        self.todo -= 1
        self.left[d.machine[n]] -= d.attended[n]
        for t in crew:
            self.hands[t].free = start + d.attended[n]
            heapq.heappush(self.times, self.hands[t].free)
            if d.machine[n] is not None:
                self.hands[t].machine = d.machine[n]
        self._occupy(n, start, crew)
        self._free_those_after(n)

    def _occupy(self, n: int, start: int, crew: tuple[int, ...]) -> None:
        """What it uses, holds and opens, and what it releases and closes."""
        d = self.d
        over = start + d.lengths[n]
        for resource, units in d.path.items[n].step.uses.items():
            self._take_units(resource, units, over)
        for number in d.begins[n]:
            self._take_units(d.path.holds[number].resource, d.path.holds[number].units)
        for number in d.ends[n]:
            hold = d.path.holds[number]
            self._return_units(hold.resource, hold.units, start + hold.end.after)
        for number in d.opens[n]:
            if d.path.opens[number].by == n:
                for t in crew:
                    self.hands[t].opened.add(number)
        for number in d.shuts[n]:
            self.shut[number] = start + d.path.opens[number].end.after
            heapq.heappush(self.times, self.shut[number])

    def _take_units(self, resource: str, units: int, until: int | None = None) -> None:
        if resource in self.taken:
            self.taken[resource] += units
            if until is not None:
                self._return_units(resource, units, until)

    def _return_units(self, resource: str, units: int, at: int) -> None:
        if resource in self.taken:
            heapq.heappush(self.returns, (at, resource, units))
            heapq.heappush(self.times, at)

    def _free_those_after(self, n: int) -> None:
        d = self.d
        for later in d.after[n]:
            self.waiting[later] -= 1
            if not self.waiting[later] and self.starts[later] is None:
                freed = ((self.starts[first] or 0) + gap for first, gap in d.before[later])
                self.at[later] = max(self.at[later], *freed)
                self._make_ready(later)

    def _make_ready(self, n: int) -> None:
        """All it comes after is placed: it may start now, or from a time already known."""
        self.ready.setdefault(self.d.machine[n], {})[n] = None
        if self.at[n] > self.now:
            heapq.heappush(self.soon, (self.at[n], n))
            heapq.heappush(self.times, self.at[n])
        else:
            self._open(n)

    def _open(self, n: int) -> None:
        machine = self.d.machine[n]
        ranked = self.open.setdefault(machine, []) if self.d.hands[n] else self.alone
        insort(ranked, (self.rule.rank[n], n))

    # -------------------------------------------------------------- going elsewhere

    def _may_leave(self, hand: _Worker) -> bool:
        return self.d.change is None or all(number in self.shut for number in hand.opened)

    def _change(self, t: int) -> bool:
        """Go to another machine where there is work, unless there soon is some here."""
        hand, d = self.hands[t], self.d
        if not self._may_leave(hand):
            return False
        here = self.ready.get(hand.machine, ()) if hand.machine is not None else ()
        soon = min((self._soonest(n) for n in here if self._able(hand, n)), default=NEVER)
        if soon <= self.now + self.rule.patience and self.left.get(hand.machine, 0):
            return False
        arrival = self._arrival(hand)
        fresh: list[str | None] = []
        begun: list[str | None] = []
        for machine in self.rule.machines:
            if machine is None or machine == hand.machine:
                continue
            ready = self.ready.get(machine, ())
            if not any(self.at[n] <= arrival and self._can(hand, n, arrival) for n in ready):
                continue
            others = any(h.machine == machine for h in self.hands if h is not hand)
            (begun if others else fresh).append(machine)
        if not fresh and not begun:
            return False
        target = fresh[0] if fresh else max(begun, key=lambda machine: self.left[machine])
        if not fresh and self.left[target] <= 2 * (d.change or 0):
            return False
        self._go(hand, target)
        return True

    def _soonest(self, n: int) -> int:
        return self.at[n] if self._fits(n) else NEVER

    def _can(self, hand: _Worker, n: int, at: int) -> bool:
        end = at + self.d.attended[n]
        there = hand.shifts is None or any(a <= at and end <= b for a, b in hand.shifts)
        return bool(self.d.hands[n]) and there and self._able(hand, n) and self._fits(n)

    def _arrival(self, hand: _Worker) -> int:
        if self.d.change is None or hand.machine is None:
            return self.now
        closed = max((self.shut[number] for number in hand.opened), default=0)
        return max(self.now, max(hand.free, closed) + self.d.change)

    def _go(self, hand: _Worker, machine: str | None) -> None:
        hand.free = self._arrival(hand)
        heapq.heappush(self.times, hand.free)
        hand.machine = machine
        hand.opened = set()

    def _pass_time(self) -> bool:
        """Advance to the next time at which anything may have changed."""
        while self.times and self.times[0] <= self.now:
            heapq.heappop(self.times)
        if not self.times:
            return False
        self.now = heapq.heappop(self.times)
        while self.returns and self.returns[0][0] <= self.now:
            _, resource, units = heapq.heappop(self.returns)
            self.taken[resource] -= units
        while self.soon and self.soon[0][0] <= self.now:
            self._open(heapq.heappop(self.soon)[1])
        return True
