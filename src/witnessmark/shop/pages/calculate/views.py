"""The calculators: every computation that can be used alone, with its formula and its source.

Nothing is written: what is put in stands in the address, so an answer can be kept or passed on.
"""

from __future__ import annotations

from urllib.parse import urlencode

from django.http import Http404, HttpResponse
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from witnessmark import units
from witnessmark.calculators import (
    SUBJECTS,
    CalculationError,
    CalculationErrors,
    Calculator,
    evaluate,
    find,
)
from witnessmark.shop.forms import in_words
from witnessmark.shop.pages.calculate.forms import form_of, refuse
from witnessmark.shop.responses import show
from witnessmark.shop.scope import DeskRequest


@require_safe
def calculators(request: DeskRequest) -> HttpResponse:
    """Everything that can be calculated, by subject."""
    return show(request, "calculate/list.html", {"subjects": SUBJECTS})


@require_safe
def one(request: DeskRequest, name: str) -> HttpResponse:
    """One calculator: what it asks for and, once that is put in, the answer."""
    try:
        calculator = find(name)
    except CalculationError as error:
        answer = show(request, "calculate/list.html", {"subjects": SUBJECTS, "problem": error})
        answer.status_code = 404
        return answer
    context = {"calculator": calculator, "example": _example(calculator)}
    typed = {key: request.GET.get(key, "") for key in request.GET}
    if not typed:
        return show(request, "calculate/page.html", context | {"form": form_of(calculator)})
    form = form_of(calculator, typed)
    try:
        answered = evaluate(calculator, typed, request.desk.units)  # type: ignore[arg-type]
    except CalculationErrors as errors:
        refuse(form, errors.errors)
        return show(request, "calculate/page.html", context | {"form": form})
    # drawn by our own core, which escapes the words it draws
    picture = mark_safe(answered.picture) if answered.picture else ""  # noqa: S308
    return show(
        request,
        "calculate/page.html",
        context | {"form": form, "answered": answered, "picture": picture},
    )


@require_safe
def understood(request: DeskRequest) -> HttpResponse:
    """What was understood of a quantity as it is typed: `quantity`, `unit` of a bare number, and the field."""
    asked = request.GET.copy()
    quantity, unit = asked.pop("quantity", [""])[-1], asked.pop("unit", [""])[-1]
    unit = unit or asked.pop("scale_unit", [""])[-1]  # the unit of a scale, chosen on the same page
    if quantity not in units.QUANTITIES:
        raise Http404(_("no such quantity"))
    typed = str(next(iter(asked.values()), "")).strip()
    return show(request, "calculate/understood.html", {"words": _read_as(typed, unit, quantity)})


def _read_as(typed: str, unit: str, quantity: str) -> str:
    """Empty where nothing is typed."""
    if not typed:
        return ""
    try:
        amount = units.read(units.with_unit(typed, unit), quantity)  # type: ignore[arg-type]
    except units.QuantityError as error:
        return in_words(error)
    return _("Read as {understood}.").format(understood=amount.understood)


def _example(calculator: Calculator) -> str:
    """The address of the calculator with its example put in."""
    put_in = {asked.name: asked.example for asked in calculator.asked}
    return f"{reverse('calculator', args=[calculator.name])}?{urlencode(put_in)}"
