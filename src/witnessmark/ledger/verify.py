"""Verify one visit: its entries against its seals, its device chains, and what was anchored.

Found: an entry changed, dropped, added, swapped or given another author, before the newest anchor even
where the whole chain was computed again. Not found: a tail cut off after the newest anchor, and entries
cut off a device's tail before they were sealed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from witnessmark.ledger.entry import Entry, EntryErrors, entry_hash, read_entry
from witnessmark.ledger.seal import Head, Seal, seal_hash
from witnessmark.ledger.table import Form


class Fault(Form):
    """Where the record does not hold together, and how."""

    place: str
    wrong: str

    def __str__(self) -> str:
        return f"{self.place}: {self.wrong}"


def verify(
    entries: Iterable[Entry], seals: Iterable[Seal], heads: Iterable[Head] = ()
) -> list[Fault]:
    """All faults of one visit. ``seals`` by number; ``heads``: signed earlier for this visit."""
    every, sealed = list(entries), sorted(seals, key=lambda s: s.number)
    hashes = {entry.id: entry_hash(entry) for entry in every}
    return [
        *_bodies(every),
        *_one_visit(every),
        *_chain(sealed),
        *_sealed(every, sealed, hashes),
        *_devices(every, hashes),
        *_anchored(sealed, heads),
    ]


def _bodies(entries: Sequence[Entry]) -> Iterator[Fault]:
    for entry in entries:
        try:
            read_entry(entry.model_dump(mode="json"))
        except EntryErrors as errors:
            yield _at(entry, "could not have been made: " + "; ".join(map(str, errors)))


def _one_visit(entries: Sequence[Entry]) -> Iterator[Fault]:
    if not entries:
        return
    (shop, visit), _ = Counter((e.shop, e.visit) for e in entries).most_common(1)[0]
    for entry in entries:
        if (entry.shop, entry.visit) != (shop, visit):
            yield _at(entry, "belongs to another visit")


def _chain(seals: Sequence[Seal]) -> Iterator[Fault]:
    last: Seal | None = None
    for number, seal in enumerate(seals, 1):
        if seal.number != number:
            yield Fault(place=f"seal {seal.number}", wrong=f"stands where seal {number} should")
        elif seal.prev != (seal_hash(last) if last else None):
            yield Fault(place=f"seal {number}", wrong="does not follow the seal before it")
        last = seal


def _sealed(
    entries: Sequence[Entry], seals: Sequence[Seal], hashes: dict[str, str]
) -> Iterator[Fault]:
    """Every entry has one seal, every seal its entry."""
    count = Counter(seal.entry_hash for seal in seals)
    for entry in entries:
        if count[hashes[entry.id]] != 1:
            how = "more than one seal" if count[hashes[entry.id]] else "no seal: changed, or added"
            yield _at(entry, f"has {how}")
    had = set(hashes.values())
    for seal in seals:
        if seal.entry_hash not in had:
            yield Fault(
                place=f"seal {seal.number}", wrong="seals an entry that is not here as it was"
            )


def _devices(entries: Sequence[Entry], hashes: dict[str, str]) -> Iterator[Fault]:
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


def _anchored(seals: Sequence[Seal], heads: Iterable[Head]) -> Iterator[Fault]:
    by_number = {seal.number: seal for seal in seals}
    for head in heads:
        seal = by_number.get(head.number)
        if seal is None:
            yield Fault(place=f"seal {head.number}", wrong="was anchored and is not here")
        elif seal_hash(seal) != head.seal:
            yield Fault(
                place=f"seal {head.number}",
                wrong="is not the one that was anchored: it, or one before it, was made again",
            )


def _at(entry: Entry, wrong: str) -> Fault:
    return Fault(place=f"entry {entry.id} ({entry.kind})", wrong=wrong)
