"""What came in after hand-back, as a letter says it to the owner."""

from __future__ import annotations

from collections.abc import Callable

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from witnessmark.ledger import ids
from witnessmark.ledger.bodies import (
    Done,
    Found,
    Noted,
    Read,
    Skipped,
    Tightened,
    Wont,
    WrenchDoubted,
)
from witnessmark.ledger.body import Body
from witnessmark.ledger.entry import Entry
from witnessmark.shop.work.paperwork.language_and_heading import Pen
from witnessmark.shop.work.paperwork.open_items import thing
from witnessmark.wrenches import per_cent


def came_after(pen: Pen) -> list[str]:
    """Each entry that hand-back did not know of."""
    by_id = {entry.id: entry for entry in pen.work.entries}
    return [_words(pen, by_id[one.entry]) for one in pen.work.state.recalls if one.entry in by_id]


def _words(pen: Pen, entry: Entry) -> str:
    say = _SAY.get(type(entry.said))
    said = say(pen, entry.said) if say else ""
    return said or _("An entry of {time} by {name}").format(
        time=pen.moment(entry.at), name=pen.name(entry.author)
    )


def _doubted(pen: Pen, said: WrenchDoubted) -> str:
    count = len(said.marks)
    words = ngettext(
        "A wrench was found wrong, {share} at most: {count} fastener tightened with it is in doubt",
        "A wrench was found wrong, {share} at most: {count} fasteners tightened with it are in doubt",
        count,
    )
    return words.format(share=pen.number(per_cent(said.found, signed=True)), count=count)


def _tightened(pen: Pen, said: Tightened) -> str:
    words = _("{fastener}: tightened")
    if said.outcome != "ok":
        words = _("{fastener}: kept turning or went past its figure")
    return words.format(fastener=thing(pen, ids.fastener(said.fastener, said.index)))


def _read(pen: Pen, said: Read) -> str:
    reading = pen.work.book.readings.get(said.reading)
    if reading is None:
        return ""
    value = pen.of_book(said.words or "") or said.text
    if said.value is not None:
        value = pen.quantity(said.value, reading.quantity, reading.unit)
    return _("{reading}: {value} read").format(reading=reading.text, value=value)


def _step(pen: Pen, name: str, words: str, how: str = "") -> str:
    step = pen.work.steps.get(name)
    return words.format(step=step.text, how=how) if step else ""


_SAY: dict[type[Body], Callable[..., str]] = {
    WrenchDoubted: _doubted,
    Tightened: _tightened,
    Read: _read,
    Done: lambda pen, said: _step(pen, said.step, _("{step}: done")),
    Skipped: lambda pen, said: _step(pen, said.step, _("{step}: not done")),
    Wont: lambda pen, said: _step(
        pen, said.step, _("{step} could not be done: {how}"), pen.chosen(said.what)
    ),
    Found: lambda _pen, said: _("Found: {text}").format(text=said.text),
    Noted: lambda _pen, said: _("Found: {text}").format(text=said.text),
}
