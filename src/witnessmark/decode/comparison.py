"""Codes of a visit compared: gone, stayed, new, returned.

Codes are compared by their whole text, failure type included; a reading without failure types meets one with them by
its five signs.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from witnessmark.decode.pasted import Seen
from witnessmark.decode.trouble_codes import Code


@dataclass(frozen=True)
class ReadOut:
    """The codes of one reading. ``after_clearing``: codes were cleared since the reading before."""

    seen: tuple[Seen, ...]
    after_clearing: bool = False

    @property
    def there(self) -> frozenset[Code]:
        """Codes that are there."""
        return frozenset(one.code for one in self.seen if one.there)

    @property
    def untested(self) -> frozenset[Code]:
        """Codes whose test has not run to the end since the codes were cleared."""
        return frozenset(one.code for one in self.seen if one.untested and not one.there)


@dataclass(frozen=True)
class Comparison:
    """What became of each code, from the first reading of a visit to its last.

    ``gone``: was there, is not now. ``stayed``: there all the time. ``new``: not there at the first
    reading, and there for the first time now or later. ``returned``: was there, was away or cleared,
    and is there again. ``untested``: gone, but its test has not run since the codes were cleared.
    """

    gone: tuple[Code, ...] = ()
    stayed: tuple[Code, ...] = ()
    new: tuple[Code, ...] = ()
    returned: tuple[Code, ...] = ()
    untested: tuple[Code, ...] = ()

    @property
    def quiet(self) -> bool:
        """Whether no code is there now."""
        return not (self.stayed or self.new or self.returned)

    @property
    def groups(self) -> tuple[tuple[str, tuple[Code, ...]], ...]:
        """Word and codes, what is there now first."""
        named = (
            ("new", self.new),
            ("returned", self.returned),
            ("stayed", self.stayed),
            ("gone", self.gone),
        )
        return tuple((word, codes) for word, codes in named if codes)

    @property
    def words(self) -> str:
        """One sentence. Example: gone: P0301; stayed: C0123."""
        if not self.groups:
            return "no codes before, none after"
        told = "; ".join(
            f"{word}: {', '.join(one.written for one in codes)}" for word, codes in self.groups
        )
        if self.untested:
            several = ", ".join(one.written for one in self.untested)
            told += f"; not tested since the codes were cleared: {several}"
        return told


def compare(readings: Sequence[ReadOut]) -> Comparison:
    """What became of each code over the readings of a visit, oldest first; of one alone all are there."""
    if not readings:
        return Comparison()
    if len(readings) == 1:
        return Comparison(stayed=_sorted(readings[0].there))
    readings = _alike(readings)
    now = readings[-1].there
    kinds: dict[str, list[Code]] = {"gone": [], "stayed": [], "new": [], "returned": []}
    for code in {code for one in readings for code in one.there}:
        kinds[_became(code, readings, now)].append(code)
    untested = [code for code in kinds["gone"] if code in readings[-1].untested]
    return Comparison(
        _sorted(kinds["gone"]), _sorted(kinds["stayed"]), _sorted(kinds["new"]), _sorted(kinds["returned"]),
        _sorted(untested),
    )  # fmt: skip


def _became(code: Code, readings: Sequence[ReadOut], now: frozenset[Code]) -> str:
    if code not in now:
        return "gone"
    first = next(i for i, one in enumerate(readings) if code in one.there)
    away = any(code not in one.there or one.after_clearing for one in readings[first + 1 :])
    if away:
        return "returned"
    return "new" if first else "stayed"


def _alike(readings: Sequence[ReadOut]) -> list[ReadOut]:
    """The readings with codes cut to five signs where one of them gives no failure types."""
    bare = {
        code.text for one in readings for code in one.there | one.untested if code.failure is None
    }
    return [
        ReadOut(tuple(_cut(seen, bare) for seen in one.seen), one.after_clearing)
        for one in readings
    ]


def _cut(seen: Seen, bare: set[str]) -> Seen:
    if seen.code.failure is None or seen.code.text not in bare:
        return seen
    return Seen(Code(seen.code.text), seen.line, seen.status, seen.unit, seen.memory, seen.note)


def _sorted(codes: Iterable[Code]) -> tuple[Code, ...]:
    return tuple(sorted(codes, key=lambda code: code.written))
