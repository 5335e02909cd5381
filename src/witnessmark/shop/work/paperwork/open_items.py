"""What is open, as a paper says it: the thing by the words of the book, and how it stands."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from witnessmark.ledger.fastener_effects import SECURED_WORDS
from witnessmark.ledger.gates import alike
from witnessmark.ledger.ids import ItemId
from witnessmark.ledger.state import OpenItem
from witnessmark.shop.work import hand_back
from witnessmark.shop.work.beyond_book import words_of
from witnessmark.shop.work.paperwork.findings import (
    declined_in,
    finding_of,
    finding_words,
)
from witnessmark.shop.work.paperwork.language_and_heading import Pen

_CONFLICT = noop("two entries differ: it has to be looked at again")
_NOT_SHOWN = noop("not shown yet")
_HOW: dict[str, dict[str, str]] = {
    "fastener": {
        "snug": noop("seated, not tightened to its figure"),
        "turned": noop("kept turning or went past its figure"),
        "void": noop("its figure was corrected: to be tightened again"),
        "doubt": noop("the wrench was found wrong: to be tightened again"),
        "": noop("not shown tight"),
    },
    "thread": {"": noop("kept turning or went past its figure")},
    "renewal": {"": noop("disturbed, no new one fitted")},
    "reading": {"": noop("not read")},
    "outside": {"": noop("outside its limits")},
    "codes": {"": noop("to be read again after the work")},
    "walk round": {"": noop("not done since something was last opened")},
    "second look": {"": noop("not done yet")},
    "ride": {"": noop("worked on since: to be ridden again")},
    "job": {"": noop("agreed, not done yet")},
    "finding": {"": noop("no answer yet")},
    "wont": {"": noop("no answer yet")},
    "wait": {"": noop("its wait was begun, and is not ended")},
    "complaint": {"": noop("no answer yet")},
    "figure": {"": noop("worked without a figure from the manual")},
}


def lines(pen: Pen, items: Iterable[OpenItem]) -> list[str]:
    """Open items as lines: fasteners of one group that stand alike share one."""
    return [line(pen, group) for group in alike(items)]


def line(pen: Pen, group: Sequence[OpenItem]) -> str:
    """Items that stand alike as one. Example: ``Wheel bolt, 2, 4 of 5: not shown tight``."""
    return f"{thing(pen, *(item.id for item in group))}: {_how(pen, group[0])}"


def thing(pen: Pen, *ids: str) -> str:
    """What an item is about; of several fasteners of one group, which of them."""
    keys = [ItemId(one) for one in ids]
    if keys[0].kind in ("fastener", "thread", "round", "still", "secured"):
        return _fastener(pen, keys)
    say = _THINGS.get(keys[0].kind)
    return say(pen, keys[0]) if say else _unknown()


def looked_at(pen: Pen, item: str) -> str:
    """What a second look is at."""
    return hand_back.looked_at(pen.work, ItemId(item)) or _unknown()


# ---------------------------------------------------------------- parts


def _fastener(pen: Pen, keys: Sequence[ItemId]) -> str:
    key, kind = keys[0], keys[0].kind
    one = pen.work.book.fasteners.get(key.name)
    if one is None:
        return _("a fastener that the book does not have")
    if kind == "secured":
        return f"{one.text}: {pen.chosen(SECURED_WORDS[one.secured_by or 'stripe'])}"
    if kind == "still":
        return _("{fastener}: the last round").format(fastener=one.text)
    which = ", ".join(str(each.place) for each in keys)
    said = one.text
    if len(keys) == one.count > 1:
        said = _("{fastener}, all {count}").format(fastener=one.text, count=one.count)
    elif one.count > 1:
        said = _("{fastener}, {which} of {count}").format(
            fastener=one.text, which=which, count=one.count
        )
    if kind == "round":
        return _("{fastener}, round {number}").format(fastener=said, number=key.round)
    return _("Thread of: {fastener}").format(fastener=said) if kind == "thread" else said


def _unknown() -> str:
    return _("an entry that has to be looked at")


def _text(table: Mapping[str, Any], name: str) -> str:
    one = table.get(name)
    return str(one.text) if one else _unknown()


def _circuit(pen: Pen, key: ItemId) -> str:
    circuit = pen.work.book.circuits.get(key.name)
    if circuit is None or key.requirement not in circuit.closed_by:
        return _unknown()
    return f"{circuit.text}: {pen.chosen(circuit.closed_by[key.requirement].text)}"


def _finding(pen: Pen, key: ItemId) -> str:
    found = finding_of(pen, key.name)
    return finding_words(pen, found) if found else _unknown()


def _complaint(pen: Pen, _key: ItemId) -> str:
    said = pen.work.state.complaint
    return _("Complaint “{words}”").format(words=said.words if said else "")


def _differs(pen: Pen, key: ItemId) -> str:
    """What two entries that did not see each other differ in: a step, or the answer to a line."""
    step = key.about == "step"
    return _text(pen.work.steps, key.name) if step else words_of(pen.work, key.name)


_THINGS: dict[str, Callable[[Pen, ItemId], str]] = {
    "circuit": _circuit,
    "renewal": lambda pen, key: _text(pen.work.book.renewals, key.name),
    "reading": lambda pen, key: _text(pen.work.book.readings, key.name),
    "outside": lambda pen, key: _text(pen.work.book.readings, key.name),
    "condition": lambda pen, key: _text(pen.work.book.conditions, key.name),
    "figure": lambda pen, key: _text(pen.work.book.figures, key.name),
    "second look": lambda pen, key: _("Second look: {what}").format(what=looked_at(pen, key)),
    "finding": _finding,
    "wont": _finding,
    "wait": lambda pen, key: _text(pen.work.steps, key.name),
    "job": lambda pen, key: words_of(pen.work, key.name),
    "complaint": _complaint,
    "conflict": _differs,
    "walk round": lambda _pen, _key: _("Walk round the machine, tools and rags counted"),
    "codes": lambda _pen, _key: _("Trouble codes"),
    "ride": lambda _pen, _key: _("Road test"),
}


def _how(pen: Pen, item: OpenItem) -> str:
    if item.stands == "conflict":
        return _(_CONFLICT)
    if item.kind == "condition":
        return _must_be(pen, item.key.name)
    if item.kind in ("finding", "wont"):
        found = finding_of(pen, item.key.name)
        if found and declined_in(pen.work, found):
            return _("told and declined")
    ways = _HOW.get(item.kind, {})
    return _(ways.get(item.stands) or ways.get("") or _NOT_SHOWN)


def _must_be(pen: Pen, name: str) -> str:
    condition = pen.work.book.conditions.get(name)
    if condition is None:
        return _("not shown yet")
    now, must = pen.work.state.states.get(name, condition.start), hand_back.finish(pen.work, name)
    words = (condition.state_words.get(state, pen.of_book(state)) for state in (now, must))
    return _("is {now}, must be {must}").format(**dict(zip(("now", "must"), words, strict=True)))
