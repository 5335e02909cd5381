"""Every name in a book means something, of the right kind; what is opened can be closed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from witnessmark.book import amounts, closing, deadlocks, fastener_checks, rules, translate
from witnessmark.book.errors import Fault, Path, known
from witnessmark.book.model import Book, Condition, Operation, Step
from witnessmark.book.model_step import before
from witnessmark.book.select import AS_FOUND, path_of, steps
from witnessmark.errors import listed


def faults(book: Book) -> Iterator[Fault]:
    """All that does not hold in a book of the right shape.

    What can be closed and can return is judged only once every name means something; deadlocks, once all can.
    """
    named = True
    for fault in name_faults(book):
        named = False
        yield fault
    yield from amounts.faults(book)
    yield from fastener_checks.faults(book)
    yield from translate.faults(book)
    if named:
        unclosed = list(closing.faults(book))
        yield from unclosed or deadlocks.faults(book)


def name_faults(book: Book) -> Iterator[Fault]:
    """Names that mean nothing here, or something of another kind."""
    yield from _machine(book)
    yield from _conditions(book)
    yield from _never(book)
    for name, step in steps(book).items():
        yield from _step(book, path_of(name), step)
    yield from _after(book)
    yield from _jobs_and_services(book)
    yield from _things(book)
    yield from _readings(book)
    yield from _shims(book)
    for name in book.answers:
        yield from unknown(("answers", name), "rule", name, rules.RULES)


def unknown(
    path: Path, kind: str, name: str, names: Iterable[str], table: Path = ()
) -> Iterator[Fault]:
    """A fault when nothing of that name is declared; `table` is where it would be."""
    names = list(names)
    if name not in names:
        other = (*table, name) if table else None
        yield Fault(path, f'no {kind} "{name}"', known(kind, name, names), other)


def _in_table(path: Path, kind: str, name: str | None, book: Book, table: str) -> Iterator[Fault]:
    if name is not None:
        yield from unknown(path, kind, name, getattr(book, table), (table,))


def _repeats(path: Path, names: Sequence[str]) -> Iterator[Fault]:
    seen: set[str] = set()
    for place, name in enumerate(names):
        if name in seen:
            yield Fault((*path, place), f'"{name}" stands there twice', "keep one of the two")
        seen.add(name)


def _list(path: Path, kind: str, names: Sequence[str], book: Book, table: str) -> Iterator[Fault]:
    yield from _repeats(path, names)
    for place, name in enumerate(names):
        yield from _in_table((*path, place), kind, name, book, table)


def _machine(book: Book) -> Iterator[Fault]:
    if book.machine is None and not book.archetype:
        expected = "give [machine] with maker and model (or archetype = true)"
        yield Fault(("machine",), "no machine is named", expected)


# ---------------------------------------------------------------- conditions


def _conditions(book: Book) -> Iterator[Fault]:
    for name, condition in book.conditions.items():
        path: Path = ("conditions", name)
        yield from _repeats((*path, "states"), condition.states)
        if AS_FOUND in condition.states:
            expected = "name the state otherwise"
            yield Fault((*path, "states"), f'"{AS_FOUND}" has a meaning of its own', expected)
        yield from _states_named(path, condition)
        yield from _lapses(path, condition)


def _states_named(path: Path, condition: Condition) -> Iterator[Fault]:
    table = (*path, "states")
    yield from unknown((*path, "start"), "state", condition.start, condition.states, table)
    if condition.finish is not None:
        finishes = [*condition.states, AS_FOUND]
        yield from unknown((*path, "finish"), "state", condition.finish, finishes, table)
    for key in ("lapse", "holds", "state_words"):
        for state in getattr(condition, key):
            yield from unknown((*path, key, state), "state", state, condition.states, table)
    yield from _states((*path, "exposed"), condition.exposed, condition.states, table)


def _lapses(path: Path, condition: Condition) -> Iterator[Fault]:
    for state, lapse in condition.lapse.items():
        here = (*path, "lapse", state)
        yield from unknown((*here, "to"), "state", lapse.to, condition.states)
        if lapse.after == 0:
            yield Fault((*here, "after"), "the state would not last at all", "give at least 0.1")
    for first in condition.lapse:
        state, seen = first, [first]
        while state in condition.lapse and (state := condition.lapse[state].to) not in seen:
            seen.append(state)
        if state in condition.lapse and seen[0] == min(seen):
            problem = f"lapses lead round: {listed(seen)}, and again"
            yield Fault((*path, "lapse", first), problem, "let the last of them stay")


def _states(
    path: Path, given: Sequence[str], known_states: list[str], table: Path
) -> Iterator[Fault]:
    yield from _repeats(path, given)
    for place, state in enumerate(given):
        yield from unknown((*path, place), "state", state, known_states, table)


def _never(book: Book) -> Iterator[Fault]:
    for name, never in book.never.items():
        path: Path = ("never", name, "when")
        yield from _needs(book, path, never.when)
        for word in ("start", "finish"):
            always = [
                condition in book.conditions and getattr(book.conditions[condition], word) in states
                for condition, states in never.when.items()
            ]
            if all(always):
                problem = f"every {word} is among these: the book could never be followed"
                yield Fault(path, problem, "leave out one of the states")


def _needs(book: Book, path: Path, needs: Mapping[str, list[str]]) -> Iterator[Fault]:
    for name, states in needs.items():
        here = (*path, name)
        yield from _in_table(here, "condition", name, book, "conditions")
        if not states:
            yield Fault(here, "no state is allowed", "name the states that will do")
        if name in book.conditions:
            table = ("conditions", name, "states")
            yield from _states(here, states, book.conditions[name].states, table)


# ---------------------------------------------------------------- steps

_STEP_LISTS = (
    ("figures", "figure", "figures"),
    ("tools", "tool", "tools"),
    ("loosens", "fastener", "fasteners"),
    ("snugs", "fastener", "fasteners"),
    ("tightens", "fastener", "fasteners"),
    ("disturbs", "renewal", "renewals"),
    ("renews", "renewal", "renewals"),
    ("readings", "reading", "readings"),
    ("shims", "shims", "shims"),
    ("cautions", "caution", "cautions"),
)


def _step(book: Book, path: Path, step: Step) -> Iterator[Fault]:
    if step.minutes + step.unattended < 0.1:
        expected = "give minutes or unattended of at least 0.1"
        yield Fault((*path, "minutes"), "the step takes no time", expected)
    if step.shown_by_waiting and not step.unattended:
        expected = "give the minutes of the wait as unattended"
        yield Fault((*path, "shown_by_waiting"), "nothing is waited for", expected)
    if step.waits_for and not step.unattended:
        expected = "give its minutes as unattended"
        yield Fault((*path, "waits_for"), "nothing is waited for", expected)
    yield from _needs(book, (*path, "needs"), step.needs)
    for name, state in step.sets.items():
        here = (*path, "sets", name)
        yield from _in_table(here, "condition", name, book, "conditions")
        if name in book.conditions:
            table = ("conditions", name, "states")
            yield from unknown(here, "state", state, book.conditions[name].states, table)
    for key, kind, table_name in _STEP_LISTS:
        yield from _list((*path, key), kind, getattr(step, key), book, table_name)
    for part in step.parts:
        yield from _in_table((*path, "parts", part), "part", part, book, "parts")
    for key in ("opens", "closes"):
        yield from _circuits(book, (*path, key), getattr(step, key))
    yield from _fluids(book, (*path, "fluids"), step)


def _circuits(book: Book, path: Path, named: Mapping[str, list[str]]) -> Iterator[Fault]:
    for name, requirements in named.items():
        here = (*path, name)
        yield from _in_table(here, "circuit", name, book, "circuits")
        yield from _repeats(here, requirements)
        if not requirements:
            yield Fault(here, "no requirement is named", 'name them, or ["all"]')
        if "all" in requirements and len(requirements) > 1:
            yield Fault(here, '"all" stands beside others', 'keep ["all"] alone')
        if name in book.circuits:
            names = [*book.circuits[name].closed_by, "all"]
            for place, requirement in enumerate(requirements):
                table = ("circuits", name, "closed_by")
                yield from unknown((*here, place), "requirement", requirement, names, table)


def _fluids(book: Book, path: Path, step: Step) -> Iterator[Fault]:
    for name, use in step.fluids.items():
        yield from _in_table((*path, name), "fluid", name, book, "fluids")
        yield from _in_table((*path, name, "figure"), "figure", use.figure, book, "figures")
    families = {
        book.fluids[fluid].family
        for circuit in step.closes
        if circuit in book.circuits and (fluid := book.circuits[circuit].fluid) in book.fluids
    }
    for name in step.fluids:
        if families and name in book.fluids and book.fluids[name].family not in families:
            problem = f"{book.fluids[name].family} does not belong into what this step closes"
            expected = f"that takes {' or '.join(sorted(families))}"
            yield Fault((*path, name), problem, expected, ("fluids", name, "family"))


def _after(book: Book) -> Iterator[Fault]:
    names = [f"{job}/{name}" for job, text in book.jobs.items() for name in text.operations]
    waits: dict[str, list[str]] = {}
    for job, text in book.jobs.items():
        for name, operation in text.operations.items():
            path: Path = ("jobs", job, "operations", name, "after")
            waits[f"{job}/{name}"] = [before(job, earlier) for earlier in operation.after]
            yield from _repeats(path, operation.after)
            yield from _after_names(path, job, operation, names)
    if ring := _ring(waits):
        job, _, name = ring[0].partition("/")
        problem = f"each waits for the next: {listed(ring)}, and round again"
        yield Fault(("jobs", job, "operations", name, "after"), problem, "drop one of these")


def _after_names(path: Path, job: str, operation: Operation, names: list[str]) -> Iterator[Fault]:
    own = [name.partition("/")[2] for name in names if name.startswith(f"{job}/")]
    for place, earlier in enumerate(operation.after):
        if "/" in earlier:
            table = ("jobs", earlier.partition("/")[0])
            yield from unknown((*path, place), "operation", earlier, names, table)
        else:
            yield from unknown((*path, place), "operation", earlier, own)


def _ring(waits: Mapping[str, list[str]]) -> list[str]:
    """Operations that wait for one another in a ring, or nothing."""
    over: set[str] = set()
    for first in waits:
        trail: list[str] = []
        pending = [(first, False)]
        while pending:
            name, leaving = pending.pop()
            if leaving:
                over.add(trail.pop())
            elif name in trail:
                return trail[trail.index(name) :]
            elif name not in over:
                trail.append(name)
                pending += [(name, True), *((e, False) for e in waits.get(name, ()))]
    return []


# ---------------------------------------------------------------- what steps speak of


def _jobs_and_services(book: Book) -> Iterator[Fault]:
    for name, job in book.jobs.items():
        path: Path = ("jobs", name)
        for key in ("every_distance", "every_time"):
            yield from _in_table((*path, key), "figure", getattr(job, key), book, "figures")
        yield from _list((*path, "early"), "reading", job.early, book, "readings")
        yield from _list((*path, "disposal"), "fluid", job.disposal, book, "fluids")
        yield from _list((*path, "brings"), "job", job.brings, book, "jobs")
        yield from _list((*path, "after_test"), "job", job.after_test, book, "jobs")
        if name in job.after_test:
            yield Fault((*path, "after_test"), "the job waits for itself", "leave it out")
        for operation, one in job.operations.items():
            here = (*path, "operations", operation, "for_findings")
            yield from _repeats(here, one.for_findings)
        for operation, one in job.operations.items():
            yield from _deciding(book, (*path, "operations", operation), f"{name}/{operation}", one)
        if job.likely is not None and not job.early:
            expected = "name the readings that bring it under early, or leave it out"
            yield Fault((*path, "likely"), "nothing is read that could bring it", expected)
        if name in job.brings:
            yield Fault((*path, "brings"), "the job brings itself", "leave it out")
    for name, service in book.services.items():
        yield from _list(("services", name, "jobs"), "job", service.jobs, book, "jobs")
        if name in book.jobs:
            problem = "a job has that name already"
            yield Fault(("services", name), problem, "name the service otherwise", ("jobs", name))


def _deciding(book: Book, path: Path, name: str, operation: Operation) -> Iterator[Fault]:
    """The reading that decides about an operation: it exists, is read elsewhere, and says one thing."""
    decides = operation.only_if
    if (decides is None) != (operation.likely is None):
        key, other = ("likely", "only_if") if decides is None else ("only_if", "likely")
        yield Fault((*path, key), f'"{key}" without "{other}"', f'give "{other}", too')
    yield from _list((*path, "always_with"), "job", operation.always_with, book, "jobs")
    if decides is None:
        if operation.always_with:
            expected = "say what it waits for under only_if, or leave it out"
            yield Fault((*path, "always_with"), "it is always done", expected)
        return
    here = (*path, "only_if")
    yield from _in_table((*here, "reading"), "reading", decides.reading, book, "readings")
    yield from _list((*here, "or_reading"), "reading", decides.or_reading, book, "readings")
    yield from _in_table((*here, "below"), "figure", decides.below, book, "figures")
    yield from _in_table((*here, "above"), "figure", decides.above, book, "figures")
    if [decides.outside, decides.below, decides.above].count(None) != 2:
        expected = 'give one of outside = true, below = "figure", above = "figure"'
        yield Fault(here, "not one thing that the reading may be", expected)
    for one in decides.each:
        elsewhere = (n for n, step in steps(book).items() if one.reading in step.readings)
        if one.reading in book.readings and not set(elsewhere) - {name}:
            problem = f'no other step reads "{one.reading}"'
            key = "reading" if one.reading == decides.reading else "or_reading"
            yield Fault((*here, key), problem, "name a reading of a step that comes before")


def _things(book: Book) -> Iterator[Fault]:
    for name, fastener in book.fasteners.items():
        path: Path = ("fasteners", name)
        yield from _in_table((*path, "figure"), "figure", fastener.figure, book, "figures")
        yield from _list((*path, "stages"), "figure", fastener.stages, book, "figures")
        yield from _in_table((*path, "turn"), "figure", fastener.turn, book, "figures")
        yield from _in_table((*path, "behind"), "fastener", fastener.behind, book, "fasteners")
        if fastener.figure is None and fastener.grade != "counted":
            expected = 'give figure = "…" (a torque), or grade = "counted"'
            yield Fault(path, f'grade "{fastener.grade}" without a figure', expected)
    for name, circuit in book.circuits.items():
        path = ("circuits", name)
        yield from _in_table((*path, "fluid"), "fluid", circuit.fluid, book, "fluids")
        if "all" in circuit.closed_by:
            problem = '"all" has a meaning of its own'
            yield Fault((*path, "closed_by", "all"), problem, "name the requirement otherwise")
    for name, renewal in book.renewals.items():
        yield from _in_table(("renewals", name, "part"), "part", renewal.part, book, "parts")
    for name, fluid in book.fluids.items():
        yield from _in_table(("fluids", name, "grade"), "figure", fluid.grade, book, "figures")


def _readings(book: Book) -> Iterator[Fault]:
    for name, reading in book.readings.items():
        path: Path = ("readings", name)
        for key in ("low", "high"):
            yield from _in_table((*path, key), "figure", getattr(reading, key), book, "figures")
        again = reading.again_after
        yield from _list((*path, "again_after"), "fastener", again, book, "fasteners")
        yield from _repeats((*path, "choices"), reading.choices)
        for place, word in enumerate(reading.bad):
            table = (*path, "choices")
            yield from unknown((*path, "bad", place), "choice", word, reading.choices, table)
        if reading.quantity == "words":
            yield from _not_given(
                path, reading, ("unit", "low", "high", "resolution", "error"), "words"
            )
        else:
            yield from _not_given(path, reading, ("choices", "bad"), "a number")


def _shims(book: Book) -> Iterator[Fault]:
    for name, shims in book.shims.items():
        path: Path = ("shims", name)
        yield from _in_table((*path, "target"), "figure", shims.target, book, "figures")
        for key in ("found", "left"):
            reading: str = getattr(shims, key)
            yield from _in_table((*path, key), "reading", reading, book, "readings")
            known_reading = book.readings.get(reading)
            if known_reading and known_reading.quantity != "length":
                problem = f'"{reading}" is no clearance'
                yield Fault((*path, key), problem, "name a reading of a length")
        counts = [book.readings[r].repeat for r in (shims.found, shims.left) if r in book.readings]
        if len(set(counts)) > 1:
            problem = f"{counts[0]} valves are read before, {counts[1]} after"
            yield Fault((*path, "left"), problem, "give both readings the same repeat")


def _not_given(path: Path, reading: Any, keys: Iterable[str], what: str) -> Iterator[Fault]:
    for key in keys:
        if getattr(reading, key):
            yield Fault((*path, key), f"the reading is {what} and has none", "leave it out")
