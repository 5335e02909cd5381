"""Figures as they stand on a visit: the pinned book, and what was proven or corrected over it."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from math import isclose

from witnessmark.book.model import Book, Figure
from witnessmark.ledger.bodies import FigureSet
from witnessmark.ledger.effects import figure_rule
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.state import VisitState
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


def figures_now(story: Story, table: Table) -> FiguresNow:
    """Read the figures from a visit's entries.

    A figure set twice, differently, by entries that did not see each other is unproven and has no
    limits until it is set again.
    """
    rules, over, unmet = dict(table.figures), {}, {}
    changes: list[Write] = []
    writes_of: dict[str, list[Write]] = defaultdict(list)
    for write in story.of(FigureSet):
        writes_of[write[1].figure].append(write)
    for name in [name for name in table.figures if name in writes_of]:
        writes = writes_of[name]
        newest = story.causal.newest(writes, lambda w: w[0])
        over[name] = newest[-1][1]
        rules[name] = _set(table.figures[name], over[name])
        if any(_set(table.figures[name], said) != rules[name] for _, said in newest):
            rules[name] = rules[name].model_copy(update={"state": "unproven", "span": None})
            unmet[name] = tuple(entry for entry, _ in newest)
        changes += [w for w in writes if _changed(w, writes, story, table)]
    return FiguresNow(rules, over, unmet, tuple(changes))


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
            source |= {"vouched": said.vouched or None}
            figures[name] = figures[name].model_copy(update=set_over | source)
    return book.model_copy(update={"figures": figures})
