"""The calculators: every computation that can be used alone, with its formula and its source.

Nothing is written: what is put in stands in the address, so an answer can be kept or passed on.
"""

from __future__ import annotations

from uuid import UUID

from django.http import Http404, HttpResponse
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
from witnessmark.calculators.search import near, search
from witnessmark.shop.forms import in_words
from witnessmark.shop.pages.calculate.filling import Filling
from witnessmark.shop.pages.calculate.forms import form_of, refuse
from witnessmark.shop.pages.calculate.place import CARRIED, Place, place_of, remember
from witnessmark.shop.responses import show
from witnessmark.shop.scope import DeskRequest

MOST_WORDS = 80  # of a search, shown again


@require_safe
def calculators(request: DeskRequest, visit: UUID | None = None) -> HttpResponse:
    """Everything that can be calculated, by subject, or what the words of `?q=` find; what was used last first."""
    return _list(request, place_of(request, visit))


@require_safe
def one(request: DeskRequest, name: str, visit: UUID | None = None) -> HttpResponse:
    """One calculator: what it asks for, with what is known put in, and, once that is sent, the answer."""
    place = place_of(request, visit)
    try:
        calculator = find(name)
    except CalculationError as error:
        answer = _list(request, place, in_words(error))
        answer.status_code = 404
        return answer
    filling = _chosen(request, place, name)
    known = filling.known if filling else {}
    typed = {key: request.GET.get(key, "") for key in request.GET if key not in CARRIED}
    form = form_of(calculator, typed or None, known)
    context = {
        "place": place,
        "visit": place.work.visit if place.work else None,
        "calculator": calculator,
        "form": form,
        "filling": filling,
        "hidden": {**place.carried, **({"values": filling.key} if filling else {})},
        "others": _others(place, calculator),
        "example": place.address(name, put_in=_example(calculator)),
        "here": place.path(name),
    }
    if not typed:
        return show(request, "calculate/page.html", context)
    try:
        answered = evaluate(calculator, typed, request.desk.units)  # type: ignore[arg-type]
    except CalculationErrors as errors:
        refuse(form, errors.errors)
        return show(request, "calculate/page.html", context)
    # drawn by our own core, which escapes the words it draws
    picture = mark_safe(answered.picture) if answered.picture else ""  # noqa: S308
    page = show(
        request, "calculate/page.html", context | {"answered": answered, "picture": picture}
    )
    remember(request, page, calculator)
    return page


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


def _list(request: DeskRequest, place: Place, problem: str = "") -> HttpResponse:
    """The list; where it is asked for as one types, its changing part alone."""
    words = request.GET.get("q", "").strip()[:MOST_WORDS]
    found = search(words)
    context = {
        "place": place,
        "visit": place.work.visit if place.work else None,
        "problem": problem,
        "q": words,
        "found": _lines(place, found or near(words)),
        "near": not found,
        "subjects": {name: _lines(place, several) for name, several in SUBJECTS.items()},
        "known": [
            (one.title, one.about, place.address(one.calculator, one.key)) for one in place.fillings
        ] if place.work else [],
        "last": _lines(place, place.last_used),
    }  # fmt: skip
    part = "calculate/found.html" if request.htmx else "calculate/list.html"
    return show(request, part, context)


def _lines(place: Place, calculators: tuple[Calculator, ...]) -> list[tuple[str, str, str]]:
    """Title, text and address of each."""
    return [(one.title, one.text, place.address(one.name)) for one in calculators]


def _chosen(request: DeskRequest, place: Place, name: str) -> Filling | None:
    """The values that the address names; else those there are, where they are of one thing only."""
    of_this = place.fillings_of(name)
    wanted = request.GET.get("values")
    named = next((one for one in of_this if one.key == wanted), None)
    return named or (of_this[0] if len(of_this) == 1 else None)


def _others(place: Place, calculator: Calculator) -> list[tuple[str, str, str]]:
    """What else its values can be of: words, key, address."""
    of_this = place.fillings_of(calculator.name)
    if len(of_this) < 2:
        return []
    return [(one.about, one.key, place.address(calculator.name, one.key)) for one in of_this]


def _read_as(typed: str, unit: str, quantity: str) -> str:
    """Empty where nothing is typed."""
    if not typed:
        return ""
    try:
        amount = units.read(units.with_unit(typed, unit), quantity)  # type: ignore[arg-type]
    except units.QuantityError as error:
        return in_words(error)
    return _("Read as {understood}.").format(understood=amount.understood)


def _example(calculator: Calculator) -> dict[str, str]:
    return {asked.name: asked.example for asked in calculator.asked}
