"""Which jobs are meant, which steps they are made of, and which access steps they may call on."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

from witnessmark.book.errors import BookError, Path, known
from witnessmark.book.model import AccessStep, Book, Condition, Operation, Step

AS_FOUND = "as found"


def job_of(name: str) -> str:
    """The job of an operation ``job/operation``; nothing for an access step."""
    job, slash, _ = name.partition("/")
    return job if slash else ""


def steps(book: Book) -> dict[str, Step]:
    """Every access step by its id, and every operation as ``job/operation``."""
    return {**book.access, **operations(book, book.jobs)}


def operations(book: Book, jobs: Iterable[str]) -> dict[str, Operation]:
    """The operations of those jobs as ``job/operation``, each job's in an order they can be done."""
    return {
        f"{job}/{name}": book.jobs[job].operations[name]
        for job in jobs
        for name in in_turn(book, job)
    }


def in_turn(book: Book, job: str) -> list[str]:
    """The operations of one job, each behind those of the job it comes `after`."""
    own = book.jobs[job].operations
    turn: dict[str, None] = {}
    pending = [(name, False) for name in reversed(own)]
    seen: set[str] = set()
    while pending:
        name, ready = pending.pop()
        if ready:
            turn.setdefault(name)
        elif name not in seen:
            seen.add(name)
            pending.append((name, True))
            earlier = [before(job, other).partition("/") for other in own[name].after]
            pending += [(last, False) for first, _, last in earlier if first == job and last in own]
    return list(turn)


def before(job: str, name: str) -> str:
    """The full name ``job/operation`` of what an operation of `job` names under `after`."""
    return name if "/" in name else f"{job}/{name}"


def selection(book: Book, names: Iterable[str]) -> list[str]:
    """The jobs that those services and jobs mean, with what they bring, each once.

    In the order named; a service's jobs in its own order; brought jobs behind all that were named.
    Raises BookError for a name that is neither, with the nearest.
    """
    named: dict[str, None] = {}
    for name in names:
        if name in book.services:
            named |= dict.fromkeys(book.services[name].jobs)
        elif name in book.jobs:
            named[name] = None
        else:
            every = [*book.services, *book.jobs]
            raise BookError(book.name, f'no job or service "{name}"', known("job", name, every))
    return with_brought(book, named)


def with_brought(book: Book, jobs: Iterable[str]) -> list[str]:
    """The jobs and all they bring, the brought ones last."""
    taken = dict.fromkeys(jobs)
    pending = list(taken)
    for job in pending:
        fresh = [other for other in book.jobs[job].brings if other not in taken]
        taken |= dict.fromkeys(fresh)
        pending += fresh
    return list(taken)


# ---------------------------------------------------------------- access steps


def found_states(condition: Condition) -> list[str]:
    """The states a machine may come in with: any where it is asked at arrival, else the start."""
    return list(condition.states) if condition.asked else [condition.start]


def access_for(book: Book, jobs: Iterable[str]) -> list[str]:
    """The access steps that a plan for those jobs may call on, in the order of the book.

    An access step counts when it lies on a way from a state that a condition may be in to one that
    something counted needs, or that must hold at the end; so both ways round are in, and so is
    every alternative. A plan uses these or fewer, never another.
    """
    counted: dict[str, Step] = dict(operations(book, jobs))
    while fresh := _on_the_way(book, counted):
        counted |= fresh
    return [name for name in book.access if name in counted]


def _on_the_way(book: Book, counted: Mapping[str, Step]) -> dict[str, Step]:
    """Access steps not yet counted that lead to a state which something counted wants."""
    fresh: dict[str, Step] = {}
    possible = {name: _possible(book, counted, name) for name in book.conditions}
    for name in book.conditions:
        setters = {key: step for key, step in book.access.items() if name in step.sets}
        for wanted, possible_now in _wants(book, counted, possible, name):
            if not possible_now <= wanted:
                useful = _leading_to(wanted, possible_now, book.conditions[name], name, setters)
                fresh |= {key: setters[key] for key in useful if key not in counted}
    return fresh


def _leading_to(
    wanted: set[str],
    possible: set[str],
    condition: Condition,
    name: str,
    setters: Mapping[str, Step],
) -> set[str]:
    """The setters on a way from a possible state to where it first is wanted.

    A way that comes back to its first state is none: a plan gains nothing by it.
    """
    edges = [
        (start, step.sets[name], key)
        for key, step in setters.items()
        for start in step.needs.get(name, condition.states)
    ] + [(start, lapse.to, "") for start, lapse in condition.lapse.items()]
    useful: set[str] = set()
    for first in possible - wanted:
        onward = [edge for edge in edges if edge[0] not in wanted and edge[1] != first]
        ahead = states_from({first}, [(start, end) for start, end, _ in onward])
        behind = states_from(wanted, [(end, start) for start, end, _ in onward])
        useful |= {key for start, end, key in onward if start in ahead and end in behind}
    return useful - {""}


def states_from(first: set[str], ways: Sequence[tuple[str, str]]) -> set[str]:
    """The states that ways lead to from the first ones, these included."""
    reached = set(first)
    while fresh := {end for start, end in ways if start in reached} - reached:
        reached |= fresh
    return reached


def _wants(
    book: Book, counted: Mapping[str, Step], possible: Mapping[str, set[str]], name: str
) -> Iterator[tuple[set[str], set[str]]]:
    """The states that something wants the condition in, and those it may then be in.

    Steps want what they need, the end wants the finish, and what must never be wants the rest.
    """
    condition = book.conditions[name]
    for step in counted.values():
        if name in step.needs and not _only_moves(step, name):
            yield set(step.needs[name]), possible[name]
    if condition.finish == AS_FOUND:
        ways = ways_between(condition, name, counted.values())
        yield from (({found}, states_from({found}, ways)) for found in found_states(condition))
    elif condition.finish is not None:
        yield {condition.finish}, possible[name]
    for row in book.never.values():
        others = row.when.keys() - {name}
        if name in row.when and all(possible[other] & set(row.when[other]) for other in others):
            yield set(condition.states) - set(row.when[name]), possible[name]


def _only_moves(step: Step, condition: str) -> bool:
    """Whether it is there to move that condition alone: nobody wants the state it starts from."""
    return isinstance(step, AccessStep) and step.sets.keys() == {condition}


def ways_between(condition: Condition, name: str, setters: Iterable[Step]) -> list[tuple[str, str]]:
    """Which state can become which other, by one of those steps or by a lapse."""
    by_steps = [
        (state, step.sets[name])
        for step in setters
        if name in step.sets
        for state in step.needs.get(name, condition.states)
    ]
    return by_steps + [(state, lapse.to) for state, lapse in condition.lapse.items()]


def _possible(book: Book, counted: Mapping[str, Step], name: str) -> set[str]:
    set_to = {step.sets[name] for step in counted.values() if name in step.sets}
    return possible_states(book.conditions[name], set_to)


def possible_states(condition: Condition, set_to: Collection[str]) -> set[str]:
    """The states found at arrival or set by steps, and those they lapse to."""
    lapses = [(state, lapse.to) for state, lapse in condition.lapse.items()]
    return states_from({*found_states(condition), *set_to}, lapses)


def used_steps(book: Book, jobs: Iterable[str]) -> dict[str, Step]:
    """The steps that a plan for those jobs is made of: their operations, and access steps."""
    jobs = list(jobs)
    access = {name: book.access[name] for name in access_for(book, jobs)}
    return {**access, **operations(book, jobs)}


def path_of(step: str) -> Path:
    """Where in the book a step stands, by its name."""
    job, _, operation = step.partition("/")
    return ("jobs", job, "operations", operation) if operation else ("access", step)
