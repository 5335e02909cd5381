"""Verify one visit: its entries against its seals, its device chains, its own row, and what was anchored.

Found: an entry changed, dropped, added, swapped or given another author, before the newest anchor even
where the whole chain was computed again; a visit moved to another machine, or its rule changed. Not found:
a tail cut off after the newest head that is known from elsewhere, and entries cut off a device's tail
before they were sealed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from witnessmark.frozen import FrozenModel
from witnessmark.ledger.bodies import Arrived
from witnessmark.ledger.entry import Entry, entry_hash, misfits
from witnessmark.ledger.seal import Head, Seal, seal_hash

CHANGED = (
    "it was changed behind the program: find out who could write to the database, "
    "and restore the backup from before"
)
CUT_OFF = (
    "the newest entries are missing (a database copied without its -wal file?): "
    "go back to the store it was copied from, or restore a backup"
)


class VerifyFault(FrozenModel):
    """Where the record does not hold together, how, and what to do. Not grave: only to be known."""

    place: str
    problem: str
    expected: str = CHANGED
    grave: bool = True

    def __str__(self) -> str:
        return f"{self.place}: {self.problem}; {self.expected}"


class VisitRow(NamedTuple):
    """What the visit's own row says, to be held against what its entries say."""

    shop: str
    visit: str
    number: int
    machine: str
    refuse_unproven_wrench: bool


def verify(
    entries: Iterable[Entry],
    seals: Iterable[Seal],
    heads: Iterable[Head] = (),
    *,
    hashes: Mapping[str, str] | None = None,
    entry_of: Mapping[int, str] | None = None,
    row: VisitRow | None = None,
    acknowledged: Head | None = None,
) -> list[VerifyFault]:
    """All faults of one visit.

    ``seals`` by number; ``heads``: signed earlier for this visit; ``acknowledged``: the newest seal that
    somebody was told of. ``hashes``: of every entry by its id, where they are known. ``entry_of``: by number
    of its seal, the id of the entry that it is kept with.
    """
    faults: list[VerifyFault] = []
    every, sealed = list(entries), sorted(seals, key=lambda s: s.number)
    if hashes is None:
        hashes, faults = _hashes(every)
        every = [entry for entry in every if entry.id in hashes]
    chain = {seal.number: seal_hash(seal) for seal in sealed}
    return [
        *faults,
        *_bodies(every),
        *_one_visit(every, row),
        *(_row(every, row) if row else ()),
        *_chain(sealed, chain),
        *_sealed(every, sealed, hashes),
        *(_kept_with(sealed, hashes, entry_of) if entry_of else ()),
        *_devices(every, hashes),
        *_anchored(chain, heads),
        *_acknowledged(chain, acknowledged),
    ]


def _hashes(entries: Sequence[Entry]) -> tuple[dict[str, str], list[VerifyFault]]:
    hashes, faults = {}, []
    for entry in entries:
        try:
            hashes[entry.id] = entry_hash(entry)
        except ValueError as error:
            faults.append(_at(entry, f"has no canonical form: {error}"))
    return hashes, faults


def _bodies(entries: Sequence[Entry]) -> Iterator[VerifyFault]:
    for entry in entries:
        problem = "; ".join(map(str, misfits(entry)))
        if problem:
            yield _at(entry, f"could not have been made: {problem}")


def _one_visit(entries: Sequence[Entry], row: VisitRow | None) -> Iterator[VerifyFault]:
    if not entries:
        return
    (most, _), *_ = Counter((e.shop, e.visit) for e in entries).most_common(1)
    for entry in entries:
        if (entry.shop, entry.visit) != most:
            yield _at(entry, "belongs to another visit")
    if row and most != (row.shop, row.visit):
        yield VerifyFault(
            place="its row", problem="is another shop's, or another visit's, than its entries"
        )


def _row(entries: Sequence[Entry], row: VisitRow) -> Iterator[VerifyFault]:
    """The row against each arrival; an arrival of before these were kept in it says less."""
    for entry in entries:
        said = entry.said if entry.kind == "arrived" and not any(misfits(entry)) else None
        if not isinstance(said, Arrived):
            continue
        told = {
            "machine": (said.machine, row.machine),
            "number": (said.number, row.number),
            "rule for unproven wrenches": (said.refuse_unproven_wrench, row.refuse_unproven_wrench),
        }
        for what, (then, now) in told.items():
            if then is not None and then != now:
                problem = f"says {what} {now}; its entry {entry.id} (arrived) says {then}"
                yield VerifyFault(
                    place="its row", problem=problem, expected=f"the entry counts; {CHANGED}"
                )


def _chain(seals: Sequence[Seal], hashes: Mapping[int, str]) -> Iterator[VerifyFault]:
    last: Seal | None = None
    for number, seal in enumerate(seals, 1):
        if seal.number != number:
            yield VerifyFault(
                place=f"seal {seal.number}", problem=f"stands where seal {number} should"
            )
        elif seal.prev != (hashes[last.number] if last else None):
            yield VerifyFault(place=f"seal {number}", problem="does not follow the seal before it")
        if last and seal.at < last.at:  # both in UTC, of one form
            yield VerifyFault(
                place=f"seal {seal.number}",
                problem=f"was made at {seal.at}, before seal {last.number} at {last.at}",
                expected="if nobody set the server's clock back then, the seals were made anew: "
                "hold them against an anchor or a printed paper",
                grave=False,
            )
        last = seal


def _sealed(
    entries: Sequence[Entry], seals: Sequence[Seal], hashes: Mapping[str, str]
) -> Iterator[VerifyFault]:
    """Every entry has one seal, every seal its entry."""
    count = Counter(seal.entry_hash for seal in seals)
    for entry in entries:
        if count[hashes[entry.id]] != 1:
            how = "more than one seal" if count[hashes[entry.id]] else "no seal: changed, or added"
            yield _at(entry, f"has {how}")
    had = set(hashes.values())
    for seal in seals:
        if seal.entry_hash not in had:
            yield VerifyFault(
                place=f"seal {seal.number}", problem="seals an entry that is not here as it was"
            )


def _kept_with(
    seals: Sequence[Seal], hashes: Mapping[str, str], entry_of: Mapping[int, str]
) -> Iterator[VerifyFault]:
    for seal in seals:
        entry = entry_of.get(seal.number, "")
        if hashes.get(entry, seal.entry_hash) != seal.entry_hash:
            yield VerifyFault(
                place=f"seal {seal.number}", problem=f"does not fit its entry {entry}"
            )


def _devices(entries: Sequence[Entry], hashes: Mapping[str, str]) -> Iterator[VerifyFault]:
    """Each device's entries follow one another."""
    at: dict[tuple[str, int], list[Entry]] = {}
    for entry in entries:
        at.setdefault((entry.device, entry.seq), []).append(entry)
    for (device, seq), twins in at.items():
        if len(twins) > 1:
            yield _at(twins[1], f"is a second entry {seq} of its device")
        before = at.get((device, seq - 1), [])
        for entry in twins:
            if seq > 1 and not before:
                yield _at(entry, f"follows entry {seq - 1} of its device, which is not here")
            elif before and entry.prev not in {hashes[e.id] for e in before}:
                yield _at(entry, "does not follow the entry before it on its device")


def _anchored(hashes: Mapping[int, str], heads: Iterable[Head]) -> Iterator[VerifyFault]:
    for head in heads:
        found = hashes.get(head.number)
        if found is None:
            problem = "was anchored and is not here"
            yield VerifyFault(place=f"seal {head.number}", problem=problem, expected=CUT_OFF)
        elif found != head.seal:
            yield VerifyFault(
                place=f"seal {head.number}",
                problem="is not the one that was anchored: it, or one before it, was made again",
            )


def _acknowledged(hashes: Mapping[int, str], head: Head | None) -> Iterator[VerifyFault]:
    if head is None or hashes.get(head.number) == head.seal:
        return
    if head.number in hashes:
        yield VerifyFault(
            place=f"seal {head.number}", problem="is not the one that was acknowledged"
        )
        return
    problem = f"was acknowledged and is not here: the last is {max(hashes, default=0)}"
    yield VerifyFault(place=f"seal {head.number}", problem=problem, expected=CUT_OFF)


def _at(entry: Entry, problem: str) -> VerifyFault:
    return VerifyFault(place=f"entry {entry.id} ({entry.kind})", problem=problem)
