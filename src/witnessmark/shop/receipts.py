"""Receipts: every form that carries a ticket is answered once; the same form again is answered the same.

The answer is kept in the transaction of the entries. It is given again before any page looks at the form, so it
does not matter what the page would offer by then.
"""

import hashlib
import json
import re
from collections.abc import Callable, Iterable
from datetime import date
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.db import IntegrityError, transaction
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import NoReverseMatch, reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from witnessmark.ledger.entry import EntryErrors, read_body
from witnessmark.ledger.table import Table
from witnessmark.shop import store
from witnessmark.shop.dates import day_text
from witnessmark.shop.models import Clash, Entry, Receipt
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.tickets import ticket_of
from witnessmark.shop.work.meanwhile import ChangedMeanwhileError
from witnessmark.shop.work.visit import read

CLASH = gettext_lazy(
    "This form had been stored before with other content. What you sent now is stored but "
    "does not count. If it should count, enter it again."
)
NOT_SAID = {"csrfmiddlewaretoken", "entry_id", "seen"}  # fields that are no content
# What a form names for the program: ids of rows, of the book, of items, hashes.
NAMED = re.compile(r"[0-9a-f-]{32,}|[a-z0-9]+_[a-z0-9_]+|[a-z0-9_]+/[a-z0-9_/-]+|second look/.*|")
FORM = "form"  # kind of a clash that keeps what was typed
CONFLICT = 409


class SeeOther(HttpResponseRedirect):
    """After a POST: the answer stands at another address (303, so that it is fetched by GET)."""

    status_code = 303


class ReceiptMiddleware:
    """Answers a form that was answered before, and tells what stood in the way of one."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """A form refused because its twin came in while it was read is answered as its twin."""
        answer = self.get_response(request)
        if answer.status_code < 400 or not hasattr(request, "form_sent"):
            return answer
        return again(request) or answer  # type: ignore[arg-type]

    def process_view(
        self, request: HttpRequest, view: object, args: object, kwargs: object
    ) -> HttpResponse | None:
        """After the sign-in and the token were looked at, before the page."""
        if request.method != "POST" or not hasattr(request, "desk"):
            return None
        if "entry_id" not in request.POST:
            return None
        ticket_of(request)
        request.form_sent = _digest(request)  # type: ignore[attr-defined]
        return again(request)  # type: ignore[arg-type]

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        """What happened meanwhile, with the form offered again; an entry refused, in words."""
        if isinstance(error, ChangedMeanwhileError):
            return _changed(request, error)
        if isinstance(error, EntryErrors):
            context = {
                "problem": _("This cannot be written down."),
                "expected": str(error),
                "status": 400,
                "back": back_to(request, visit) if (visit := _visit(request)) else "",
            }
            return render(request, "sign_in/fault.html", context, status=400)
        return None


def again(request: DeskRequest) -> HttpResponse | None:
    """The answer that this form had before; None where it was not answered yet."""
    receipt = request.desk.all(Receipt).filter(pk=ticket_of(request).entry_id).first()
    if receipt is None:
        return None
    if receipt.form != _digest(request):
        _keep_apart(request, receipt)
        messages.error(request, f"{CLASH} {_stored(receipt)}")
    elif receipt.member_id != request.desk.member.pk:
        sent = _("{member} sent this form before; it counts once, in that name.").format(
            member=receipt.member
        )
        messages.error(request, f"{sent} {_stored(receipt)}")
    elif receipt.said:
        messages.success(request, receipt.said)
    return SeeOther(receipt.to)


def keep(request: DeskRequest, to: str, said: str, stored: Iterable[store.Stored]) -> None:
    """Keep how the posted form was answered, once. A form without a ticket has no receipt."""
    if request.method != "POST" or "entry_id" not in request.POST:
        return
    made = [one.entry for one in stored]
    visit = made[0].visit if made else _visit(request)
    receipt = request.desk.new(
        Receipt,
        id=UUID(ticket_of(request).entry_id),
        visit_id=visit,
        member=request.desk.member,
        form=_digest(request),
        to=to,
        said=said,
        entries=[entry.id for entry in made],
    )
    try:
        with transaction.atomic():
            receipt.save(force_insert=True)
    except IntegrityError:  # its twin was answered first
        pass


def in_words_apart(clash: Clash, table: Table) -> str:
    """What was kept apart, as people read it."""
    body = json.loads(clash.body)
    if clash.kind == FORM:
        return ", ".join(_as_read(value) for values in body.values() for value in values)
    return read_body(clash.kind, body).in_words(table)


def _as_read(typed: str) -> str:
    """What was typed; a day, which a browser sends as ISO 8601 has it, as it is said here."""
    try:
        return day_text(date.fromisoformat(typed))
    except ValueError:
        return typed


def back_to(request: HttpRequest, visit: UUID) -> str:
    """The page of a visit that a form came from, as it stands now."""
    name = str(request.resolver_match.url_name).partition("-")[0] if request.resolver_match else ""
    try:
        page = reverse(name, args=[visit])
    except NoReverseMatch:
        page = reverse("arrival", args=[visit])
    card = request.POST.get("card", "")
    return f"{page}?{urlencode({'card': card})}" if card and name == "bench" else page


# ---------------------------------------------------------------- parts


def _visit(request: HttpRequest) -> UUID | None:
    match = request.resolver_match
    return match.kwargs.get("visit") if match else None


def _digest(request: HttpRequest) -> str:
    """SHA-256 over the address and all that was sent, but token, ticket and passwords."""
    known = getattr(request, "form_sent", "")
    if known:
        return str(known)
    files = {}
    for name, sent in request.FILES.lists():
        files[name] = [_file_digest(one) for one in sent]
    said = [request.path, sorted(_said(request).items()), sorted(files.items())]
    return hashlib.sha256(json.dumps(said).encode()).hexdigest()


def _said(request: HttpRequest) -> dict[str, list[str]]:
    return {
        name: values
        for name, values in request.POST.lists()
        if name not in NOT_SAID and "password" not in name
    }


def _file_digest(file: Any) -> str:
    made = hashlib.sha256()
    for chunk in file.chunks():
        made.update(chunk)
    file.seek(0)
    return made.hexdigest()


def _keep_apart(request: DeskRequest, receipt: Receipt) -> None:
    """What was typed, beside the first entry that the form made; what a machine's owner told of himself is not kept."""
    first = Entry.objects.filter(pk__in=receipt.entries[:1]).first()
    if (
        first is None
        or request.resolver_match is None
        or "visit" not in request.resolver_match.kwargs
    ):
        return
    typed = {
        name: told
        for name, values in _said(request).items()
        if (told := [one for one in values if not NAMED.fullmatch(one)])
    }
    said = {"visit_id": receipt.visit_id, "entry": first, "author": request.desk.member,
            "kind": FORM, "body": json.dumps(typed, sort_keys=True)}  # fmt: skip
    if not request.desk.all(Clash).filter(**said).exists():
        request.desk.new(Clash, **said).save(force_insert=True)


def _stored(receipt: Receipt) -> str:
    """What the form had stored, in words."""
    if not receipt.entries or receipt.visit is None:
        return ""
    history = read(receipt.visit).state.history
    words = [line.words for line in history if line.entry in receipt.entries]
    return _("Stored before: {names}.").format(names="; ".join(words))


def _changed(request: HttpRequest, error: ChangedMeanwhileError) -> HttpResponse:
    context = {
        "visit": error.visit,
        "happened": error.happened,
        "sent": error.sent,
        "again": error.again,
        "said": _all_again(request) if error.again else (),
        "files": bool(request.FILES),
        "back": back_to(request, error.visit.pk),
    }
    return render(request, "sign_in/meanwhile.html", context, status=CONFLICT)


def _all_again(request: HttpRequest) -> list[tuple[str, str]]:
    return [(name, value) for name, values in _said(request).items() for value in values]
