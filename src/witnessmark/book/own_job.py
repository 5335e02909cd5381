"""A job of one's own: what no book lists, with steps, fasteners, circuits, figures and parts of its own.

It is written beside a book, whose conditions, fasteners and other things its steps may name too; what it declares
itself goes before. Steps stand in the order in which they are done. `tables` gives it in the tables of a book,
`beside` lays these over one, `own_job_text.with_job` writes them into its text, `own_job_of` reads it back;
`own_job_judged` judges it as a job of that book.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Annotated, Any, TypeVar

from pydantic import Field, StringConstraints, model_validator

from witnessmark.book.fields import ID_PATTERN, AtTheDoor, BookModel
from witnessmark.book.model import (
    Book,
    Caution,
    Circuit,
    Fastener,
    Figure,
    Fluid,
    JobHead,
    Part,
    Reading,
    Renewal,
    Shims,
    Step,
    Tool,
)
from witnessmark.book.model_step import Likely, OnlyIf, Operation
from witnessmark.book.select import in_turn

OwnId = Annotated[str, StringConstraints(pattern=ID_PATTERN, max_length=40)]
Ids = Mapping[str, Mapping[str, str]]  # by table: the id in the book of each id of the job
Row = TypeVar("Row", bound=BookModel)
STEPS, HEAD = "steps", "head"
NAMES: dict[str, dict[str, str]] = {  # by table: the keys that name things, and of which table
    STEPS: {
        "figures": "figures", "tools": "tools", "parts": "parts", "fluids": "fluids", "loosens": "fasteners",
        "snugs": "fasteners", "tightens": "fasteners", "opens": "circuits", "closes": "circuits",
        "disturbs": "renewals", "renews": "renewals", "readings": "readings", "shims": "shims", "cautions": "cautions",
    },
    HEAD: {
        "every_distance": "figures", "every_time": "figures", "early": "readings", "disposal": "fluids",
    },
    "figures": {},
    "fasteners": {
        "figure": "figures", "stages": "figures", "turn": "figures", "behind": "fasteners",
    },
    "circuits": {"fluid": "fluids"},
    "renewals": {"part": "parts"},
    "parts": {},
    "fluids": {"grade": "figures"},
    "tools": {},
    "readings": {"low": "figures", "high": "figures", "again_after": "fasteners"},
    "shims": {"found": "readings", "left": "readings", "target": "figures"},
    "cautions": {},
}  # fmt: skip
OWN = tuple(table for table in NAMES if table not in (STEPS, HEAD))  # what a job may declare itself


class OwnStep(Step):
    """One step. `after`: names of earlier steps, or "job/step" of the book; None: the step before it alone."""

    name: OwnId
    after: list[str] | None = None
    only_if: OnlyIf | None = None
    likely: Likely | None = None
    always_with: list[str] = []  # jobs of the book
    for_findings: list[AtTheDoor] = []


class OwnJob(JobHead):
    """A job with all that it declares itself, by ids of its own."""

    steps: Annotated[list[OwnStep], Field(min_length=1, max_length=60)]
    figures: dict[OwnId, Figure] = {}
    fasteners: dict[OwnId, Fastener] = {}
    circuits: dict[OwnId, Circuit] = {}
    renewals: dict[OwnId, Renewal] = {}
    parts: dict[OwnId, Part] = {}
    fluids: dict[OwnId, Fluid] = {}
    tools: dict[OwnId, Tool] = {}
    readings: dict[OwnId, Reading] = {}
    shims: dict[OwnId, Shims] = {}
    cautions: dict[OwnId, Caution] = {}

    @model_validator(mode="after")
    def _a_name_for_each_step(self) -> OwnJob:
        names = [step.name for step in self.steps]
        if len({*names}) < len(names):
            raise ValueError("two steps have one name; name each otherwise")
        return self

    @property
    def minutes(self) -> float:
        """Attended, of all steps."""
        return round(sum(step.minutes for step in self.steps), 1)


# ---------------------------------------------------------------- into a book


def prefixed(job: OwnJob, name: str) -> Ids:
    """Ids that begin with the name of the job: the same beside whatever book."""
    return {table: {own: f"{name}_{own}" for own in getattr(job, table)} for table in OWN}


def free(job: OwnJob, book: Book) -> Ids:
    """The job's own ids, with a number behind one that the book has already."""
    return {
        table: {own: free_id(own, getattr(book, table)) for own in getattr(job, table)}
        for table in OWN
    }


def free_id(wanted: str, taken: Iterable[str]) -> str:
    """An id that is not taken: the one wanted, else with a number behind it."""
    taken = {*taken}
    tries = (wanted if n == 1 else f"{wanted}_{n}" for n in range(1, len(taken) + 2))
    return next(one for one in tries if one not in taken)


def tables(job: OwnJob, name: str, ids: Ids) -> dict[str, dict[str, Any]]:
    """The job under `name`, and what it declares under these `ids`, as tables of a book; what is usual left out."""
    made = {
        table: {
            ids[table][own]: _row(table, said_of(thing), ids) for own, thing in declared.items()
        }
        for table in OWN
        if (declared := getattr(job, table))
    }
    head = job.model_dump(include=set(JobHead.model_fields), exclude_defaults=True)
    operations: dict[str, Any] = {}
    before: list[str] = []
    for step in job.steps:
        row = _row(STEPS, said_of(step), ids)
        after = before if step.after is None else step.after
        row = {key: value for key, value in row.items() if key not in ("name", "after")}
        operations[step.name] = row | ({"after": after} if after else {})
        before = [step.name]
    return {"jobs": {name: _row(HEAD, head, ids) | {"operations": operations}}, **made}


def beside(book: Book, jobs: Mapping[str, OwnJob]) -> Book:
    """A book with these jobs by name, all that they declare under `prefixed` ids.

    They may have been written beside another book: what this one does not have is left out.
    """
    if not jobs:
        return book
    merged: dict[str, dict[str, Any]] = {}
    for name, job in jobs.items():
        there = _there(book, job)
        for table, rows in tables(there, name, prefixed(there, name)).items():
            merged.setdefault(table, {}).update(rows)
    return laid(book, merged)


def _there(book: Book, job: OwnJob) -> OwnJob:
    """The job, naming only what it declares itself or the book has."""
    known = {table: {*getattr(book, table), *getattr(job, table)} for table in OWN}
    steps = []
    for step in job.steps:
        fluids = {f: u for f, u in step.fluids.items() if u.figure in known["figures"]}
        needs = {c: [s for s in states if c in book.conditions and s in book.conditions[c].states]
                 for c, states in step.needs.items()}  # fmt: skip
        sets = {c: s for c, s in step.sets.items()
                if c in book.conditions and s in book.conditions[c].states}  # fmt: skip
        kept = _known(STEPS, step.model_copy(update={"fluids": fluids}), known)
        needs = {c: states for c, states in needs.items() if states}
        after = step.after and [
            a for a in step.after if "/" not in a or a.partition("/")[0] in book.jobs
        ]
        always = [job for job in step.always_with if job in book.jobs]
        update: dict[str, Any] = {
            "needs": needs, "sets": sets, "after": after, "always_with": always,
        }  # fmt: skip
        if any(one not in known[there] for there, one in _deciding(step)):
            update |= {"only_if": None, "likely": None, "always_with": []}
        steps.append(kept.model_copy(update=update))
    things = {
        table: {own: _known(table, thing, known) for own, thing in getattr(job, table).items()}
        for table in OWN
    }
    others = {
        key: [other for other in getattr(job, key) if other in book.jobs]
        for key in ("brings", "after_test")
    }
    return _known(HEAD, job, known).model_copy(update={"steps": steps, **others, **things})


def _known(table: str, row: Row, known: Mapping[str, Collection[str]]) -> Row:
    """A row with the names that are known alone."""
    kept: dict[str, Any] = {}
    for key, target in NAMES[table].items():
        value = getattr(row, key)
        if isinstance(value, dict):
            kept[key] = {name: one for name, one in value.items() if name in known[target]}
        elif isinstance(value, list):
            kept[key] = [name for name in value if name in known[target]]
        else:
            kept[key] = value if value in known[target] else None
    return row.model_copy(update=kept)


def laid(book: Book, more: Mapping[str, dict[str, Any]]) -> Book:
    """A book with these tables over its own."""
    own = Book.model_validate({"format": 1, "name": book.name, "title": book.title, **more})
    return book.model_copy(update={t: getattr(book, t) | getattr(own, t) for t in more})


def said_of(thing: Any) -> dict[str, Any]:
    """What a row says; what is usual left out."""
    said: dict[str, Any] = thing.model_dump(exclude_defaults=True)
    return said


def _row(table: str, row: dict[str, Any], ids: Ids) -> dict[str, Any]:
    """A row that names things by their ids in the book."""
    said = {
        key: _named(value, ids[NAMES[table][key]]) if key in NAMES[table] else value
        for key, value in row.items()
    }
    if table == STEPS and "only_if" in said:
        readings, figures = ids["readings"], ids["figures"]
        deciding = {"reading": readings, "or_reading": readings, "below": figures, "above": figures}
        said["only_if"] = {
            key: _named(value, deciding.get(key, {})) for key, value in said["only_if"].items()
        }
    if table == STEPS and "fluids" in said:
        figures = ids["figures"]
        said["fluids"] = {
            fluid: use | {"figure": figures.get(use["figure"], use["figure"])}
            for fluid, use in said["fluids"].items()
        }
    return said


def _named(value: Any, ids: Mapping[str, str]) -> Any:
    if isinstance(value, dict):
        return {ids.get(key, key): one for key, one in value.items()}
    return (
        [ids.get(one, one) for one in value] if isinstance(value, list) else ids.get(value, value)
    )


# ---------------------------------------------------------------- out of a book


def own_job_of(book: Book, name: str) -> OwnJob:
    """A job of a book as one written by itself: it declares what nothing else of that book names."""
    job = book.jobs[name]
    turn = in_turn(book, name)
    steps = []
    for place, step in enumerate(turn):
        operation = job.operations[step]
        usual = operation.after == turn[:place][-1:]
        after = None if usual else list(operation.after)
        steps.append(OwnStep(name=step, **_whole(operation, "after"), after=after))
    whole = OwnJob(**_whole(job, "operations", "also_called"), steps=steps)
    others = {other: text for other, text in book.jobs.items() if other != name}
    rest = {*_in_steps(*book.access.values())} | {
        thing
        for text in others.values()
        for thing in (*_in_job(text), *_in_steps(*text.operations.values()))
    }
    own: dict[str, dict[str, Any]] = {}
    wanted = [*_in_job(job), *_in_steps(*job.operations.values())]
    while wanted:
        table, one = wanted.pop()
        if (table, one) not in rest and one not in own.get(table, {}):
            own.setdefault(table, {})[one] = getattr(book, table)[one]
            wanted += _in_row(table, getattr(book, table)[one])
    for table, one in _shared(book, own):
        own[table].pop(one, None)
    return whole.model_copy(update=own)


def _shared(book: Book, own: Mapping[str, Mapping[str, Any]]) -> set[tuple[str, str]]:
    """What is named by things of the book that are not the job's own, at any remove."""
    shared: set[tuple[str, str]] = set()
    while (
        fresh := {
            named
            for table in OWN
            for one, thing in getattr(book, table).items()
            if one not in own.get(table, {}) or (table, one) in shared
            for named in _in_row(table, thing)
            if named[1] in own.get(named[0], {})
        }
        - shared
    ):
        shared |= fresh
    return shared


def _whole(thing: Any, *without: str) -> dict[str, Any]:
    return {key: getattr(thing, key) for key in type(thing).model_fields if key not in without}


def _in_steps(*steps: Step) -> Iterator[tuple[str, str]]:
    for step in steps:
        yield from _in_row(STEPS, step)
        yield from (("figures", use.figure) for use in step.fluids.values())
        yield from _deciding(step)


def _deciding(step: Step) -> Iterator[tuple[str, str]]:
    """What decides whether the step is done."""
    if isinstance(step, OwnStep | Operation) and step.only_if is not None:
        yield from (("readings", one.reading) for one in step.only_if.each)
        figures = (step.only_if.below, step.only_if.above)
        yield from (("figures", figure) for figure in figures if figure)


def _in_job(job: JobHead) -> Iterator[tuple[str, str]]:
    yield from _in_row(HEAD, job)


def _in_row(table: str, row: Any) -> Iterator[tuple[str, str]]:
    """The things that a row names, each with its table."""
    for key, target in NAMES[table].items():
        value = getattr(row, key)
        named = [value] if isinstance(value, str) else list(value or ())
        yield from ((target, one) for one in named)
