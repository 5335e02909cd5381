"""How a reading stands to its limits, told as it is typed: a part of a card, asked for by its field."""

from __future__ import annotations

from uuid import UUID

from django.http import Http404, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from witnessmark import units
from witnessmark.book.doubtful_reading import doubt
from witnessmark.book.figures import limits, verdict
from witnessmark.shop.forms import in_words
from witnessmark.shop.responses import show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work.visit import work_of


@require_safe
def told(request: DeskRequest, visit: UUID, reading: str) -> HttpResponse:
    """What was understood, and whether it is within limits, at one or past it. Writes nothing."""
    book = work_of(request.desk, visit).book
    rule = book.readings.get(reading)
    if rule is None or rule.quantity == "words":
        raise Http404(_("the service book has no such reading"))
    typed = str(next(iter(request.GET.values()), "")).strip()
    words = ""
    if typed:
        try:
            amount = units.read(units.with_unit(typed, rule.unit), rule.quantity)
            words = f"{verdict(book, rule, amount.value).words}."
            if why := doubt(reading, rule, amount.value, *limits(book, rule)):
                words += " " + _("Hard to believe: {why}.").format(why=why)
        except units.QuantityError as error:
            words = in_words(error)
    return show(request, "calculate/understood.html", {"words": words})
