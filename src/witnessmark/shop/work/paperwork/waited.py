"""What was waited for, as papers say it: from when to when, or when and why it was broken off."""

from __future__ import annotations

from collections.abc import Collection

from django.utils.translation import gettext as _

from witnessmark.ledger.bodies import Done, WaitBegun, WaitStopped
from witnessmark.ledger.entry import Entry
from witnessmark.shop.work.paperwork.language_and_heading import Pen


def waited(pen: Pen, steps: Collection[str]) -> list[str]:
    """The waits of some steps in one line. Example: ``Waited: oil runs out, 14:05 to 14:17``.

    Of one ended in the minute that it was begun only the reason is told, where one was given: nobody waited.
    """
    begun: dict[str, Entry] = {}
    said_of: list[str] = []
    for entry in pen.work.standing:
        said = entry.said
        if isinstance(said, WaitBegun):
            begun[said.step] = entry
        elif isinstance(said, Done | WaitStopped) and said.step in {*steps}:
            began = begun.pop(said.step, None)
            if began is None or said.step not in pen.work.steps:
                continue
            stopped = isinstance(said, WaitStopped)
            if stopped or pen.clock(began.at) != pen.clock(entry.at):
                said_of.append(_one(pen, began, entry))
    return [_("Waited: {waits}").format(waits="; ".join(said_of))] if said_of else []


def begun_at(pen: Pen, step: str) -> str:
    """When the wait that runs was begun. Example: ``begun 14:05``; empty where none runs."""
    now = pen.work.state.steps.get(step)
    if now is None or now.status != "waiting":
        return ""
    return _("begun {time}").format(time=pen.clock(now.at))


def _one(pen: Pen, began: Entry, ended: Entry) -> str:
    said = began.said
    assert isinstance(said, WaitBegun)
    step = pen.work.steps[said.step]
    words = _("{what}, {began} to {ended}")
    if isinstance(ended.said, WaitStopped):
        words = _("{what}, {began} to {ended}, broken off: {why}")
    return words.format(
        what=step.waits_for or step.text,
        began=pen.clock(began.at),
        ended=pen.clock(ended.at),
        why=getattr(ended.said, "because", ""),
    )
