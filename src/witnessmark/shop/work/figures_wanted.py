"""The figures that a visit's cards ask for, in their order; what is offered for one; what the model's book keeps."""

from __future__ import annotations

import logging
import math
import re
from collections import Counter
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date, datetime

from django.utils import timezone
from django.utils.translation import gettext as _

from witnessmark import units
from witnessmark.book import Book, BookErrors, load_book_text
from witnessmark.book.figures import (
    SAME_AS,
    FigureUse,
    figure_state,
    figures_in_order,
    names_a_source,
)
from witnessmark.book.figures_written import Entries, with_figures
from witnessmark.book.model import Checked, Figure
from witnessmark.book.same_as import same_as
from witnessmark.book.select import used_steps
from witnessmark.book.usual_bounds import usual_of
from witnessmark.ledger.bodies import FigureConfirmed, FigureSet
from witnessmark.shop import content_store
from witnessmark.shop.models import StoredBook
from witnessmark.shop.scope import Desk
from witnessmark.shop.work import planning
from witnessmark.shop.work.visit import Work, who
from witnessmark.units import Quantity, System

log = logging.getLogger(__name__)
PAGE = re.compile(r"(?P<document>.+), page (?P<page>\d.*)")
MOST_OFFERS = 3
SMALL_ML = 250.0  # a usual volume below it begins in mL, whatever was typed last
IN_BOOK = ("value", "low", "high", "tolerance", "source", "vouched", "photo")


@dataclass(frozen=True)
class Offer:
    """A figure that can be taken over: of the model's own book as it is by now, or of a sibling.

    ``key`` names it for the form: the revision it stands in.
    """

    key: str
    title: str
    figure: Figure
    source: str


def figures_wanted(work: Work) -> list[FigureUse]:
    """The figures of the cards, in the order planned (before one is, in that of the book); then the intervals."""
    booked = [job for job in work.state.taken if job in work.book.jobs]
    return figures_in_order(work.book, _steps(work), booked)


def to_come(work: Work) -> list[FigureUse]:
    """Those of them that have no value, or nothing that proves it."""
    return [use for use in figures_wanted(work) if figure_state(use.figure) != "proven"]


def _steps(work: Work) -> list[str]:
    followed = planning.taken(work)
    if followed is not None:
        return [step.name for step in followed.answer.steps]
    jobs = planning.to_do(work) or [job for job in work.state.taken if job in work.book.jobs]
    if not jobs:
        return []
    if planning.is_known(work, jobs):
        made = planning.planned(work, jobs)
        if made.possible:
            return [step.name for step in made.answer.steps]
    return list(used_steps(work.book, jobs))


# ---------------------------------------------------------------- what stands in the form already


def unit_for(work: Work, name: str, system: System) -> str:
    """The unit to begin with: the last one typed on this visit for such a quantity, else the book's, else the usual."""
    quantity = work.book.figures[name].quantity
    usual = usual_of(work.book, name)
    middle = math.sqrt(usual.low * usual.high) if usual else 1.0
    small = "mL" if quantity == "volume" and usual and middle < SMALL_ML else ""
    written = [*reversed(_typed(work, quantity)), *_of_book(work.pinned, quantity)]
    for text in written:
        try:
            unit = units.unit_written(units.read(text, quantity))
        except units.QuantityError:
            continue
        return small if small and unit == "L" else unit
    if quantity == "duration":
        return "months"  # as manuals write intervals: common practice, no source
    return units.usual_unit(middle, quantity, system)


def _typed(work: Work, quantity: Quantity) -> list[str]:
    known = work.book.figures
    return [
        said.value or said.low or ""
        for said in _sets(work)
        if said.figure in known and known[said.figure].quantity == quantity
    ]


def _of_book(book: Book, quantity: Quantity) -> list[str]:
    every = [f.value or f.low or "" for f in book.figures.values() if f.quantity == quantity]
    return [one for one in every if one][:1]


def document_for(work: Work) -> str:
    """The document read last on this visit, else the one that the book's figures name most."""
    of_visit = [_document(said.source) for said in _sets(work)]
    if newest := next(filter(None, reversed(of_visit)), ""):
        return newest
    of_book = Counter(_document(f.source or "") for f in work.pinned.figures.values())
    del of_book[""]
    return of_book.most_common(1)[0][0] if of_book else ""


def parts_of_source(source: str) -> tuple[str, str]:
    """Document and page."""
    hit = PAGE.fullmatch(source)
    return (hit["document"], hit["page"]) if hit else (source, "")


def _document(source: str) -> str:
    return "" if source.startswith(SAME_AS) else parts_of_source(source)[0]


def _sets(work: Work) -> list[FigureSet]:
    """Every figure set on this visit, also where it was taken back."""
    return [entry.said for entry in work.entries if isinstance(entry.said, FigureSet)]


# ---------------------------------------------------------------- the same as another


def offers(desk: Desk, work: Work, name: str) -> list[Offer]:
    """What can be taken over for a figure: what the model's book says by now, then what siblings say."""
    rows = {row.name: row.current.sha256 for row in desk.all(StoredBook).select_related("current")}
    books = {key: content_store.book_of(desk.shop, key) for key in rows.values()}
    here = work.book.figures[name]
    found = []
    own = rows.get(work.pinned.name, "")
    since = books[own].figures.get(name) if own else None
    if since is not None and figure_state(since) == "proven":
        found.append(Offer(own, books[own].title, since, since.source or ""))
    found += [
        Offer(rows[one.book.name], one.book.title, one.figure, one.source)
        for one in same_as(work.book, name, books.values())
    ]
    # nothing that stands here already, and not the same twice
    new = {
        (one.figure.written, one.source): one for one in found if one.figure.written != here.written
    }
    return list(new.values())[:MOST_OFFERS]


# ---------------------------------------------------------------- what the model has for good


def kept_otherwise(work: Work, name: str, *, proven: bool) -> Figure | None:
    """The figure as the model's book has it by now, where this visit does not change that.

    It has another source by now than this visit knew; or a source, where what is entered here has none.
    """
    book = _of_model(work)
    there = book.figures.get(name) if book else None
    if there is None or figure_state(there) != "proven":
        return None
    before = work.pinned.figures.get(name)
    ours = {before.written} if before else set()
    ours |= {written_of(said) for said in _sets(work) if said.figure == name}
    return there if not proven or there.written not in ours else None


def stands_in_book(work: Work, name: str, written: str) -> bool:
    """Whether the model's book has the figure so by now."""
    book = _of_model(work)
    return book is not None and name in book.figures and book.figures[name].written == written


def keep_in_book(desk: Desk, work: Work, name: str, entries: Entries) -> None:
    """A new revision of the model's book with these entries of a figure; the visit keeps the one it pinned."""
    row = desk.all(StoredBook).select_for_update().filter(name=work.pinned.name).first()
    if row is None or row.pk != work.machine.book_id:
        return
    now = content_store.book_of(desk.shop, row.current.sha256)
    if name not in now.figures:
        return
    text = with_figures(content_store.text_of(row), {name: entries})
    try:
        book = load_book_text(text, row.name)
    except BookErrors:  # its text does not load any more, which its own page tells
        log.exception("the figure %s of %s is kept by the visit alone", name, work.visit)
        return
    content_store.keep_book(desk.shop, book, text)


def in_book(said: FigureSet, by: str, on: date) -> dict[str, str | Checked | None]:
    """The entries of a figure as somebody typed it, and nothing of what stood there before."""
    entries: dict[str, str | Checked | None] = {key: getattr(said, key) or "" for key in IN_BOOK}
    me = Checked(by=by, on=on)  # typed from the page just read: that is what comparing it is
    read_here = names_a_source(said.source)
    return entries | {"entered": me, "checked": me if read_here else None, "confirmed": None}


def take_back(desk: Desk, work: Work, taken: Collection[str]) -> None:
    """What these entries gave the model's book is taken out of it: the visit's figure before that stands again."""
    for entry in work.entries:
        said = entry.said
        if entry.id not in taken:
            continue
        if isinstance(said, FigureConfirmed) and stands_in_book(work, said.figure, said.of):
            keep_in_book(desk, work, said.figure, {"confirmed": None})
        elif isinstance(said, FigureSet) and stands_in_book(work, said.figure, written_of(said)):
            keep_in_book(desk, work, said.figure, _before(desk, work, said.figure, taken))


def _before(desk: Desk, work: Work, name: str, taken: Collection[str]) -> Entries:
    left = [
        (entry, entry.said)
        for entry in work.standing
        if isinstance(entry.said, FigureSet) and entry.said.figure == name and entry.id not in taken
    ]
    if left:
        entry, said = left[-1]
        day = timezone.localdate(datetime.fromisoformat(entry.at))
        return in_book(said, who(desk).get(entry.author, "") or "not named", day)
    pinned = work.pinned.figures[name]
    words = {key: getattr(pinned, key) or "" for key in IN_BOOK}
    return words | {key: getattr(pinned, key) for key in ("entered", "checked", "confirmed")}


def _of_model(work: Work) -> Book | None:
    row = work.machine.book
    if row is None or row.name != work.pinned.name:
        return None
    return content_store.book_of(row.shop, row.current.sha256)


def written_of(said: FigureSet) -> str:
    """A figure that an entry set, as it is written. Example: ``25 N·m ± 2 N·m``."""
    given = said.model_dump(include={"value", "low", "high", "tolerance"})
    return Figure(text="figure", quantity="words", **given).written


# ---------------------------------------------------------------- a second pair of eyes


def typed_by(desk: Desk, work: Work, name: str) -> str:
    """Who typed a figure as it stands; empty where that is not known."""
    if name in work.state.figures_set:
        return who(desk).get(work.state.figures_set[name].author, "")
    figure = work.book.figures[name]
    return figure.entered.by if figure.entered else ""


def typed_it(desk: Desk, work: Work, name: str) -> bool:
    """Whether whoever looks typed the figure as it stands."""
    if name in work.state.figures_set:
        return work.state.figures_set[name].author == str(desk.member.pk)
    entered = work.book.figures[name].entered
    return entered is not None and entered.by == str(desk.member)


def seen_twice(work: Work, name: str, names: dict[str, str]) -> tuple[str, date] | None:
    """Who confirmed a figure as it stands, and on which day; on this visit, else as the book has it."""
    if one := work.state.figures_seen_twice.get(name):
        day = timezone.localdate(datetime.fromisoformat(one.at))
        return names.get(one.author, ""), day
    figure = work.book.figures.get(name)
    kept = figure.seen_twice if figure else None
    return (kept.by, kept.on) if kept else None


def steps_in_words(work: Work, use: FigureUse) -> Iterator[str]:
    """What a figure is for: the words of its steps; of an interval, those of its jobs."""
    again = _("due again: {job}")
    yield from dict.fromkeys(
        work.steps[one].text if one in work.steps else again.format(job=work.book.jobs[one].text)
        for one in use.where
    )
