"""Trouble codes of one visit: what the reader showed before and after the work, and what became of each code."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from django.utils.translation import gettext
from django.utils.translation import gettext_noop as noop

from witnessmark.book.model import Book, Step
from witnessmark.decode import (
    Code,
    Comparison,
    Pasted,
    ReadOut,
    Seen,
    Unread,
    compare,
    read_code,
    read_pasted,
    status_words,
)
from witnessmark.ledger import Entry
from witnessmark.ledger.bodies import CodesCleared, CodesRead
from witnessmark.ledger.state import Finding
from witnessmark.shop import store
from witnessmark.shop.roles import may_write
from witnessmark.shop.work.visit import Work

BEFORE, AFTER = noop("before the work"), noop("after the work")
STILL = noop(
    "Trouble codes after the work: {codes}"
)  # the finding that a reading with codes makes, as it is kept


@dataclass(frozen=True)
class CodesInput:
    """One reading of the machine: one entry, and those that add another control unit to it."""

    moment: str
    entries: tuple[Entry, ...]
    seen: tuple[Seen, ...]
    unread: tuple[Unread, ...]
    after_clearing: bool = False

    @property
    def at(self) -> datetime:
        """When its first entry was made."""
        return self.entries[0].instant

    @property
    def author(self) -> str:
        """Who made its first entry."""
        return self.entries[0].author

    @property
    def words(self) -> str:
        """The codes that are there, in one line."""
        return _written(self.seen) or gettext("none")


@dataclass(frozen=True)
class Cleared:
    """That the codes were cleared."""

    entry: Entry
    said: CodesCleared


@dataclass(frozen=True)
class Became:
    """What became of one code, with what its structure says and what the newest reading tells of it."""

    code: Code
    words: str
    told: str


@dataclass(frozen=True)
class Codes:
    """Everything about trouble codes on a visit, in the order it happened."""

    happened: tuple[CodesInput | Cleared, ...] = ()
    comparison: Comparison = field(default_factory=Comparison)

    @property
    def readings(self) -> tuple[CodesInput, ...]:
        """The readings alone, oldest first."""
        return tuple(one for one in self.happened if isinstance(one, CodesInput))

    @property
    def copied(self) -> bool:
        """Whether anything was copied to the visit yet."""
        return bool(self.readings)

    @property
    def compared(self) -> bool:
        """Whether there is something to compare."""
        return len(self.readings) > 1

    @property
    def next_moment(self) -> str:
        """What the next reading most likely is."""
        return AFTER if self.copied else BEFORE

    @property
    def groups(self) -> tuple[tuple[str, tuple[Became, ...]], ...]:
        """What became of the codes, word by word; of one reading alone its codes as found."""
        if not self.compared:
            found = self.comparison.stayed
            return ((noop("found"), self._became(found)),) if found else ()
        return tuple((word, self._became(codes)) for word, codes in self.comparison.groups)

    def _became(self, codes: Sequence[Code]) -> tuple[Became, ...]:
        return tuple(Became(code, code.words, self._told(code)) for code in codes)

    def _told(self, code: Code) -> str:
        """Unit, status and note of a code by the newest reading that has it."""
        for reading in reversed(self.readings):
            for one in reading.seen:
                if one.code == code or (code.failure is None and one.code.text == code.text):
                    status = "" if one.status is None else status_words(one.status)
                    memory = "" if one.memory in one.note.lower() else one.memory
                    return " · ".join(x for x in (one.unit, one.note, memory, status) if x)
        return ""


def codes_of(work: Work) -> Codes:
    """The readings and clearings that stand, in causal order, with what became of each code."""
    happened: list[CodesInput | Cleared] = []
    for entry in _standing(work):
        said = entry.said
        if isinstance(said, CodesCleared):
            happened.append(Cleared(entry, said))
        elif isinstance(said, CodesRead):
            _add(happened, entry, said)
    readings = [one for one in happened if isinstance(one, CodesInput)]
    outs = [ReadOut(one.seen, one.after_clearing) for one in readings]
    return Codes(tuple(happened), compare(outs))


def concerns_codes(book: Book, step: Step) -> bool:
    """Whether a step reads or clears codes: it touches their circuit, or needs them copied."""
    circuits = {name for name, circuit in book.circuits.items() if circuit.trouble_codes}
    if circuits & {*step.opens, *step.closes}:
        return True
    copying = [
        one
        for job in book.jobs.values()
        for one in job.operations.values()
        if circuits & one.opens.keys()
    ]
    copied = {(name, state) for one in copying for name, state in one.sets.items()}
    return any(state in allowed for name, state in copied if (allowed := step.needs.get(name)))


def body_of(
    read: Pasted, pasted: str, moment: str, *, adds: bool, unit: str = ""
) -> dict[str, object]:
    """The entry of a reading: as pasted, and as understood. `unit` names codes that stand under none."""
    codes = [
        {"code": one.code.written, "status": one.status, "unit": (one.unit or unit)[:120]}
        for one in read.seen
    ]
    return {
        "moment": moment,
        "pasted": pasted,
        "codes": codes,
        "none": read.nothing and not codes,
        "adds": adds,
    }


def acts_of(work: Work, body: dict[str, object], role: str) -> list[store.EntryDraft]:
    """The entries of a reading: itself, and after the work the finding of what is still there.

    An open finding of an earlier reading is answered where its codes are gone, and gives way to the new one where
    others are there; not by a role that may not answer findings: then it stays open beside the new one.
    """
    acts: list[store.EntryDraft] = [("codes_read", body)]
    if body["moment"] != AFTER:
        return acts
    text, safety = _finding(CodesRead.model_validate(body))
    for one in still_open(work) if may_write(role, "settled", {}) else ():
        if not text:
            said = {"how": "put right", "text": "not there when read again"}
            acts.append(("settled", {"entry": one.entry, **said}))
        elif one.text != text:
            acts.append(("corrected", {"entry": one.entry, "why": "read again after the work"}))
    if text and all(one.text != text for one in still_open(work)):
        acts.append(("found", {"text": text, "safety": safety}))
    return acts


def _finding(said: CodesRead) -> tuple[str, bool]:
    """The finding of codes that are there, empty without any; chassis codes (brakes, steering) concern safety."""
    seen = [one for one in _of_entry(said)[0] if one.there]
    text = STILL.format(codes=_written(seen)) if seen else ""
    return text, any(one.code.text[0] == "C" for one in seen)


def _written(seen: Sequence[Seen]) -> str:
    return ", ".join(dict.fromkeys(one.code.written for one in seen if one.there))


def still_there(work: Work) -> dict[str, str]:
    """By the text of its finding, the codes that a reading after the work has shown."""
    readings = [e.said for e in work.entries if isinstance(e.said, CodesRead)]
    after = [said for said in readings if said.moment == AFTER]
    return {text: _written(_of_entry(said)[0]) for said in after if (text := _finding(said)[0])}


def still_open(work: Work) -> list[Finding]:
    """Findings of readings after the work that nobody answered."""
    made = still_there(work)
    return [one for one in work.state.findings if one.text in made and not one.settled]


def undoing(work: Work, named: str) -> list[store.EntryDraft]:
    """The entries that take one reading or clearing back, with the finding that it made; none for anything else."""
    entry = next((one for one in _standing(work) if one.id == named), None)
    if entry is None:
        return []
    text = _finding(entry.said)[0] if isinstance(entry.said, CodesRead) else ""
    made = [one.entry for one in still_open(work) if text and one.text == text]
    return [("corrected", {"entry": key, "why": "taken back"}) for key in (entry.id, *made)]


# ---------------------------------------------------------------- parts


def _standing(work: Work) -> Iterator[Entry]:
    by_id = {entry.id: entry for entry in work.entries}
    for line in work.state.history:
        if not line.undone and line.kind in ("codes_read", "codes_cleared"):
            yield by_id[line.entry]


def _add(happened: list[CodesInput | Cleared], entry: Entry, said: CodesRead) -> None:
    """A reading of its own, or another control unit of the one before."""
    seen, unread = _of_entry(said)
    last = happened[-1] if happened else None
    if said.adds and isinstance(last, CodesInput) and last.moment == said.moment:
        happened[-1] = CodesInput(
            last.moment,
            (*last.entries, entry),
            (*last.seen, *seen),
            (*last.unread, *unread),
            last.after_clearing,
        )
    else:
        cleared = isinstance(last, Cleared)
        happened.append(CodesInput(said.moment, (entry,), seen, unread, cleared))


def _of_entry(said: CodesRead) -> tuple[tuple[Seen, ...], tuple[Unread, ...]]:
    """Its codes as they were understood then; notes beside them, and what was not read, from what was pasted."""
    again = read_pasted(said.pasted)
    notes = {one.code: (one.note, one.memory) for one in again.seen}
    seen = []
    for place, one in enumerate(said.codes, 1):
        code = read_code(one.code)
        note, memory = notes.get(code, ("", ""))
        seen.append(Seen(code, place, one.status, one.unit, memory, note))
    return tuple(seen), again.unread
