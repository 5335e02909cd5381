"""Figures as they stand on a visit: the pinned book, and what was proven or corrected over it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from math import isclose

from witnessmark.book.model import Book, Figure
from witnessmark.ledger.bodies import FigureConfirmed, FigureSet
from witnessmark.ledger.effects import figure_rule
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.state import Signed, VisitState
from witnessmark.ledger.story import Story
from witnessmark.ledger.table import FigureRule, Table

Write = tuple[Entry, FigureSet]


@dataclass(frozen=True)
class FiguresNow:
    """All figures as they stand; which were set; which sets changed what work rested on."""

    rules: dict[str, FigureRule]
    over: dict[str, FigureSet]
    unmet: dict[str, tuple[Entry, ...]]  # differing sets that did not see each other
    changes: tuple[Write, ...]
    signed: dict[str, Signed]  # who set them
    seen_twice: dict[str, Signed]  # confirmed as they stand, by somebody who did not set them


def figures_now(story: Story, table: Table) -> FiguresNow:
    """Read the figures from a visit's entries.

    A figure set twice, differently, by entries that did not see each other is unproven and has no
    limits until it is set again.
    """
    rules, over, unmet = dict(table.figures), {}, {}
    changes: list[Write] = []
    signed: dict[str, Signed] = {}
    writes_of: dict[str, list[Write]] = defaultdict(list)
    for write in story.of(FigureSet):
        writes_of[write[1].figure].append(write)
    for name in [name for name in table.figures if name in writes_of]:
        writes = writes_of[name]
        newest = story.causal.newest(writes, lambda w: w[0])
        over[name] = newest[-1][1]
        signed[name] = Signed(author=newest[-1][0].author, at=newest[-1][0].at)
        rules[name] = _set(table.figures[name], over[name])
        if any(_set(table.figures[name], said) != rules[name] for _, said in newest):
            rules[name] = rules[name].model_copy(update={"state": "unproven", "span": None})
            unmet[name] = tuple(entry for entry, _ in newest)
        changes += [w for w in writes if _changed(w, writes, story, table)]
    seen = {
        said.figure: Signed(author=entry.author, at=entry.at)
        for entry, said in story.of(FigureConfirmed)
        if said.figure in rules
        and said.figure not in unmet
        and said.of == rules[said.figure].written
        and _by_another(entry, said, writes_of[said.figure], story, table)
    }
    return FiguresNow(rules, over, unmet, tuple(changes), signed, seen)


def _by_another(
    entry: Entry, said: FigureConfirmed, writes: Sequence[Write], story: Story, table: Table
) -> bool:
    """Whether none of its authors typed what it confirms, and it was not something else in between."""
    rule = table.figures[said.figure]
    return all(
        write.author != entry.author
        if _set(rule, typed).written == said.of
        else story.causal.before(write, entry)
        for write, typed in writes
    )


def _set(rule: FigureRule, said: FigureSet) -> FigureRule:
    return figure_rule(
        Figure(
            text=rule.words,
            quantity=rule.quantity,
            value=said.value,
            low=said.low,
            high=said.high,
            tolerance=said.tolerance,
            source=said.source,
        )
    )


def _changed(write: Write, writes: list[Write], story: Story, table: Table) -> bool:
    """Whether it gives another quantity than what was known to it; nothing rests on a missing one."""
    rule = table.figures[write[1].figure]
    known = [w for w in writes if story.causal.before(w[0], write[0])]
    before = [_set(rule, said) for _, said in story.causal.newest(known, lambda w: w[0])] or [rule]
    now = _set(rule, write[1])
    return any(old.state != "missing" and not _same(old, now) for old in before)


# Handbooks round when they print a torque in two units: 60 N·m beside 44 lbf·ft, 0.6 % apart.
SAME_WITHIN = 0.01


def _same(old: FigureRule, now: FigureRule) -> bool:
    """Whether both say one quantity, however written. New limits around it judge the marks anew."""
    if old.span is None or now.span is None:
        return old.span == now.span and old.written == now.written
    if old.span.value is not None and now.span.value is not None:
        return isclose(old.span.value, now.span.value, rel_tol=SAME_WITHIN)
    return old.span == now.span


def book_with_overlay(book: Book, state: VisitState) -> Book:
    """The pinned book with the figures proven or corrected on this visit."""
    figures = dict(book.figures)
    for name, said in state.figures.items():
        if name in figures:
            set_over = said.model_dump(include={"value", "low", "high", "tolerance"})
            source = {"source": said.source or None, "checked": None}
            source |= {"vouched": said.vouched or None, "photo": said.photo}
            source |= {"entered": None, "confirmed": None}
            figures[name] = figures[name].model_copy(update=set_over | source)
    return book.model_copy(update={"figures": figures})
