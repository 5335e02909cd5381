"""The figures sheet as a form: each figure with its value, its source, and whether it was compared with it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any
from uuid import UUID

from django import forms
from django.core.exceptions import BadRequest
from django.db import transaction
from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_http_methods

from witnessmark import units
from witnessmark.book import Book, BookErrors, load_book_text
from witnessmark.book.figures_form import KINDS, to_fill_in
from witnessmark.book.figures_written import Entries, text_of, with_figures
from witnessmark.book.model import ENTRIES, Checked
from witnessmark.book.plausible import Plausibility, look_at
from witnessmark.shop import content_store
from witnessmark.shop.dates import day_text
from witnessmark.shop.forms import SheetForm, in_words
from witnessmark.shop.models import BookRevision, StoredBook
from witnessmark.shop.pages.books.views import FigureLine, lines_by_job, shown
from witnessmark.shop.responses import done, show
from witnessmark.shop.scope import Desk, DeskRequest
from witnessmark.shop.work.figure_from_manual import VOUCH

KEYS = ("value", "low", "high", "tolerance", "source")
LABELS = {
    "value": gettext_lazy("Figure"),
    "low": gettext_lazy("At least"),
    "high": gettext_lazy("At most"),
    "tolerance": gettext_lazy("Tolerance"),
}
PAGE = re.compile(r"(?:p(?:age|p)?\.?\s*)?(\d+(?:\s*[-–]\s*\d+)?)", re.IGNORECASE)
IN_ERROR = re.compile(r" figures\.([a-z0-9_]+)(?:\.(\w+))?")


@dataclass(frozen=True)
class FigureEntry:
    """One figure on the page: what it is, the fields it needs, and those it may have."""

    line: FigureLine
    kind: str  # what to write
    fields: list[forms.BoundField]
    more: list[forms.BoundField]
    looks: list[Plausibility]  # what the values typed look like
    vouched: forms.BoundField

    @property
    def faulty(self) -> bool:
        """Whether one of the fields that are folded away has a fault."""
        return any(field.errors for field in self.more)


@dataclass(frozen=True)
class FigureGroup:
    """The figures that a job is the first to use, and how many of them want something."""

    heading: str
    entries: list[FigureEntry]
    missing: int
    unproven: int
    open: bool


class FiguresForm(SheetForm):
    """All figures of a book. `shown`: the revision the page showed, so that only what was changed counts."""

    document = forms.CharField(
        label=gettext_lazy("The document you read from"),
        required=False,
        max_length=200,
        help_text=gettext_lazy(
            "“Workshop manual, 2nd edition”. Then the page is enough beside a figure."
        ),
    )
    by = forms.CharField(label=gettext_lazy("Compared with it by"), required=False, max_length=80)
    shown = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, book: Book, look_path: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.book = book
        for name, figure in book.figures.items():
            for key in KEYS:
                self.fields[f"{key}-{name}"] = forms.CharField(
                    label=LABELS.get(key, _("Source")),
                    required=False,
                    max_length=400,
                    initial=getattr(figure, key) or "",
                    widget=forms.TextInput({"autocomplete": "off"} | _asks(look_path, key, name)),
                )
            self.fields[f"vouched-{name}"] = forms.CharField(
                label=VOUCH,
                required=False,
                max_length=400,
                initial=figure.vouched or "",
                widget=forms.TextInput({"autocomplete": "off"}),
            )
            self.fields[f"checked-{name}"] = forms.BooleanField(
                label=_compared(figure.checked),
                required=False,
                initial=figure.checked is not None,
            )

    def groups(self) -> list[FigureGroup]:
        """The figures under the job that first uses them. Open: what has a fault, else the first with a gap."""
        made = []
        for heading, lines in lines_by_job(self.book):
            entries = [self._entry(line) for line in lines]
            faulty = any(field.errors for e in entries for field in (*e.fields, *e.more, e.vouched))
            missing = sum(line.state == "missing" for line in lines)
            unproven = sum(line.state == "unproven" for line in lines)
            made.append(FigureGroup(heading, entries, missing, unproven, faulty))
        first = next((group for group in made if group.missing or group.unproven), None)
        if first and not any(group.open for group in made):
            made[made.index(first)] = replace(first, open=True)
        return made

    def _entry(self, line: FigureLine) -> FigureEntry:
        first = list(to_fill_in(self.book, line.id))
        if line.figure.low or line.figure.high:
            first = [key for key in ("value", "low", "high") if getattr(line.figure, key)]
        folded = [key for key in KEYS[:4] if key not in first and line.figure.quantity != "words"]
        fields = [self[f"{key}-{line.id}"] for key in (*first, "source")]
        return FigureEntry(
            line=line,
            kind=KINDS[line.figure.quantity],
            fields=[*fields, self[f"checked-{line.id}"]],
            more=[self[f"{key}-{line.id}"] for key in folded],
            looks=self.looks(line.id),
            vouched=self[f"vouched-{line.id}"],
        )

    def looks(self, name: str) -> list[Plausibility]:
        """How the values typed for a figure look; one that has no objection stands for the others."""
        typed = {key: str(self[f"{key}-{name}"].value() or "") for key in ENTRIES}
        return told(look_at(self.book, name, key, text) for key, text in typed.items())

    def changes(self) -> dict[str, Entries]:
        """What was changed on the page, figure by figure."""
        found = {name: self._changed(name) for name in self.book.figures}
        return {name: entries for name, entries in found.items() if entries}

    def _changed(self, name: str) -> dict[str, Any]:
        figure, said = self.book.figures[name], self.cleaned_data
        entries: dict[str, Any] = {}
        for key in (*KEYS, "vouched"):
            typed = said[f"{key}-{name}"].strip()
            if key == "source":
                typed = self._source(typed)
            if typed != (getattr(figure, key) or ""):
                entries[key] = typed
        ticked, before = said[f"checked-{name}"], figure.checked is not None
        if ticked and (entries or not before):  # compared anew
            entries["checked"] = Checked(by=said["by"] or "not named", on=timezone.localdate())
        elif before and not ticked:
            entries["checked"] = None
        return entries

    def _source(self, typed: str) -> str:
        """A bare page is of the document named at the top."""
        page = PAGE.fullmatch(typed)
        document = self.cleaned_data["document"].strip().rstrip(",")
        return f"{document}, page {page[1]}" if page and document else typed

    def clean(self) -> dict[str, Any]:
        """A figure that was compared with its source has a source; and somebody compared it."""
        said = super().clean() or {}
        for name in self.book.figures:
            if said.get(f"checked-{name}") and not said.get(f"source-{name}"):
                self.add_error(
                    f"source-{name}", _("Compared with what? Write the document and page.")
                )
            self._look_again(name, said)
        return said

    def _look_again(self, name: str, said: dict[str, Any]) -> None:
        """A value that was changed and looks wrong is kept on somebody's word alone; a word speaks of its value."""
        figure, looks = self.book.figures[name], self.looks(name)
        changed = any(said.get(f"{key}-{name}") != (getattr(figure, key) or "") for key in ENTRIES)
        doubted = next((look for look in looks if look.doubtful), None)
        word = said.get(f"vouched-{name}", "").strip()
        if doubted is None:
            said[f"vouched-{name}"] = ""
        elif changed and not word:
            again = _("Nothing is saved yet: correct it, or say below why it is right.")
            self.add_error(f"{doubted.key}-{name}", f"{doubted.words} {again}")
        elif changed and word == figure.vouched:
            self.add_error(
                f"vouched-{name}",
                _("Your reason was for another value. Give it again for this one."),
            )


@require_GET
def look(request: DeskRequest, storedbook: UUID) -> HttpResponse:
    """How a figure looks as it is typed: what was understood, and what speaks against it. Writes nothing."""
    stored = request.desk.get(StoredBook, storedbook, "current")
    book = content_store.book_of(request.desk.shop, stored.current.sha256)
    name = request.GET.get("figure", "")
    if name not in book.figures:
        raise BadRequest(_("the service book has no such figure"))
    typed = {key: request.GET.get(f"{key}-{name}", "").strip()[:200] for key in ENTRIES}
    context = {
        "name": name,
        "looks": told(look_at(book, name, key, text) for key, text in typed.items()),
        "understood": [
            words for text in typed.values() if (words := _understood(book, name, text))
        ],
        "word": request.GET.get(f"vouched-{name}", "")[:400],
        "label": VOUCH,
    }
    return show(request, "books/look.html", context)


@require_http_methods(["GET", "POST"])
def sheet(request: DeskRequest, storedbook: UUID) -> HttpResponse:
    """Fill in the figures; what is kept is a new revision. Visits keep the revision they pinned."""
    stored = request.desk.get(StoredBook, storedbook, "current")
    book = _book_shown(request, stored)
    form = FiguresForm(
        request.POST or None,
        book=book,
        look_path=reverse("book-look", args=[stored.pk]),
        initial={"by": str(request.desk.member), "shown": stored.current.sha256},
    )
    if request.method == "POST" and form.is_valid() and _kept(request.desk, stored, form):
        return done(request, "book", stored.pk, said=_("Saved as a new revision."))
    context = {
        "form": form,
        "stored": stored,
        "about": shown(request.desk, stored),
        "groups": form.groups(),
    }
    return show(request, "books/figures.html", context)


def _book_shown(request: DeskRequest, stored: StoredBook) -> Book:
    """The revision that the page showed: of the form where one was sent, else the current."""
    asked = request.POST.get("shown", "")
    known = request.desk.all(BookRevision).filter(sha256=asked).exists()
    book = content_store.book_of(request.desk.shop, asked if known else stored.current.sha256)
    expected = book if book.name == stored.name else None
    return expected or content_store.book_of(request.desk.shop, stored.current.sha256)


@transaction.atomic
def _kept(desk: Desk, stored: StoredBook, form: FiguresForm) -> bool:
    """Write what was changed into the text as it stands now, and keep it if it is a sound book."""
    changes = form.changes()
    if not changes:
        return True
    now = desk.all(StoredBook).select_for_update().get(pk=stored.pk)
    text = now.text or text_of(content_store.book_of(desk.shop, now.current.sha256))
    text = with_figures(text, changes)
    try:
        book = load_book_text(text, stored.name)
    except BookErrors as errors:
        _tell(form, errors)
        return False
    content_store.keep_book(desk.shop, book, text)
    return True


def _tell(form: FiguresForm, errors: BookErrors) -> None:
    """Each error beside its field; what has none above the form."""
    for error in errors.errors:
        at = IN_ERROR.search(error.place)
        field = f"{at[2] or 'value'}-{at[1]}" if at else ""
        if field in form.fields:
            form.refuse(error, field)
        else:
            form.add_error(None, f"{error.place}: {in_words(error)}")


def told(looks: Iterable[Plausibility | None]) -> list[Plausibility]:
    """Every doubt; else the first thing there is to say."""
    there = [look for look in looks if look is not None]
    return [look for look in there if look.doubtful] or there[:1]


def _understood(book: Book, name: str, text: str) -> str:
    """What was taken from a text, in the base unit where it was written in another; what is wrong with it."""
    quantity = book.figures[name].quantity
    if not text or quantity == "words":
        return ""
    try:
        amount = units.read(text, quantity)
    except units.QuantityError as error:
        return in_words(error)
    shown = units.show(amount.value, quantity)
    if shown == amount.understood:
        return _("Read as {understood}.").format(understood=shown)
    return _("Read as {understood}, that is {shown}.").format(
        understood=amount.understood, shown=shown
    )


def _asks(look_path: str, key: str, name: str) -> dict[str, str]:
    """What lets a field ask how its value looks, as one types."""
    if not look_path or key not in ENTRIES:
        return {}
    fields = ",".join(f"[name='{each}-{name}']" for each in (*ENTRIES, "vouched"))
    return {
        "hx-get": f"{look_path}?figure={name}",
        "hx-trigger": "input changed delay:400ms, change",
        "hx-target": f"#look-{name}",
        "hx-include": fields,
        "hx-sync": "this:replace",
    }


def _compared(checked: Checked | None) -> str:
    if checked is None:
        return _("I compared it with its source")
    return _("Compared by {by} on {day}").format(by=checked.by, day=day_text(checked.on))
