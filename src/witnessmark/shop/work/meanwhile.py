"""What happened since a page was shown: told before its form is recorded, so that nobody records what is not so."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from django.core.exceptions import BadRequest
from django.utils.translation import gettext as _

from witnessmark.ledger.entry import Entry, read_body
from witnessmark.ledger.meanwhile import bearing, newest_of, unseen
from witnessmark.shop import store
from witnessmark.shop.dates import moment_text
from witnessmark.shop.folded import Folded
from witnessmark.shop.models import Visit
from witnessmark.shop.scope import Desk
from witnessmark.shop.work.visit import Work, read, who

NEVER_AGAIN = {"corrected", "returned", "gate_passed"}  # said once is said


class ChangedMeanwhileError(Exception):
    """Something happened since the page was made that bears on what its form says: nothing was recorded.

    `happened` and `sent` in words; `again`: whether the form may still be meant, and is offered once more.
    """

    def __init__(
        self, visit: Visit, happened: Sequence[str], sent: Sequence[str] = (), *, again: bool
    ) -> None:
        super().__init__("; ".join(happened))
        self.visit, self.happened, self.sent, self.again = visit, happened, sent, again


def refuse(
    desk: Desk,
    visit: Visit,
    now: Folded,
    ticket: store.Ticket,
    acts: Iterable[store.EntryDraft],
) -> None:
    """Raise ChangedMeanwhileError where entries that the form's page had not seen bear on its acts.

    `now`: what the visit says; before something is recorded, read while it is locked.
    """
    every = now.entries
    if ticket.seen is None or not unseen(every, ticket.seen):
        return
    acts, table = list(acts), now.whole_table
    said = [read_body(kind, body) for kind, body in acts]
    new = bearing(said, every, ticket.seen, table)
    if new:
        visit.seen = None  # the page that tells it has seen it
        raise ChangedMeanwhileError(
            visit,
            told(desk, read(visit), new),
            [one.in_words(table) for one in said],
            again=not NEVER_AGAIN.intersection(kind for kind, _ in acts),
        )


def since(desk: Desk, work: Work, ticket: store.Ticket) -> ChangedMeanwhileError | BadRequest:
    """All that a page had not seen, where what its form names is not there any more."""
    new = unseen(work.entries, ticket.seen or {})
    if not new:
        return BadRequest(_("This form names what is not open on this visit"))
    return ChangedMeanwhileError(work.visit, told(desk, work, new), again=False)


def answered_already(desk: Desk, work: Work, line: str) -> ChangedMeanwhileError:
    """That a line of an estimate waits for no answer any more, and by which entry."""
    entry = newest_of([("line", line), ("job", line)], work.entries)
    happened = told(desk, work, [entry] if entry else [])
    return ChangedMeanwhileError(work.visit, happened, again=False)


def undone_already(
    desk: Desk, work: Work, entries: Sequence[str]
) -> ChangedMeanwhileError | BadRequest:
    """That entries were taken back before, and by whom; else the form names a part of what belongs together."""
    by_id = {entry.id: entry for entry in work.entries}
    lines = [line for line in work.state.history if line.entry in entries and line.undone]
    if not lines:
        return BadRequest(_("This form names nothing that one tap recorded"))
    undone = dict.fromkeys(line.undone for line in lines if line.undone)
    happened = told(desk, work, [by_id[one] for one in undone])
    return ChangedMeanwhileError(work.visit, happened, again=False)


def told(desk: Desk, work: Work, entries: Iterable[Entry]) -> list[str]:
    """Entries in words, each with who made it and when."""
    names = who(desk)
    words = {line.entry: line.words for line in work.state.history}
    return [
        f"{words[one.id]} ({names.get(one.author, '')}, {moment_text(datetime.fromisoformat(one.at))})"
        for one in entries
    ]
