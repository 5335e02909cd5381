"""Parts that only some answer of a reading asks for: with what chance, and whether ordering them now costs less."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from itertools import product

from witnessmark.book import steps
from witnessmark.book.model import Book
from witnessmark.book.select import decided_by, operations
from witnessmark.kit.lay_out import Kit, PartNeed, parts_of
from witnessmark.planner import MOST_UNKNOWNS, Answer, unknown_name

Yes = frozenset[str]  # unknowns answered yes; the others are answered no


@dataclass(frozen=True, slots=True)
class Perhaps:
    """A part that may be needed beside what surely is, at most ``quantity`` of it.

    ``chance``: how probable it is that any is; ``unknowns``: what decides, the likeliest first; ``terms``: what asks
    for it, an unknown that is answered yes, with "!" before it no.
    """

    part: str
    text: str
    unit: str
    quantity: float
    chance: float
    unknowns: tuple[str, ...]
    terms: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Weighed:
    """What is to be expected, in minor units, of waiting for a part that was not ordered, and of one sent back."""

    waiting_minor: int
    back_minor: int

    @property
    def order(self) -> bool:
        """Whether ordering it now costs less."""
        return self.waiting_minor > self.back_minor


def weigh(chance: float, days: int, delay_minor: Fraction, lost_minor: Fraction) -> Weighed:
    """Not ordered, it is waited for with this chance; ordered, it is sent back with the rest of it.

    ``days`` from order to delivery; ``delay_minor``: what a day's delay costs; ``lost_minor``: what is lost on a part
    sent back. Each to the nearest minor unit, halves up.
    """
    probable = Fraction(repr(chance))
    return Weighed(_nearest(probable * days * delay_minor), _nearest((1 - probable) * lost_minor))


def _nearest(minor: Fraction) -> int:
    return (2 * minor.numerator + minor.denominator) // (2 * minor.denominator)


def set_apart(
    book: Book, laid: Kit, answer: Answer, undecided: Mapping[str, str], brings: Mapping[str, str],
    likely: Mapping[str, float],
) -> tuple[Kit, tuple[Perhaps, ...]]:  # fmt: skip
    """A kit with the parts alone that are surely needed, and those that perhaps are.

    ``undecided``: per operation that a reading will decide its unknown, "!" before it where it takes a no, "|" between
    some of which one will do; all of them, whether or not the plan has them. ``brings``: per job that a reading may
    bring, its unknown. ``likely``: how probable each unknown's yes is. An access step that is done for such operations
    alone uses its parts with them.
    """
    uses = list(_uses(book, answer, undecided, brings))
    extra: dict[str, Fraction] = {}  # of what the plan has of them
    for use in uses:
        for part, quantity in use.parts.items() if use.planned else ():
            extra[part] = extra.get(part, Fraction(0)) + _exact(quantity)
    found = [
        _perhaps(book, part, uses, likely)
        for part in dict.fromkeys(p for u in uses for p in u.parts)
    ]
    sure = [_less(need, extra.get(need.part, Fraction(0))) for need in laid.parts]
    parts = tuple(need for need in sure if need is not None)
    short = {need.part for need in parts if need.missing}
    missing = tuple(m for m in laid.missing if m.kind != "part" or m.name in short)
    return replace(laid, parts=parts, missing=missing), tuple(found)


@dataclass(frozen=True)
class _Use:
    """Parts that are used where ``needed`` says so, by the unknowns that it asks."""

    parts: Mapping[str, float]
    terms: tuple[str, ...]
    unknowns: frozenset[str]
    needed: Callable[[Yes], bool]
    planned: bool  # whether the plan has it


def _uses(
    book: Book, answer: Answer, undecided: Mapping[str, str], brings: Mapping[str, str]
) -> Iterator[_Use]:
    every = operations(book, book.jobs)
    deciders = _Deciders(book, answer, undecided)
    here = {step.name for step in answer.steps}
    for name in undecided:
        yield deciders.use([name], parts_of(book, every[name]), planned=name in here)
    known = steps(book)
    for step in answer.steps:
        if step.kind == "move" and step.for_ and {*step.for_} <= undecided.keys():
            yield deciders.use(step.for_, parts_of(book, known[step.name]), planned=True)
    for job, unknown in brings.items():
        parts: dict[str, float] = {}
        for operation in book.jobs[job].operations.values():
            for part, quantity in parts_of(book, operation).items():
                parts[part] = parts.get(part, 0.0) + quantity
        asked = partial(_is_yes, unknown)
        yield _Use(parts, (unknown,), frozenset({unknown}), asked, planned=False)


def _is_yes(unknown: str, yes: Yes) -> bool:
    return unknown in yes


class _Deciders:
    """Whether an operation is needed: answered so, by a reading that is itself taken."""

    def __init__(self, book: Book, answer: Answer, undecided: Mapping[str, str]) -> None:
        self.undecided, every = undecided, operations(book, book.jobs)
        names = [*undecided, *(step.name for step in answer.steps if step.name in every)]
        self.readers: dict[tuple[str, str], list[str]] = {}
        for operation in undecided:
            for decides in decided_by(every[operation]):
                self.readers[operation, unknown_name(decides)] = [
                    n
                    for n in dict.fromkeys(names)
                    if n != operation and decides.reading in every[n].readings
                ]

    def use(
        self, names: list[str] | tuple[str, ...], parts: Mapping[str, float], *, planned: bool
    ) -> _Use:
        unknowns = frozenset[str]().union(*(self._unknowns(name) for name in names))
        terms = tuple(one for name in names for one in self.undecided[name].split("|"))
        return _Use(
            parts, terms, unknowns, lambda yes: any(self.needed(n, yes) for n in names), planned
        )

    def needed(self, name: str, yes: Yes, behind: frozenset[str] = frozenset()) -> bool:
        """By what is answered; what only steps not done would tell, nobody asks. ``behind``: not looked at again."""
        term = self.undecided.get(name)
        if term is None:
            return True
        behind |= {name}

        def is_so(one: str) -> bool:
            unknown = one.removeprefix("!")
            if (unknown in yes) == one.startswith("!"):
                return False
            readers = [r for r in self.readers.get((name, unknown), []) if r not in behind]
            return not readers or any(self.needed(reader, yes, behind) for reader in readers)

        return any(is_so(one) for one in term.split("|"))

    def _unknowns(self, name: str, behind: frozenset[str] = frozenset()) -> frozenset[str]:
        term = self.undecided.get(name)
        if term is None:
            return frozenset()
        behind |= {name}
        found = frozenset(one.removeprefix("!") for one in term.split("|"))
        readers = (r for one in found for r in self.readers.get((name, one), []) if r not in behind)
        return found.union(*(self._unknowns(reader, behind) for reader in readers))


def _perhaps(book: Book, part: str, uses: list[_Use], likely: Mapping[str, float]) -> Perhaps:
    mine = [use for use in uses if part in use.parts]
    asked = frozenset[str]().union(*(use.unknowns for use in mine))
    unknowns = sorted(asked, key=lambda name: (-likely[name], name))[:MOST_UNKNOWNS]
    chance, most = Fraction(0), Fraction(0)
    for told in product((False, True), repeat=len(unknowns)):
        yes = frozenset(name for name, so in zip(unknowns, told, strict=True) if so)
        amount = sum((_exact(use.parts[part]) for use in mine if use.needed(yes)), Fraction(0))
        if amount:
            most, probable = max(most, amount), Fraction(1)
            for name, so in zip(unknowns, told, strict=True):
                probable *= _exact(likely[name]) if so else 1 - _exact(likely[name])
            chance += probable
    text = book.parts[part]
    terms = tuple(dict.fromkeys(term for use in mine for term in use.terms))
    return Perhaps(part, text.text, text.unit, float(most), float(chance), tuple(unknowns), terms)


def _less(need: PartNeed, extra: Fraction) -> PartNeed | None:
    left = _exact(need.quantity) - extra
    if not extra:
        return need
    if left <= 0:
        return None
    missing = max(0.0, float(left) - need.at_hand) if need.at_hand is not None else 0.0
    return replace(need, quantity=float(left), missing=missing)


def _exact(number: float) -> Fraction:
    return Fraction(repr(number))
