"""Tags and filters loaded in every template: values in words, money, the steps of a visit, tickets, rights, parts."""

import logging
from collections.abc import Iterable, Mapping
from typing import Any

from babel.lists import format_list
from django import template
from django.forms import BoundField
from django.template.base import FilterExpression, Parser, Token
from django.template.loader import render_to_string
from django.urls import NoReverseMatch, reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import get_language
from django.utils.translation import gettext_lazy as _

from witnessmark import planner, units
from witnessmark.money import amount_text
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import Machine, Visit
from witnessmark.shop.scope import Desk, shop_in_use, units_in_use
from witnessmark.shop.work.repair_draft import half_written as half_written_of

register = template.Library()
log = logging.getLogger("witnessmark.shop.parts")
TICKET = (
    '<input type="hidden" name="entry_id" value="{}"><input type="hidden" name="seen" value="{}">'
)

STAGES = {  # name of the page -> word in the thread
    "arrival": _("arrival"),
    "needs": _("due"),
    "price": _("price"),
    "order": _("order"),
    "bench": _("bench"),
    "handback": _("hand-back"),
    "papers": _("papers"),
}


@register.filter
def shown(value: float | None, quantity: str) -> str:
    """A value in base units, in the units now chosen: `{{ 60|shown:"torque" }}`. None shows as a dash."""
    return "—" if value is None else units.show(value, quantity, units_in_use.get())  # type: ignore[arg-type]


@register.simple_tag
def figure_in(value: float | None, quantity: str, unit: str = "", step: float | None = None) -> str:
    """A value in the unit of the tool in hand: `{% figure_in 60 "torque" wrench.scale_unit %}`. None is nothing."""
    if value is None:
        return ""
    return units.show(value, quantity, units_in_use.get(), unit or None, step)  # type: ignore[arg-type]


@register.filter
def lasting(minutes: float) -> str:
    """How long something takes, said one way on every page. Example: ``1 h 15 min``."""
    return planner.lasting(minutes)


@register.filter
def listed(words: Iterable[object]) -> str:
    """Words in a row, as the language joins them: “a, b and c”."""
    return format_list(
        [str(word) for word in words], locale=(get_language() or "en").replace("-", "_")
    )


@register.filter
def money(minor: int | None, currency: str = "") -> str:
    """Minor units as money in the shop's locale: `{{ line.price_minor|money:estimate.currency }}`."""
    shop = shop_in_use.get()
    if minor is None:
        return "—"
    code = currency or (shop.currency if shop else "EUR")
    return amount_text(minor, code, shop.locale) if shop else amount_text(minor, code)


@register.inclusion_tag("parts/visit_steps.html", takes_context=True)
def thread(context: Mapping[str, Any], visit: Visit, here: str) -> dict[str, Any]:
    """The way of a visit through the shop; `here` is the page now open."""
    stops = [
        {"name": name, "word": word, "address": _address(name, visit), "here": name == here}
        if may_see(context.get("desk"), name)
        else {"name": name, "word": word, "address": "", "here": False}
        for name, word in STAGES.items()
    ]
    return {"stops": stops, "visit": visit, **_waits(context.get("desk"), visit)}


@register.inclusion_tag("parts/waits.html", takes_context=True)
def waits(context: Mapping[str, Any]) -> dict[str, Any]:
    """The waits that run on all machines in the shop."""
    return _waits(context.get("desk"), None)


def _waits(desk: Desk | None, visit: Visit | None) -> dict[str, Any]:
    from witnessmark.shop.work import waits_now  # noqa: PLC0415 - it imports the models of this page

    if desk is None:
        return {"waits": []}
    here = reverse("visit-waits", args=[visit.pk]) if visit else reverse("waits")
    return {"waits": waits_now.running(desk, visit), "of": visit, "address": here}


@register.inclusion_tag("parts/half_written.html", takes_context=True)
def half_written(context: Mapping[str, Any], visit: Visit) -> dict[str, Any]:
    """The repairs of a visit that are half written, for those who may write them."""
    desk = context.get("desk")
    rows = half_written_of(desk, visit).items() if desk and may_see(desk, "repair") else ()
    return {"half": rows, "visit": visit}


@register.simple_tag
def ticket(visit: Visit | None = None) -> SafeString:
    """Hidden fields of a form that makes entries: the id they get, and what the page had seen.

    All forms of one page say the same: what was seen is what was read for the page.
    """
    from witnessmark.shop import store  # noqa: PLC0415 - the store imports the models of this page

    if visit is not None and visit.seen is None:
        visit.seen = store.heads(visit)
    return format_html(TICKET, new_id(), store.write_seen(visit.seen or {} if visit else {}))


@register.filter
def may(desk: Desk | None, address: str) -> bool:
    """Whether the person at the desk may send a form there: `{% if desk|may:"price-offer" %}`."""
    return desk is not None and desk.may(address)


@register.filter
def may_see(desk: Desk | None, address: str) -> bool:
    """Whether the person at the desk may open the page there."""
    return desk is not None and desk.may(address, "GET")


@register.filter
def invalid(field: BoundField) -> bool:
    """Whether a field came back with faults."""
    return bool(field.errors)


@register.filter
def named(machine: Machine) -> str:
    """A machine as people call it: maker, model and plate."""
    return f"{machine} · {machine.plate}" if machine.plate else str(machine)


def _address(page: str, visit: Visit) -> str:
    try:
        return reverse(page, args=[visit.pk])
    except NoReverseMatch:
        return ""


class PartNode(template.Node):
    """A part of a page that stands or falls by itself."""

    def __init__(
        self, words: FilterExpression, needs: list[FilterExpression], inside: template.NodeList
    ) -> None:
        self.words, self.needs, self.inside = words, needs, inside

    def render(self, context: template.Context) -> SafeString:
        """The part; where it cannot be shown, that in words, and why in the log."""
        words = self.words.resolve(context)
        try:
            for need in self.needs:
                bool(need.resolve(context))  # what is worked out late is worked out here
            return self.inside.render(context)
        except Exception:
            request = context.get("request")
            log.exception("“%s” of %s cannot be shown", words, getattr(request, "path", "a page"))
            return render_to_string("parts/unshown.html", {"words": words})


@register.tag
def part(parser: Parser, token: Token) -> PartNode:
    """`{% part "Tyres" tyres %} … {% endpart %}`: a fault in it, or in what it needs, is told in its place."""
    _name, words, *needs = token.split_contents()
    inside = parser.parse(("endpart",))
    parser.delete_first_token()
    every = [parser.compile_filter(need) for need in needs]
    return PartNode(parser.compile_filter(words), every, inside)
