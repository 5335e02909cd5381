"""Books to and from other shops: make the signed file; look at one that came, and take in what is wanted of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import BadRequest
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.http import HttpResponse, QueryDict
from django.utils import timezone
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from witnessmark.book import BookErrors
from witnessmark.book.parcel import MOST_BOOKS, MOST_BYTES, ParcelError, fingerprint
from witnessmark.errors import WitnessError
from witnessmark.shop.forms import ChoiceTiles, SheetForm, in_words
from witnessmark.shop.models import KnownSender, StoredBook
from witnessmark.shop.responses import UNPROCESSABLE, done, show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import books_sent
from witnessmark.shop.work.books_sent import BookLook, Looked

THEIRS = "theirs"


class SendForm(SheetForm):
    """Which books go into the file."""

    book = forms.MultipleChoiceField(
        label=gettext_lazy("Books"),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": gettext_lazy("Which? Tick at least one.")},
    )

    pages = forms.BooleanField(
        label=gettext_lazy("With the photos of the pages that figures were read on"),
        required=False,
        initial=True,
        help_text=gettext_lazy("A page belongs to its publisher: send it where the law lets you."),
    )

    def __init__(self, *args: Any, books: list[StoredBook], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["book"].choices = [(str(one.pk), one.title) for one in books]  # type: ignore[attr-defined]

    def clean_book(self) -> list[str]:
        """No more than a file holds."""
        keys: list[str] = self.cleaned_data["book"]
        if len(keys) > MOST_BOOKS:
            raise forms.ValidationError(
                _("A file holds at most {count} books; make two.").format(count=MOST_BOOKS)
            )
        return keys


@require_http_methods(["GET", "POST"])
def send(request: DeskRequest) -> HttpResponse:
    """Make one signed file of some books, to be sent to another shop by whatever way."""
    desk = request.desk
    books = list(desk.all(StoredBook).select_related("current"))
    posted = request.method == "POST"
    form = SendForm(
        request.POST if posted else None, books=books, initial={"book": request.GET.getlist("book")}
    )
    pages = bool(form.is_bound and form.is_valid() and form.cleaned_data["pages"])
    if posted and form.is_valid():
        chosen = [one for one in books if str(one.pk) in form.cleaned_data["book"]]
        now = timezone.now()
        try:
            raw, left_out = books_sent.file_of(desk.member, chosen, now, pages=pages)
        except (BookErrors, ParcelError) as error:
            form.refuse(error)
        else:
            if left_out:
                words = _("{n} photos of pages had no room in the file: send fewer books in one.")
                messages.warning(request, words.format(n=left_out))
            name = f"books-{slugify(desk.shop.name) or 'shop'}-{timezone.localtime(now):%Y-%m-%d}"
            return HttpResponse(
                raw,
                content_type="application/json",
                headers={"Content-Disposition": f'attachment; filename="{name}.json"'},
            )
    return show(request, "books/send.html", {
        "form": form,
        "books": books,
        "ticked": form["book"].value() or [],
        "digits": books_sent.own_digits(desk.shop),
    })  # fmt: skip


# ---------------------------------------------------------------- what came


class FileForm(SheetForm):
    """The file that another shop sent."""

    file = forms.FileField(
        label=gettext_lazy("The file"),
        error_messages={"required": gettext_lazy("Choose the file.")},
    )

    raw = b""

    def clean_file(self) -> UploadedFile:
        """Not larger than a file of books can be."""
        file: UploadedFile = self.cleaned_data["file"]
        if (file.size or 0) > MOST_BYTES:
            raise forms.ValidationError(_("Larger than a file of books can be (3 MB)."))
        self.raw = file.read()
        return file


class SenderForm(SheetForm):
    """Whether somebody compared the digits of a sender that is not known, and what it is called here."""

    compared = forms.ChoiceField(
        label=gettext_lazy("Did you compare the digits with that shop?"),
        choices=[
            ("yes", gettext_lazy("They agree: remember it")),
            ("no", gettext_lazy("Not compared; take it in all the same")),
        ],
        widget=ChoiceTiles,
        error_messages={"required": gettext_lazy("Say whether they agree.")},
    )
    name = forms.CharField(label=gettext_lazy("Remember it as"), max_length=120, required=False)


@dataclass(frozen=True)
class DifferenceShown:
    """One difference, and whose is chosen."""

    field: str
    words: str
    ours: str
    theirs: str
    theirs_chosen: bool


@dataclass(frozen=True)
class BookShown:
    """A book of the file on the page."""

    look: BookLook
    ticked: bool
    changed: bool  # the one here was, since the page was made
    differences: list[DifferenceShown]


@require_http_methods(["GET", "POST"])
def take_in(request: DeskRequest) -> HttpResponse:
    """Look at a file of books, then take in what is wanted of it. What stands here goes only by a choice."""
    if request.method == "POST" and "forget" in request.POST:
        return _forgotten(request)
    if request.method == "POST" and "parcel" in request.POST:
        return _decided(request)
    posted = request.method == "POST"
    form = FileForm(*(request.POST, request.FILES) if posted else ())
    if posted and form.is_valid():
        try:
            looked = books_sent.look(request.desk.shop, form.raw)
            return _page(request, looked, form.raw, None, SenderForm(initial={"name": looked.name}))
        except ParcelError as error:
            form.refuse(error, "file")
    senders = [(one, fingerprint(one.key)) for one in request.desk.all(KnownSender)]
    return show(request, "books/take_in.html", {"form": form, "senders": senders})


@transaction.atomic
def _decided(request: DeskRequest) -> HttpResponse:
    """Take in what was ticked. Nothing where the sender is in question, or a book here was changed meanwhile."""
    shop, sent = request.desk.shop, request.POST
    list(request.desk.all(StoredBook).select_for_update())  # who saves one meanwhile waits
    try:
        raw = books_sent.from_field(sent["parcel"])
        looked = books_sent.look(shop, raw)
    except ParcelError as error:  # no page of ours sent it so
        raise BadRequest(in_words(error)) from None
    sender = SenderForm(sent, initial={"name": looked.name})
    unclear = looked.known is None and not sender.is_valid()
    wanted = [one for one in looked.books if f"take-{one.sent.name}" in sent]
    if unclear or any(_changed(one, sent) for one in wanted):
        return _page(request, looked, raw, sent, sender, faulty=True)
    try:
        with transaction.atomic():
            if looked.known is None and sender.cleaned_data["compared"] == "yes":
                books_sent.remember(shop, looked, sender.cleaned_data["name"] or looked.name)
                looked = books_sent.look(shop, raw)
            chosen = {one.sent.name: _chosen(one, sent) for one in wanted}
            kept = books_sent.take_in(shop, looked, list(chosen), chosen)
    except BookErrors as errors:
        return _page(request, looked, raw, sent, sender, fault=errors)
    if not kept:
        return done(request, "books", said=_("Nothing was taken in: all stays as it is."))
    said = _("Taken in from {shop}: {titles}. Its figures are unproven here until looked up.")
    titles = ", ".join(one.title for one in kept)
    to = ("book", kept[0].pk) if len(kept) == 1 else ("books",)
    return done(request, *to, said=said.format(shop=looked.name, titles=titles))


def _forgotten(request: DeskRequest) -> HttpResponse:
    """A sender is known no more: what comes with its key is asked about again."""
    rows = request.desk.all(KnownSender)
    row = next((one for one in rows if str(one.pk) == request.POST["forget"]), None)
    if row is not None:
        row.delete()
    return done(request, "book-take-in", said=_("Forgotten. What was taken in stays."))


def _page(
    request: DeskRequest,
    looked: Looked,
    raw: bytes,
    sent: QueryDict | None,
    sender: SenderForm,
    *,
    faulty: bool = False,
    fault: WitnessError | None = None,
) -> HttpResponse:
    context = {
        "looked": looked,
        "parcel": books_sent.as_field(raw),
        "sender": sender,
        "books": list(_shown(looked, sent)),
        "brings": any(one.brings for one in looked.books),
        "fault": in_words(fault) if fault else "",
    }
    answer = show(request, "books/came_in.html", context)
    if faulty or fault:
        answer.status_code = UNPROCESSABLE
    return answer


def _shown(looked: Looked, sent: QueryDict | None) -> Iterator[BookShown]:
    for one in looked.books:
        chosen = _chosen(one, sent)
        yield BookShown(
            one,
            sent is None or f"take-{one.sent.name}" in sent,
            sent is not None and _changed(one, sent),
            [
                DifferenceShown(_field(one, d.id), d.words, d.ours, d.theirs, d.id in chosen)
                for d in one.differences
            ],
        )


def _changed(one: BookLook, sent: QueryDict) -> bool:
    return sent.get(f"shown-{one.sent.name}", "") != one.shown


def _chosen(one: BookLook, sent: QueryDict | None) -> list[str]:
    """The differences of a book that shall be as the sender has them."""
    if sent is None:
        return []
    return [d.id for d in one.differences if sent.get(_field(one, d.id)) == THEIRS]


def _field(one: BookLook, difference: str) -> str:
    return f"of-{one.sent.name}-{difference}"
