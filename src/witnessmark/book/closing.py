"""Whatever a job opens, changes or needs, it can also close, change back and get.

Judged job by job, each with the jobs it brings and the access steps it may call on: those are what
a visit has when nothing else is taken on. Where a reading decides about operations, judged for every answer.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from itertools import product
from typing import get_args

from witnessmark.book.errors import Fault, Path
from witnessmark.book.model import Book, Condition, Gate, Step
from witnessmark.book.select import (
    AS_FOUND,
    Ways,
    decided_by,
    earlier,
    found_states,
    job_of,
    operations,
    path_of,
    possible_states,
    states_from,
    steps,
    ways_between,
    with_brought,
)
from witnessmark.errors import listed

MOST_DECIDING = 10  # readings about the steps of one job: 1024 ways. Judged by us
Told = tuple[str, str | None, str | None, bool]  # reading, below, above; whether that must be so
Thing = tuple[str, ...]  # ("fastener", id), ("renewal", id), ("circuit", id, requirement)


def faults(book: Book) -> Iterator[Fault]:
    """What could be opened and never closed, changed and never changed back, needed and not had."""
    told: set[Path] = set()
    ways = Ways(book)
    for job in book.jobs:
        taken = with_brought(book, [job])
        rows = _rows(operations(book, taken), taken)
        unknowns = {one[:3] for row in rows.values() for one in row}
        if len(unknowns) > MOST_DECIDING:
            problem = f"{len(unknowns)} readings decide about its steps and those of jobs it brings"
            yield Fault(("jobs", job), problem, f"let at most {MOST_DECIDING} decide")
            continue
        for left_out in _branches(rows, unknowns):
            when = f"{job} is done" + (f" without {listed(sorted(left_out))}" if left_out else "")
            for fault in _job_faults(ways, job, ways.used(taken, left_out), when):
                if fault.path not in told:
                    told.add(fault.path)
                    yield fault
    yield from _found_but_never_finished(book)
    yield from _Gates(book).faults()


def _rows(used: Mapping[str, Step], jobs: Collection[str]) -> dict[str, list[Told]]:
    """By operation that readings decide about: what must be so, one of them."""
    return {
        name: [(one.reading, one.below, one.above, one.outside is not False) for one in each]
        for name, step in used.items()
        if (each := decided_by(step, jobs))
    }


def _branches(
    rows: Mapping[str, list[Told]], unknowns: Collection[tuple[str | None, ...]]
) -> Iterable[frozenset[str]]:
    """The operations that are left out, for every way the readings may decide; first nothing is."""
    found = {frozenset[str](): None}
    for answers in product((True, False), repeat=len(unknowns)):
        told = dict(zip(unknowns, answers, strict=True))
        out = (name for name, row in rows.items() if all(told[one[:3]] != one[3] for one in row))
        found[frozenset(out)] = None
    return found


def _job_faults(ways: Ways, job: str, used: Mapping[str, Step], when: str) -> Iterator[Fault]:
    book, setters = ways.book, _setters(used)
    yield from _left_open(book, job, used, when)
    yield from _not_to_be_had(ways, used, setters, when)
    for name, condition in book.conditions.items():
        if name in setters:
            yield from _left_changed(name, condition, when, setters[name])


def _setters(of: Mapping[str, Step]) -> dict[str, dict[str, Step]]:
    """For each condition, the steps that set it."""
    by: dict[str, dict[str, Step]] = {}
    for name, step in of.items():
        for condition in step.sets:
            by.setdefault(condition, {})[name] = step
    return by


# ---------------------------------------------------------------- opened and closed

_WORDS = {  # how a thing is opened, and what would close it
    "fastener": ("loosened or snugged here, and nothing tightens it", "tightens"),
    "renewal": ("disturbed here, and nothing renews it", "renews"),
    "circuit": ("opened here, and nothing closes it", "closes"),
}


def opened(book: Book, step: Step) -> dict[Thing, Path]:
    """What the step opens, and under which key and place of it."""
    return {
        **{("fastener", f): ("loosens", n) for n, f in enumerate(step.loosens)},
        **{("fastener", f): ("snugs", n) for n, f in enumerate(step.snugs)},
        **{("renewal", r): ("disturbs", n) for n, r in enumerate(step.disturbs)},
        **_requirements(book, "opens", step.opens),
    }


def closed(book: Book, step: Step) -> dict[Thing, Path]:
    """What the step closes, and under which key and place of it."""
    return {
        **{("fastener", f): ("tightens", n) for n, f in enumerate(step.tightens)},
        **{("renewal", r): ("renews", n) for n, r in enumerate(step.renews)},
        **_requirements(book, "closes", step.closes),
    }


def _requirements(book: Book, key: str, named: Mapping[str, list[str]]) -> dict[Thing, Path]:
    return {
        ("circuit", circuit, requirement): (key, circuit, place)
        for circuit, requirements in named.items()
        for place, name in enumerate(requirements)
        for requirement in ([name] if name != "all" else book.circuits[circuit].closed_by)
    }


def _left_open(book: Book, job: str, used: Mapping[str, Step], when: str) -> Iterator[Fault]:
    closable = {thing for step in used.values() for thing in closed(book, step)}
    for name, step in used.items():
        for thing, place in opened(book, step).items():
            if thing not in closable:
                what, key = _WORDS[thing[0]]
                problem = f"{thing[0]} {_named(thing)} is {what} when {when}"
                yield Fault((*path_of(name), *place), problem, _where_else(book, job, thing, key))


def _named(thing: Thing) -> str:
    return f'"{".".join(thing[1:])}"'


def _where_else(book: Book, job: str, thing: Thing, key: str) -> str:
    """What would be right: the jobs that could do it may be brought, else a step must be added."""
    able = {
        job_of(name): None
        for name, step in steps(book).items()
        if thing in closed(book, step) and "/" in name
    }
    if able:
        return f"only {listed(able)} does: let {job} bring it, or do it in {job}"
    return f"let an access step, or an operation of {job}, have it under {key}"


# ---------------------------------------------------------------- conditions


def _not_to_be_had(
    ways: Ways, used: Mapping[str, Step], setters: Mapping[str, Mapping[str, Step]], when: str
) -> Iterator[Fault]:
    """States that a step needs and nothing sets."""
    possible = {
        name: ways.possible_of(
            name, frozenset(s.sets[name] for s in setters.get(name, {}).values())
        )
        for name in ways.book.conditions
    }
    for name, step in used.items():
        for condition, states in step.needs.items():
            if possible[condition].isdisjoint(states):
                problem = f"{condition} is never {listed(states)} when {when}"
                expected = "add an access step that sets it, or bring a job that does"
                yield Fault((*path_of(name), "needs", condition), problem, expected)


def _left_changed(
    name: str, condition: Condition, when: str, setters: Mapping[str, Step]
) -> Iterator[Fault]:
    """States a job can bring about and not undo again, though the condition has a finish."""
    if condition.finish is None:
        return
    ways = ways_between(condition, name, setters.values())
    reached = {state: states_from({state}, ways) for state in condition.states}
    for found in found_states(condition):
        finish = found if condition.finish == AS_FOUND else condition.finish
        for step_name, step in setters.items():
            state = step.sets[name]
            if state in reached[found] and finish not in reached[state]:
                problem = f'nothing brings {name} back to "{finish}" when {when}'
                expected = f'add an access step that sets it to "{finish}"'
                path = (*path_of(step_name), "sets", name)
                yield Fault(path, problem, expected, ("conditions", name, "finish"))


def _found_but_never_finished(book: Book) -> Iterator[Fault]:
    """States a machine may come in with, from which no step leads to the finish."""
    every = steps(book)
    for name, condition in book.conditions.items():
        if condition.finish in (None, AS_FOUND):
            continue
        ways = ways_between(condition, name, every.values())
        stuck = [
            s for s in found_states(condition) if condition.finish not in states_from({s}, ways)
        ]
        if stuck:
            problem = f'it may come in {listed(stuck)}, and no step leads from there to "{condition.finish}"'
            expected = f'add an access step, or say finish = "{AS_FOUND}"'
            yield Fault(("conditions", name, "finish"), problem, expected)


# ---------------------------------------------------------------- gates


class _Gates:
    """Who opens and who closes each thing, and which steps come only behind which gate."""

    def __init__(self, book: Book) -> None:
        self.book, self.every = book, steps(book)
        self.setters = _setters(self.every)
        self.after = earlier(book)
        self.openers = self._by_thing(opened)
        self.closers = self._by_thing(closed)
        self.behind = {
            gate: [self._behind(name) for name, step in self.every.items() if step.gate == gate]
            for gate in get_args(Gate)
        }

    def faults(self) -> Iterator[Fault]:
        """What a gate waits for must not be closed only behind it; a ride closes what it must."""
        for name, circuit in self.book.circuits.items():
            for key, requirement in circuit.closed_by.items():
                thing: Thing = ("circuit", name, key)
                if requirement.ride:
                    yield from self._closed_without_riding(thing)
                else:
                    gate = requirement.gate or ("road test" if circuit.safety else "hand-back")
                    path: Path = ("circuits", name, "closed_by", key)
                    yield from self._waits_for_itself(thing, path, gate)
        for name, fastener in self.book.fasteners.items():
            if fastener.safety or fastener.gate:
                thing = ("fastener", name)
                first = fastener.gate or "road test"
                yield from self._waits_for_itself(thing, ("fasteners", name), first)

    def _by_thing(
        self, does: Callable[[Book, Step], dict[Thing, Path]]
    ) -> dict[Thing, dict[str, Path]]:
        """For each thing, the steps that open (or close) it and the place in each."""
        by: dict[Thing, dict[str, Path]] = {}
        for name, step in self.every.items():
            for thing, place in does(self.book, step).items():
                by.setdefault(thing, {})[name] = place
        return by

    def _closed_without_riding(self, thing: Thing) -> Iterator[Fault]:
        openers = self.openers.get(thing, {}).keys()
        rides = [behind for behind in self.behind["road test"] if not openers <= behind]
        for name, place in self.closers.get(thing, {}).items():
            if openers and not any(name in behind for behind in rides):
                problem = "closed here with no ride since, though only a ride can close it"
                expected = 'let the step come after one with gate = "road test"'
                other = ("circuits", thing[1], "closed_by", thing[2], "ride")
                yield Fault((*path_of(name), *place), problem, expected, other)

    def _waits_for_itself(self, thing: Thing, path: Path, gate: Gate) -> Iterator[Fault]:
        openers = self.openers.get(thing, {}).keys()
        closers = self.closers.get(thing, {}).keys()
        for behind in self.behind[gate]:
            if closers and closers <= behind and not openers <= behind:
                problem = f"the gate {gate} waits for it, and it is closed only behind that gate"
                expected = "close it before" + (", or say ride = true" if path[2:] else "")
                yield Fault(path, problem, expected)

    def _behind(self, first: str) -> set[str]:
        """That step, those after it, and those that need a state which only such bring about."""
        behind = {first}
        while True:
            possible = self._possible_without(behind)
            fresh = {
                name
                for name, step in self.every.items()
                if name not in behind
                and (
                    not self.after[name].isdisjoint(behind)
                    or (not possible.keys().isdisjoint(step.needs) and _rests_on(step, possible))
                )
            }
            if not fresh:
                return behind
            behind |= fresh

    def _possible_without(self, behind: set[str]) -> dict[str, set[str]]:
        """The states of the conditions that those steps set, as far as others bring them about."""
        return {
            name: possible_states(
                self.book.conditions[name],
                {step.sets[name] for other, step in setters.items() if other not in behind},
            )
            for name, setters in self.setters.items()
            if not setters.keys().isdisjoint(behind)
        }


def _rests_on(step: Step, possible: Mapping[str, set[str]]) -> bool:
    """Whether it needs a state that is not among the possible ones."""
    return any(
        name in possible and possible[name].isdisjoint(states)
        for name, states in step.needs.items()
    )
