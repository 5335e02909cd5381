"""A problem some of whose operations depend on what a reading tells: the form, its cases, their probabilities.

A *case* is an answer to every unknown. In it an operation is needed where of each of its ``only_if`` one was asked and
answered so; what nobody asks has no answer, and what depends on it is not done.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cached_property
from itertools import product
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, model_validator

from witnessmark.errors import listed, nearest
from witnessmark.frozen import FrozenModel
from witnessmark.planner.problem.checked import (
    Problem,
    checked_as,
    data_in,
    refuse,
    refuse_too_long,
)
from witnessmark.planner.problem.model import (
    MOST_STEPS,
    Name,
    Now,
    Operation,
    ProblemData,
    problem_error,
)
from witnessmark.planner.problem.references import Path, ReferenceFault, cycle_in, first_fault

MOST_UNKNOWNS = 8  # open at a time: 256 cases. Judged by us
NEAR = 1e-9  # what probabilities of a table may come to more than 1, written as decimals

Answers = Mapping[str, bool]
Told = tuple[tuple[str, bool], ...]  # unknowns with the answers they take, of which one will do


def _probability(value: Any) -> Any:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if not number or not 0 <= value <= 1:
        raise problem_error(f"{value!r} is no probability", "give a number from 0 to 1, as 0.3")
    return float(value)


Probability = Annotated[
    float, BeforeValidator(_probability, json_schema_input_type=float), Field(ge=0, le=1)
]


class Unknown(FrozenModel):
    """What one does not know before ``revealed_by`` is over, and how probable a yes is."""

    revealed_by: Name = Field(description="the operation that tells it")
    yes: Probability | None = Field(None, description="absent: `joint` tells")


class Joint(FrozenModel):
    """Unknowns that depend on one another: how probable it is that exactly these are answered yes."""

    yes: Annotated[dict[Name, Probability], Field(min_length=1, max_length=2**MOST_UNKNOWNS)] = (
        Field(description='"a+b": probability that of all named here exactly these are yes')
    )

    @cached_property
    def names(self) -> tuple[str, ...]:
        """All unknowns it speaks of."""
        return tuple(dict.fromkeys(name for key in self.yes for name in key.split("+")))

    @cached_property
    def table(self) -> dict[frozenset[str], float]:
        """Probability per set of those answered yes; what is left is that none is."""
        table = {frozenset(key.split("+")): yes for key, yes in self.yes.items()}
        return {frozenset(): max(0.0, 1 - sum(table.values())), **table}


class ConditionalOperation(Operation):
    """A step of a job, done exactly once where all that ``only_if`` names is so, else not at all."""

    only_if: tuple[Name, ...] = Field(
        (),
        description='unknowns that are all answered yes; "!name": answered no; "a|b": one of them will do',
    )


class AnsweredNow(Now):
    """The state of the work, and what is known by now."""

    answers: dict[Name, bool] = Field({}, description="unknowns answered by now")


class ContingentProblem(ProblemData):
    """A planning problem with what is not known yet, checked. Without unknowns it is a ``Problem``."""

    operations: Annotated[tuple[ConditionalOperation, ...], Field(max_length=MOST_STEPS)] = ()
    now: AnsweredNow | None = Field(None, description="the state of the work; absent: nothing done")
    unknowns: dict[Name, Unknown] = Field({}, description="what readings will tell")
    joint: Joint | None = Field(None, description="unknowns that depend on one another")

    @model_validator(mode="after")
    def _everything_holds_together(self) -> ContingentProblem:
        refuse(first_fault(self))
        refuse_too_long(self)
        refuse(next(_faults(self), None))
        return self

    @cached_property
    def union(self) -> Problem:
        """All its operations, as if each were needed."""
        operations = [
            Operation(**{n: getattr(o, n) for n in Operation.model_fields}) for o in self.operations
        ]
        now = self.now and Now(**{name: getattr(self.now, name) for name in Now.model_fields})
        data = {name: getattr(self, name) for name in Problem.model_fields}
        return Problem.model_construct(**{**data, "operations": tuple(operations), "now": now})

    @cached_property
    def conditional(self) -> dict[str, tuple[Told, ...]]:
        """Per operation that depends on something: the unknowns, and the answers it takes, one of each row."""
        return {o.name: tuple(map(told, o.only_if)) for o in self.operations if o.only_if}

    @property
    def answered(self) -> dict[str, bool]:
        """What is known at minute 0."""
        return dict(self.now.answers) if self.now else {}

    def needed(self, answers: Answers) -> frozenset[str]:
        """The operations that a case takes."""
        needed: dict[str, bool] = {}

        def is_needed(name: str) -> bool:
            if name not in needed:
                needed[name] = name in self.begun or all(
                    any(
                        answers[u] == yes and (u in self.answered or is_needed(self.reader(u)))
                        for u, yes in row
                    )
                    for row in self.conditional.get(name, ())
                )
            return needed[name]

        return frozenset(o.name for o in self.operations if is_needed(o.name))

    def reader(self, unknown: str) -> str:
        """The operation that tells it."""
        return self.unknowns[unknown].revealed_by

    def case(self, answers: Answers, known: Answers, at: Problem | None = None) -> Problem:
        """The work of a case, where ``known`` is known: what depends on more waits for the reading that tells.

        ``at``: the union of all operations at some later minute; absent: at minute 0.
        """
        at, needed = at or self.union, self.needed(answers)
        operations = []
        for operation in at.operations:
            if operation.name in needed:
                after = self._readers_of(operation.name, known, needed)
                for name in operation.after:
                    after |= {name} if name in needed else self._tells(name, answers, known, needed)
                after -= {operation.name}
                kept = tuple(name for name in self._order if name in after)
                operations.append(operation.model_copy(update={"after": kept}))
        return at.model_copy(update={"operations": tuple(operations)})

    def _readers_of(self, name: str, known: Answers, needed: frozenset[str]) -> set[str]:
        """The readings that tell whether an operation is needed; of what is known before it is asked, whether it is."""
        readers = set[str]()
        for row in self.conditional.get(name, ()):
            so = [u for u, yes in row if known.get(u) == yes and self._is_asked(u, needed)]
            if not so:
                readers |= {self.reader(u) for u, _ in row if u not in known}
            elif not any(u in self.answered for u in so):
                readers |= self._readers_of(self.reader(so[0]), known, needed)
        return readers & needed

    def _is_asked(self, unknown: str, needed: frozenset[str]) -> bool:
        return unknown in self.answered or self.reader(unknown) in needed

    def _tells(
        self, name: str, answers: Answers, known: Answers, needed: frozenset[str]
    ) -> set[str]:
        """After which readings it is known that this operation is not needed; nothing where it is known."""
        rows = [
            row
            for row in self.conditional[name]
            if all(answers[u] != yes or not self._is_asked(u, needed) for u, yes in row)
        ]
        if any(all(u in known and known[u] != yes for u, yes in row) for row in rows):
            return set()
        whole = (row for row in rows if all(self._is_asked(u, needed) for u, _ in row))
        readers = set[str]()
        for u, yes in next(whole, rows[0]):
            if u in known and known[u] != yes:
                continue
            if self._is_asked(u, needed):
                readers.add(self.reader(u))
            else:
                readers |= self._tells(self.reader(u), answers, known, needed)
        return readers

    @cached_property
    def _order(self) -> tuple[str, ...]:
        return tuple(o.name for o in self.operations)

    def cases(self, known: Answers) -> Iterator[tuple[dict[str, bool], float]]:
        """Every case that may still be, and how probable it is by what is known.

        Answers that nobody asks for are told apart here: the caller puts alike cases together.
        """
        open_ = [name for name in self.unknowns if name not in known]
        whole = self._weight(known)
        for told in product((False, True), repeat=len(open_)):
            answers = {**known, **dict(zip(open_, told, strict=True))}
            weight = self._weight(answers)
            if weight > 0:
                yield answers, weight / whole

    def _weight(self, answers: Answers) -> float:
        """How probable these answers are, those known at minute 0 taken for granted."""
        weight = 1.0
        for name, unknown in self.unknowns.items():
            if unknown.yes is not None and name in answers and name not in self.answered:
                weight *= unknown.yes if answers[name] else 1 - unknown.yes
        if self.joint is None:
            return weight
        told = {name: answers[name] for name in self.joint.names if name in answers}
        before = {n: yes for n, yes in self.answered.items() if n in self.joint.names}
        given = self._in_table(before)
        return weight * (self._in_table(told) / given if given else 1.0)

    def _in_table(self, told: Answers) -> float:
        assert self.joint is not None
        rows = self.joint.table.items()
        return sum(yes for row, yes in rows if all((n in row) == told[n] for n in told))


def told(row: str) -> Told:
    """What one entry of ``only_if`` says: ``"a|!b"``: a is answered yes, or b no."""
    return tuple((name.removeprefix("!"), not name.startswith("!")) for name in row.split("|"))


def load_contingent_problem(text: str, *, file: str = "problem") -> ContingentProblem:
    """Read a problem that may have unknowns from JSON text. Raises ProblemError, as ``load_problem`` does."""
    return checked_as(ContingentProblem, data_in(text, file=file), file=file)


def contingent_problem_from(data: Any, *, file: str = "problem") -> ContingentProblem:
    """The problem that plain data describes. Raises ProblemError, as ``load_problem`` does."""
    return checked_as(ContingentProblem, data, file=file)


def contingent_schema() -> dict[str, Any]:
    """The form as JSON Schema (draft 2020-12)."""
    return ContingentProblem.model_json_schema()


def _faults(problem: ContingentProblem) -> Iterator[ReferenceFault]:
    yield from _unknown_faults(problem)
    if problem.joint is not None:
        yield from _joint_faults(problem, problem.joint)
    for place, operation in enumerate(problem.operations):
        for index, name in enumerate(operation.only_if):
            path = ("operations", place, "only_if", index)
            for unknown, _ in told(name):
                yield from _no_unknown(problem, path, unknown)
            if f"!{name}" in operation.only_if:
                violation = f'"{name}" cannot be both yes and no'
                yield ReferenceFault(path, violation, "keep one of the two")
    yield from _answer_faults(problem)
    ring = cycle_in(_waits(problem))
    if ring:
        at: Path = next(
            (("unknowns", n) for n, u in problem.unknowns.items() if u.revealed_by in ring),
            ("unknowns",),
        )
        violation = f"each waits for what the other tells: {' → '.join([*ring, ring[0]])}"
        yield ReferenceFault(at, violation, "let one of them be done whatever the other tells")


def _unknown_faults(problem: ContingentProblem) -> Iterator[ReferenceFault]:
    operations = {operation.name for operation in problem.operations}
    together = problem.joint.names if problem.joint else ()
    for name, unknown in problem.unknowns.items():
        path = ("unknowns", name)
        if name.startswith("!") or {"+", "|"} & set(name):
            violation = f'"{name}" cannot be told apart from a no, a sum or a choice'
            expected = 'give a name without "+" and "|", and without "!" before'
            yield ReferenceFault(path, violation, expected)
        if unknown.revealed_by not in operations:
            move = any(unknown.revealed_by == one.name for one in problem.moves)
            like = nearest(unknown.revealed_by, operations)
            yield ReferenceFault(
                (*path, "revealed_by"),
                f'"{unknown.revealed_by}" is {"a move" if move else "no operation"}',
                f'did you mean "{like}"?' if like else f"operations are {listed(operations)}",
            )
        if unknown.yes is None and name not in together:
            yield ReferenceFault(path, "nothing tells how probable it is", 'give "yes", as 0.3')
        if unknown.yes is not None and name in together:
            yield ReferenceFault(
                (*path, "yes"), "`joint` tells how probable it is", "keep one of the two"
            )
    open_ = [name for name in problem.unknowns if name not in problem.answered]
    if len(open_) > MOST_UNKNOWNS:
        rare = sorted(open_, key=lambda name: problem.unknowns[name].yes or 0.0)
        yield ReferenceFault(
            ("unknowns",),
            f"{len(open_)} are open at a time",
            f"give at most {MOST_UNKNOWNS}; plan the least likely as no, as "
            + listed(rare[: len(open_) - MOST_UNKNOWNS]),
        )


def _joint_faults(problem: ContingentProblem, joint: Joint) -> Iterator[ReferenceFault]:
    seen: dict[frozenset[str], str] = {}
    for key in joint.yes:
        path, names = ("joint", "yes", key), key.split("+")
        for name in names:
            yield from _no_unknown(problem, path, name)
        if len(set(names)) < len(names) or frozenset(names) in seen:
            yield ReferenceFault(
                path, "the same answers stand there twice", "name each unknown and each sum once"
            )
        seen[frozenset(names)] = key
    total = sum(joint.yes.values())
    if total > 1 + NEAR:
        yield ReferenceFault(
            ("joint", "yes"),
            f"the probabilities come to {total:g}",
            "let them come to 1 or less; what is left is that none is yes",
        )


def _answer_faults(problem: ContingentProblem) -> Iterator[ReferenceFault]:
    for name in problem.answered:
        yield from _no_unknown(problem, ("now", "answers", name), name)
    done = problem.now.done if problem.now else ()
    for name, unknown in problem.unknowns.items():
        if unknown.revealed_by in done and name not in problem.answered:
            yield ReferenceFault(
                ("now", "answers"),
                f'"{unknown.revealed_by}" is done, and what it told of "{name}" is missing',
                f'give "{name}": true or false',
            )


def _no_unknown(problem: ContingentProblem, path: Path, name: str) -> Iterator[ReferenceFault]:
    if name not in problem.unknowns:
        like = nearest(name, problem.unknowns)
        known = listed(problem.unknowns) if problem.unknowns else "none is declared"
        yield ReferenceFault(
            path, f'no unknown "{name}"', f'did you mean "{like}"?' if like else f"known: {known}"
        )


def _waits(problem: ContingentProblem) -> dict[str, list[str]]:
    """Per operation what must be over before it: also what tells whether that, or what it follows, is needed."""
    tell = {
        o.name: [problem.reader(u) for row in problem.conditional.get(o.name, ()) for u, _ in row]
        for o in problem.operations
    }
    return {
        o.name: [*o.after, *tell[o.name], *(u for a in o.after for u in tell[a] if u != o.name)]
        for o in problem.operations
    }
