"""A repair while it is written: what was typed so far, kept in a row of the visit until it is an entry.

What is kept is the body of the entry as far as it is there: the job (`book.own_job`), the prices of its parts, the
tests, the cause. A job without steps, or one that leaves something open, can be kept; `faults_of` says what is missing.
"""

from __future__ import annotations

import hashlib
import json
import re
import unicodedata
from collections.abc import Collection, Iterator
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from witnessmark.book import Book
from witnessmark.book.errors import Fault
from witnessmark.book.model import Step
from witnessmark.book.own_job import OwnJob, free_id
from witnessmark.book.own_job_judged import broken_rules, faults
from witnessmark.errors import WitnessError
from witnessmark.ledger.ids import StepId
from witnessmark.shop.forms import in_words
from witnessmark.shop.models import RepairDraft, Visit
from witnessmark.shop.scope import Desk
from witnessmark.shop.work.visit import Work

Said = dict[str, Any]
WORK_KEYS = ("loosens", "tightens", "opens", "closes", "disturbs", "renews", "readings")


@dataclass(frozen=True)
class Draft:
    """What was typed of a repair; ``of``: the one that it changes, empty for a new one."""

    of: str
    said: Said
    half: bool  # it is kept, and not written down yet

    @property
    def mark(self) -> str:
        """Tells this from any other: what a page had before it."""
        told = json.dumps([self.of, self.said], sort_keys=True)
        return hashlib.sha256(told.encode()).hexdigest()

    @property
    def job(self) -> Said:
        """The job as far as it is there."""
        job: Said = self.said["job"]
        return job

    @property
    def steps(self) -> list[Said]:
        """Its steps, in order."""
        steps: list[Said] = self.job["steps"]
        return steps


def draft_of(desk: Desk, work: Work, of: str) -> Draft:
    """What is half written of a repair, else as it was written down, else empty."""
    row = desk.all(RepairDraft).filter(visit=work.visit, repair=of).first()
    if row is not None:
        return Draft(of, row.said, half=True)
    written = work.state.repairs.get(of)
    if written is None:
        return Draft(
            "",
            {"job": {"text": "", "steps": []}, "prices": {}, "tests": [], "cause": ""},
            half=False,
        )
    said = written.model_dump(mode="json", exclude_defaults=True)
    usual: Said = {"prices": {}, "tests": [], "cause": ""}
    return Draft(of, usual | {k: v for k, v in said.items() if k != "repair"}, half=False)


def keep(desk: Desk, work: Work, of: str, said: Said) -> Draft:
    """Keep what was typed."""
    rows = desk.all(RepairDraft)
    row = rows.filter(visit=work.visit, repair=of).first() or desk.new(
        RepairDraft, visit=work.visit, repair=of
    )
    row.said = said
    row.save()
    return Draft(of, said, half=True)


def drop(desk: Desk, work: Work, of: str) -> None:
    """Forget what is half written."""
    desk.all(RepairDraft).filter(visit=work.visit, repair=of).delete()


def half_written(desk: Desk, visit: Visit) -> dict[str, str]:
    """The repairs that are half written, by the id of what each changes (empty: new), with their words."""
    rows = desk.all(RepairDraft).filter(visit=visit)
    return {row.repair: row.said["job"]["text"] or _("a repair without a name") for row in rows}


# ---------------------------------------------------------------- its steps


def with_step(
    said: Said, step: Said, tables: dict[str, dict[str, Said]], prices: dict[str, int]
) -> Said:
    """With a step in place of the one of its name, else as the last; what no step names any more is gone."""
    made = deepcopy(said)
    job = made["job"]
    names = [one["name"] for one in job["steps"]]
    if step["name"] in names:
        job["steps"][names.index(step["name"])] = step
    else:
        job["steps"].append(step)
    for table, rows in tables.items():
        job.setdefault(table, {}).update(rows)
    made["prices"] = {**made["prices"], **prices}
    return _tidy(made)


def moved(said: Said, name: str, by: int) -> Said:
    """With a step so many places further down; at an end it stays."""
    made = deepcopy(said)
    steps = made["job"]["steps"]
    at = next((n for n, one in enumerate(steps) if one["name"] == name), None)
    if at is not None:
        steps.insert(max(0, at + by), steps.pop(at))
    return made


def without_step(said: Said, name: str) -> Said:
    """Without a step, and what it alone undid."""
    made = deepcopy(said)
    made["job"]["steps"] = [one for one in made["job"]["steps"] if one["name"] != name]
    return _tidy(made)


def _tidy(said: Said) -> Said:
    """Less what no step opens, uses or reads any more."""
    job, steps = said["job"], said["job"]["steps"]

    def keep_only(table: str, names: Collection[str | None]) -> set[str]:
        had = job.get(table, {})
        job[table] = {one: row for one, row in had.items() if one in names}
        return set(had) - set(job[table])

    def named(key: str) -> set[str]:
        return {name for step in steps for name in step.get(key, ())}

    loose = keep_only("fasteners", named("loosens"))
    open_ = keep_only("circuits", named("opens"))
    for step in steps:
        step["tightens"] = [one for one in step.get("tightens", ()) if one not in loose]
        step["closes"] = {one: at for one, at in step.get("closes", {}).items() if one not in open_}
    for table, key in _BY_KEY.items():
        keep_only(table, named(key))
    parts = named("parts") | {row["part"] for row in job["renewals"].values()}
    figures = {one for row in job["fasteners"].values() for one in _torques(row)}
    figures |= {use["figure"] for step in steps for use in step.get("fluids", {}).values()}
    figures |= {row.get("grade") for row in job["fluids"].values()}
    figures |= {row.get(end) for row in job["readings"].values() for end in ("low", "high")}
    keep_only("parts", parts)
    keep_only("figures", figures)
    said["prices"] = {one: minor for one, minor in said["prices"].items() if one in job["parts"]}
    return said


def _torques(fastener: Said) -> list[str]:
    """The figures that a fastener is made tight by."""
    named = [fastener.get("figure"), fastener.get("turn"), *fastener.get("stages", ())]
    return [one for one in named if one]


_BY_KEY = {
    "renewals": "renews", "fluids": "fluids", "readings": "readings", "tools": "tools", "cautions": "cautions",
}  # fmt: skip


# ---------------------------------------------------------------- judged


@dataclass(frozen=True)
class Judged:
    """A draft as a job, None where it is none; what is wrong, by step ("": the whole); rules of the trade it breaks."""

    job: OwnJob | None
    wrong: dict[str, list[str]]
    advice: list[str]
    left_open: list[
        str
    ]  # of the book, by access steps: ``fasteners/id``, ``circuits/id/requirement``


def judged(work: Work, draft: Draft) -> Judged:
    """The draft as a job beside the visit's book."""
    if not draft.steps:
        return Judged(None, {"": [_("It has no step yet.")]}, [], [])
    job = OwnJob.model_validate(draft.job | {"text": draft.job["text"] or "…"})
    book = book_beside(work)
    wrong: dict[str, list[str]] = {}
    found = faults(book, job)
    for fault in found:
        wrong.setdefault(_step_of(job, fault), []).append(_in_words(book, job, fault))
    for name in _changed_though_begun(work, draft):
        wrong.setdefault(name, []).append(
            _("It was worked on: what it undoes, closes and reads stays. Add a step for the rest.")
        )
    advice = [] if wrong else list(dict.fromkeys(r.holds for r, _at in broken_rules(book, job)))
    return Judged(job, wrong, advice, list(_left_open(book, found)))


def _left_open(book: Book, found: list[Fault]) -> Iterator[str]:
    """What access steps open on the way to a step, and nothing closes: the repair can."""
    for fault in found:
        if fault.path[0] != "access" or str(fault.path[2]) not in _OPENED:
            continue
        table, thing, requirement = _thing_at(book.access[str(fault.path[1])], fault)
        if table == "fasteners":
            yield f"fasteners/{thing}"
        elif table == "circuits":
            named = [requirement] if requirement != "all" else book.circuits[thing].closed_by
            yield from (f"circuits/{thing}/{one}" for one in named)


def _thing_at(step: Step, fault: Fault) -> tuple[str, str, str]:
    """Table, id and requirement of what a fault says is opened by a step."""
    key, at = str(fault.path[2]), fault.path[3]
    named = getattr(step, key)
    if key == "opens":
        place = fault.path[4] if fault.path[4:] else 0
        return "circuits", str(at), named[at][place]
    return _OPENED[key], named[at], ""


def book_beside(work: Work) -> Book:
    """The book that a repair is written beside: the visit's, without the jobs of its repairs."""
    jobs = {n: job for n, job in work.pinned.jobs.items() if n not in work.state.repairs}
    return work.pinned.model_copy(update={"jobs": jobs})


def begun(work: Work, of: str) -> set[str]:
    """The steps of a repair that something was entered at."""
    return {StepId(step).operation for step in work.state.steps if of and StepId(step).job == of}


def _changed_though_begun(work: Work, draft: Draft) -> Iterator[str]:
    """Steps worked on that the draft changes in what they open and close; a missing one is told of the whole."""
    written = work.state.repairs.get(draft.of)
    if written is None:
        return
    now = {step["name"]: step for step in draft.steps}
    for step in written.job.steps:
        if step.name in begun(work, draft.of):
            said = step.model_dump(mode="json")
            new = now.get(step.name)
            if new is None:
                yield ""
            elif any((new.get(key) or None) != (said[key] or None) for key in WORK_KEYS):
                yield step.name


def _step_of(job: OwnJob, fault: Fault) -> str:
    """The step that a fault is told at: its own, or the one that brings the thing; empty: the whole."""
    table, name = str(fault.path[0]), str(fault.path[1]) if fault.path[1:] else ""
    if table == "steps":
        return name
    keys = {"fasteners": "loosens", "circuits": "opens"} | _BY_KEY | {"parts": "parts"}
    if table == "figures":
        using = [n for n, f in job.fasteners.items() if name in (f.figure, f.turn, *f.stages)]
        reading = [n for n, r in job.readings.items() if name in (r.low, r.high)]
        return next(
            (
                step.name
                for step in job.steps
                if {*using} & {*step.loosens}
                or {*reading} & {*step.readings}
                or any(use.figure == name for use in step.fluids.values())
            ),
            "",
        )
    key = keys.get(table)
    return next((step.name for step in job.steps if key and name in getattr(step, key)), "")


def _in_words(book: Book, job: OwnJob, fault: Fault) -> str:
    """A fault as a technician reads it."""
    table, name, key = (*map(str, fault.path[:3]), "", "", "")[:3]
    if table in ("steps", "access") and key in _OPENED and fault.path[3:]:
        every: dict[str, Step] = {**book.access, **{step.name: step for step in job.steps}}
        kind, thing, _requirement = _thing_at(every[name], fault)
        known = {**getattr(book, kind), **getattr(job, kind)}
        if table == "access" and thing in known:
            return _(
                "“{thing}” is opened by “{step}” on the way to a step. Tick it where it is closed, "
                "or choose the job that does it under “Goes with it”."
            ).format(thing=known[thing].text, step=every[name].text)
        if thing in known:
            return _(
                "“{thing}” is undone here, and not closed by this step or one after it. Tick it where it is closed."
            ).format(thing=known[thing].text)
    if key == "needs" and fault.path[3:] and str(fault.path[3]) in book.conditions:
        return _(
            "No access step brings it there: {condition}. Choose the job that does it under “Goes with it”."
        ).format(condition=book.conditions[str(fault.path[3])].text)
    return in_words(WitnessError("", fault.problem, fault.expected))


_OPENED = {
    "loosens": "fasteners",
    "snugs": "fasteners",
    "opens": "circuits",
    "disturbs": "renewals",
}


def new_id(words: str, taken: Collection[str], most: int = 28) -> str:
    """An id that says what it is of: small letters and digits of the words, and a number where it is taken."""
    plain = unicodedata.normalize("NFKD", words).encode("ascii", "ignore").decode().lower()
    slug = re.sub(r"[^a-z0-9]+", "_", plain).strip("_")[:most].strip("_")
    return free_id(slug if slug[:1].isalpha() else f"x_{slug}".strip("_"), taken)
