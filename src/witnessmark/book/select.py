"""Which jobs are meant, which steps they are made of, and which access steps they may call on."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence

from witnessmark.book.errors import BookError, Path, known
from witnessmark.book.model import AccessStep, Book, Condition, Operation, Step
from witnessmark.book.model_step import OnlyIf, before

AS_FOUND = "as found"
States = frozenset[str]


def job_of(name: str) -> str:
    """The job of an operation ``job/operation``; nothing for an access step."""
    job, slash, _ = name.partition("/")
    return job if slash else ""


def steps(book: Book) -> Mapping[str, Step]:
    """Every access step by its id, and every operation as ``job/operation``; worked out once for a book."""
    return book.steps


def operations(book: Book, jobs: Iterable[str]) -> dict[str, Operation]:
    """The operations of those jobs as ``job/operation``, each job's in an order they can be done."""
    return {name: one for job in jobs for name, one in book.operations_of[job].items()}


def earlier(book: Book) -> Mapping[str, frozenset[str]]:
    """By step what it comes straight `after`, as full names."""
    return book.once(_earlier)


def _earlier(book: Book) -> Mapping[str, frozenset[str]]:
    return {
        name: frozenset(before(job_of(name), one) for one in getattr(step, "after", ()))
        for name, step in steps(book).items()
    }


def in_turn(book: Book, job: str) -> list[str]:
    """The operations of one job, each behind those of the job it comes `after`."""
    return [name.partition("/")[2] for name in book.operations_of[job]]


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


def decided_by(step: Step, jobs: Collection[str] = ()) -> list[OnlyIf]:
    """The readings of which one must be so for a step to be done, where those jobs are taken on; none: it is done."""
    if not isinstance(step, Operation) or step.only_if is None:
        return []
    return [] if any(job in jobs for job in step.always_with) else step.only_if.each


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
    return [name for name in Ways(book).used(jobs) if name in book.access]


def used_steps(book: Book, jobs: Iterable[str]) -> dict[str, Step]:
    """The steps that a plan for those jobs is made of: their operations, and access steps."""
    return Ways(book).used(jobs)


class Ways:
    """The ways that the access steps of a book make; who asks for many jobs keeps it: most ways are the same."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.setters = {
            name: {key: step for key, step in book.access.items() if name in step.sets}
            for name in book.conditions
        }
        self.possible: dict[tuple[str, States], States] = {}
        self.leading: dict[tuple[str, States, States], set[str]] = {}

    def used(self, jobs: Iterable[str], without: Collection[str] = ()) -> dict[str, Step]:
        """As `used_steps`: access steps in the order of the book, then operations but those left out."""
        every = operations(self.book, jobs)
        done = {name: step for name, step in every.items() if name not in without}
        counted: dict[str, Step] = dict(done)
        wanted = _Wanted(self.book)
        fresh: Mapping[str, Step] = done
        while fresh:
            wanted.count(fresh.values())
            fresh = {
                key: self.book.access[key]
                for name, states, possible in wanted.states(self.possible_of)
                if not possible <= states
                for key in self._leading_to(name, states, possible)
                if key not in counted
            }
            counted |= fresh
        access = {name: step for name, step in self.book.access.items() if name in counted}
        return {**access, **done}

    def possible_of(self, name: str, set_to: States) -> States:
        """The states it may be in where those are set, as `possible_states`."""
        key = (name, set_to)
        if key not in self.possible:
            self.possible[key] = frozenset(possible_states(self.book.conditions[name], set_to))
        return self.possible[key]

    def _leading_to(self, name: str, wanted: States, possible: States) -> set[str]:
        key = (name, wanted, possible)
        if key not in self.leading:
            condition, setters = self.book.conditions[name], self.setters[name]
            self.leading[key] = _leading_to(wanted, possible, condition, name, setters)
        return self.leading[key]


class _Wanted:
    """The states that counted steps want: those they need; the end wants the finish, what must never be the rest."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.setters: dict[str, list[Step]] = {name: [] for name in book.conditions}
        self.set_to: dict[str, States] = dict.fromkeys(book.conditions, frozenset())
        self.needed: dict[str, set[States]] = {name: set() for name in book.conditions}
        for name, condition in book.conditions.items():
            if condition.finish not in (None, AS_FOUND):
                self.needed[name].add(frozenset({condition.finish}))

    def count(self, steps: Iterable[Step]) -> None:
        """These steps too."""
        for step in steps:
            for name, state in step.sets.items():
                self.setters[name].append(step)
                if state not in self.set_to[name]:
                    self.set_to[name] |= {state}
            for name, states in step.needs.items():
                if not _only_moves(step, name):
                    self.needed[name].add(frozenset(states))

    def states(
        self, possible_of: Callable[[str, States], States]
    ) -> Iterator[tuple[str, States, States]]:
        """By condition: the states that something wants it in, and those it may then be in."""
        book = self.book
        possible = {name: possible_of(name, states) for name, states in self.set_to.items()}
        for name, condition in book.conditions.items():
            for wanted in self.needed[name]:
                yield name, wanted, possible[name]
            if condition.finish == AS_FOUND:
                ways = ways_between(condition, name, self.setters[name])
                for found in found_states(condition):
                    yield name, frozenset({found}), frozenset(states_from({found}, ways))
        for row in book.never.values():
            apart = [name for name, states in row.when.items() if possible[name].isdisjoint(states)]
            for name in apart if len(apart) == 1 else () if apart else row.when:
                rest = frozenset(book.conditions[name].states) - set(row.when[name])
                yield name, rest, possible[name]


def _leading_to(
    wanted: States,
    possible: States,
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


def states_from(first: Collection[str], ways: Sequence[tuple[str, str]]) -> set[str]:
    """The states that ways lead to from the first ones, these included."""
    reached = set(first)
    while fresh := {end for start, end in ways if start in reached} - reached:
        reached |= fresh
    return reached


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


def possible_states(condition: Condition, set_to: Collection[str]) -> set[str]:
    """The states found at arrival or set by steps, and those they lapse to."""
    lapses = [(state, lapse.to) for state, lapse in condition.lapse.items()]
    return states_from({*found_states(condition), *set_to}, lapses)


def path_of(step: str) -> Path:
    """Where in the book a step stands, by its name."""
    job, _, operation = step.partition("/")
    return ("jobs", job, "operations", operation) if operation else ("access", step)
