"""What the readings of a visit decide, and which steps are not needed by that. See ``docs/planner.md``.

A reading taken at several places is answered yes by one of them, no only by all. Of one that cannot be read somebody
may say what it is taken as. What nobody answers leaves its steps to be done, as in a book that says nothing of it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence

from witnessmark.book.model import Book, Operation, Step
from witnessmark.book.model_step import OnlyIf, before
from witnessmark.book.select import decided_by, job_of
from witnessmark.ledger.table import Figures, Table, UnknownRule, limits_of
from witnessmark.ledger.worked import ReadingState, StepState, Unread
from witnessmark.planner import brought_by, unknown_name

BEGUN = {"done", "waiting", "in conflict", "again"}  # of a step: it stays what it is


def unknowns_of(book: Book, steps: Mapping[str, Step]) -> dict[str, UnknownRule]:
    """What readings decide about steps and jobs of a book, by `unknown_name`.

    A reading is asked where it was taken before anything it decides: after that it tells what became of it.
    """
    deciders: list[OnlyIf] = []
    brings = {job: [one.reading for one in brought_by(head)] for job, head in book.jobs.items()}
    read: dict[str, list[str]] = defaultdict(list)
    decided: dict[str, set[str]] = defaultdict(set)
    followers: dict[str, list[str]] = defaultdict(list)
    for name, step in steps.items():
        job, own = job_of(name), decided_by(step)
        deciders += own
        for reading in step.readings:
            read[reading].append(name)
        for reading in (*brings.get(job, ()), *(one.reading for one in own)):
            decided[reading].add(name)
        for earlier in step.after if isinstance(step, Operation) else ():
            followers[before(job, earlier)].append(name)
    deciders += [one for head in book.jobs.values() for one in brought_by(head)]
    readers = {}
    for reading in {one.reading for one in deciders}:
        later = _and_after(decided[reading], followers)
        readers[reading] = tuple(s for s in read[reading] if s not in later) or tuple(read[reading])
    return {
        unknown_name(one): UnknownRule(
            reading=one.reading,
            way="below" if one.below else "above" if one.above else "outside",
            figure=one.below or one.above,
            places=book.readings[one.reading].repeat,
            readers=readers[one.reading],
        )
        for one in deciders
    }


def only_if_of(step: Step) -> str:
    """The unknown that must be answered yes for a step, ``!`` before one answered no, ``|`` between some of which one
    will do; empty for none.
    """
    each = decided_by(step)
    return "|".join(f"{'!' if one.outside is False else ''}{unknown_name(one)}" for one in each)


def names_in(only_if: str) -> list[str]:
    """The unknowns that a step waits for."""
    return [one.removeprefix("!") for one in only_if.split("|") if one]


def _and_after(decided: Collection[str], followers: Mapping[str, Sequence[str]]) -> set[str]:
    found, new = {*decided}, [*decided]
    while new:
        more = [name for name in followers.get(new.pop(), ()) if name not in found]
        found.update(more)
        new += more
    return found


def answers(
    table: Table, readings: Sequence[ReadingState], unread: Sequence[Unread], figures: Figures
) -> dict[str, bool]:
    """Each unknown that was answered. ``readings``: those that stand, in causal order."""
    found = {
        name: _answer(name, rule, table, readings, unread, figures)
        for name, rule in table.unknowns.items()
    }
    return {name: told for name, told in found.items() if told is not None}


def _answer(
    name: str,
    rule: UnknownRule,
    table: Table,
    readings: Sequence[ReadingState],
    unread: Sequence[Unread],
    figures: Figures,
) -> bool | None:
    told: dict[int, bool | None] = {}
    for no_value in unread:
        if no_value.reading == rule.reading and no_value.step in rule.readers:
            told[no_value.index] = no_value.taken_as.get(name)
    for one in readings:
        if one.reading == rule.reading and one.step in rule.readers:
            told[one.index] = _told(rule, one, table, figures)
    if True in told.values():
        return True
    every = [told.get(place) for place in range(1, rule.places + 1)]
    return None if None in every else False


def _told(rule: UnknownRule, one: ReadingState, table: Table, figures: Figures) -> bool | None:
    """What one reading tells; None where it has no limits, or a figure is missing."""
    if rule.way == "outside":
        if one.verdict in ("low", "high", "bad", "within"):
            return one.verdict != "within"
        return False if one.words and table.readings[rule.reading].bad else None
    limits = limits_of(rule.figure, figures)
    if limits is None or one.value is None:
        return None
    return limits.side(one.value) == ("low" if rule.way == "below" else "high")


def not_needed(
    table: Table,
    told: Mapping[str, bool],
    steps: Mapping[str, StepState],
    jobs: Collection[str],
) -> dict[str, str]:
    """The steps that an answer makes needless, each with the unknown that does. What was begun stays what it is.

    What only such steps would tell, nobody asks: its steps are not needed either.
    """
    found: dict[str, str] = {}
    open_ = {
        step: rule.only_if.split("|")
        for step, rule in table.steps.items()
        if rule.only_if
        and not {*rule.always_with} & {*jobs}
        and not (step in steps and steps[step].status in BEGUN)
    }
    while more := dict(_needless(table, told, open_, found)):
        found |= more
    return found


def _needless(
    table: Table,
    told: Mapping[str, bool],
    open_: Mapping[str, Sequence[str]],
    found: Mapping[str, str],
) -> Iterator[tuple[str, str]]:
    def may_be(one: str) -> bool:
        name, wanted = one.removeprefix("!"), not one.startswith("!")
        never_asked = all(reader in found for reader in table.unknowns[name].readers)
        return told.get(name, not wanted if never_asked else wanted) == wanted

    for step, row in open_.items():
        if step not in found and not any(may_be(one) for one in row):
            yield step, row[0].removeprefix("!")
