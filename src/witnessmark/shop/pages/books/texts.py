"""Books as text: add a book, change one."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from witnessmark.book import Book, BookError, BookErrors, load_book_text
from witnessmark.book.errors import MORE, MOST_TOLD
from witnessmark.book.figures_written import text_of
from witnessmark.shop import content_store
from witnessmark.shop.forms import SheetForm, in_words
from witnessmark.shop.models import StoredBook
from witnessmark.shop.responses import done, show
from witnessmark.shop.scope import Desk, DeskRequest

MOST_BYTES = 2_000_000
PLACE = re.compile(r"(?P<file>.*?)(?::(?P<line>\d+))?(?: (?P<path>\S.*))?", re.DOTALL)


@dataclass(frozen=True)
class FaultShown:
    """One thing wrong in a text: the line, what stands there, where in the book, what would be right."""

    line: str
    written: str
    path: str
    words: str


class TextForm(SheetForm):
    """A service book as TOML, pasted or as a file; a file goes before what is pasted."""

    file = forms.FileField(label=gettext_lazy("A file"), required=False)
    text = forms.CharField(
        label=gettext_lazy("or its text"),
        required=False,
        strip=False,
        widget=forms.Textarea({"rows": 24, "spellcheck": "false", "autocapitalize": "off"}),
    )
    shown = forms.CharField(widget=forms.HiddenInput, required=False)
    replace = forms.BooleanField(
        label=gettext_lazy("Replace the book of that name"), required=False
    )

    def __init__(
        self, *args: Any, desk: Desk, stored: StoredBook | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.desk, self.stored = desk, stored
        self.faults: list[FaultShown] = []
        self.book: Book | None = None
        self.known = False  # a book of that name is here, and the tick to replace it is asked for

    def clean(self) -> dict[str, Any]:
        """Read the text as a book; everything wrong with it is in `faults`, line by line."""
        said = super().clean() or {}
        file = said.get("file")
        text = self._text_sent(file) if file else said.get("text", "")
        self.data = _with(self.data, self.add_prefix("text"), text)
        said["text"] = text
        if self.errors:
            return said
        if not text.strip():
            raise forms.ValidationError(_("Choose a file, or paste the text of a book."))
        try:
            self.book = load_book_text(text, "line")
        except BookErrors as errors:
            self.faults = [fault_shown(error, text) for error in errors.errors]
            raise forms.ValidationError(_so_many(len(self.faults))) from None
        self._one_of_its_name(self.book)
        return said

    def _text_sent(self, file: UploadedFile) -> str:
        if file.size and file.size > MOST_BYTES:
            self.add_error("file", _("Larger than a service book can be (2 MB)."))
            return str(self.data.get(self.add_prefix("text"), ""))
        try:
            return file.read().decode("utf-8-sig").replace("\r\n", "\n")
        except UnicodeDecodeError:
            self.add_error(
                "file", _("{name} is not text in UTF-8; save it as UTF-8.").format(name=file.name)
            )
            return str(self.data.get(self.add_prefix("text"), ""))

    def _one_of_its_name(self, book: Book) -> None:
        """A book is changed at its own address; another name makes another book."""
        if self.stored is not None and book.name != self.stored.name:
            problem = _(
                "The text is named “{name}”; this book is “{own}”. Add it as a new book instead."
            ).format(name=book.name, own=self.stored.name)
            raise forms.ValidationError(problem)
        if self.stored is None:
            self.known = self.desk.all(StoredBook).filter(name=book.name).exists()
            if self.known and not self.cleaned_data.get("replace"):
                problem = _(
                    "A book named “{name}” is here already. Tick below to replace it."
                ).format(name=book.name)
                raise forms.ValidationError(problem)


@require_http_methods(["GET", "POST"])
def add(request: DeskRequest) -> HttpResponse:
    """Add a book that somebody has written."""
    form = TextForm(request.POST or None, request.FILES or None, desk=request.desk)
    if request.method == "POST" and form.is_valid():
        assert form.book is not None
        stored = content_store.keep_book(request.desk.shop, form.book, form.cleaned_data["text"])
        return done(request, "book", stored.pk, said=_("Saved."))
    return show(request, "books/text.html", {"form": form, "stored": None})


@require_http_methods(["GET", "POST"])
def change(request: DeskRequest, storedbook: UUID) -> HttpResponse:
    """Change the text of a book; what is kept is a new revision."""
    desk = request.desk
    with transaction.atomic():
        stored = desk.get(StoredBook, storedbook, "current")
        text = stored.text or text_of(content_store.book_of(desk.shop, stored.current.sha256))
        form = TextForm(
            request.POST or None,
            request.FILES or None,
            desk=desk,
            stored=stored,
            initial={"text": text, "shown": stored.current.sha256},
        )
        if request.method == "POST" and form.is_valid() and _still(form, stored):
            assert form.book is not None
            content_store.keep_book(desk.shop, form.book, form.cleaned_data["text"])
            return done(request, "book", stored.pk, said=_("Saved."))
    return show(request, "books/text.html", {"form": form, "stored": stored})


def _still(form: TextForm, stored: StoredBook) -> bool:
    """Whether nobody changed the book since the page was shown; a second try then goes over it."""
    if form.cleaned_data["shown"] in ("", stored.current.sha256):
        return True
    form.data = _with(form.data, form.add_prefix("shown"), stored.current.sha256)
    form.add_error(
        None,
        _(
            "Somebody changed this book meanwhile. Compare with it; to replace it by yours, save it again."
        ),
    )
    return False


def fault_shown(error: BookError, text: str) -> FaultShown:
    """An error with the line of the text it is about."""
    found = PLACE.fullmatch(error.place)
    line = (found["line"] or "") if found else ""
    mine = found is not None and found["file"] == "line"
    lines = text.splitlines()
    written = lines[int(line) - 1] if mine and line and int(line) <= len(lines) else ""
    where = f"line {line}" if mine and line else error.place.split(" ")[0]
    return FaultShown(
        where, written.strip(), (found["path"] or "") if found else "", in_words(error)
    )


def _so_many(count: int) -> str:
    return (
        _("One thing is wrong in the text:")
        if count == 1
        else f"{count} things are wrong in the text{f'; {MORE}' if count >= MOST_TOLD else ''}:"
    )


def _with(data: Any, name: str, value: str) -> Any:
    """Posted data with one value put in place, so that the page shows it again."""
    data = data.copy()
    data[name] = value
    return data
