"""The complaint's own card: the owner's words, what was answered, and the answer."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpResponse
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods

from witnessmark.shop.pages.beyond_book.forms import ComplaintForm
from witnessmark.shop.responses import recorded, show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work.beyond_book import complaint_by, words_of
from witnessmark.shop.work.planning import to_do
from witnessmark.shop.work.visit import Work, bench_address, who, work_of

CHANGED = _("The complaint was changed since this page was shown. Read it, then answer.")
ANSWERED = _("It was answered since this page was shown. Answer again only if that is not it.")


@require_http_methods(["GET", "POST"])
def complaint(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Show the complaint; POST answers it, in the words it had on the page and over the answer that stood there."""
    work = work_of(request.desk, visit)
    said = work.state.complaint
    sent = request.POST if request.method == "POST" else request.GET
    back = _back(work, sent.get("card", ""), sent.get("back", ""))
    posted = request.POST if request.method == "POST" and said and not work.closed else None
    form = ComplaintForm(posted, lines=_lines(work), initial={"text": _causes(work)})
    changed = ""
    if posted is not None and said is not None and form.is_valid():
        if posted.get("complaint", "").split() != said.words.split():  # line ends differ by browser
            changed = str(CHANGED)
        elif said.entry != posted.get("answered", ""):
            changed = str(ANSWERED)
        else:
            acts = [("complaint_answered", form.body(said.words))]
            said_so = gettext("The complaint has its answer.")
            return recorded(request, work.visit, acts, back, said=said_so)
    context = {
        "visit": work.visit,
        "work": work,
        "form": form,
        "changed": changed,
        "back": back,
        "card": sent.get("card", ""),
        "to": sent.get("back", ""),
        "by": complaint_by(work),
        "who": who(request.desk).get(said.author, "") if said else "",
    }
    return show(request, "beyond_book/complaint.html", context, faulty=bool(changed))


def _lines(work: Work) -> dict[str, str]:
    """What may put it right: what is agreed, or where nothing was offered yet, what is taken on."""
    names = [*work.state.taken, *work.state.lines]
    done_now = {*work.state.agreed, *to_do(work)}
    agreed = [name for name in names if name in done_now] if work.state.offers else names
    return {name: words_of(work, name) for name in agreed if name in work.jobs}


def _causes(work: Work) -> str:
    """The causes found on this visit, to begin the answer with."""
    return " ".join(dict.fromkeys(one.cause for one in work.state.repairs.values() if one.cause))


def _back(work: Work, card: str, to: str) -> str:
    if to == "handback":
        return reverse("handback", args=[work.visit.pk])
    if to == "arrival":
        return reverse("arrival", args=[work.visit.pk])
    return bench_address(work, card if card in work.steps else "")
