"""Whose data a request may touch: the one scoped access path, and who asks from which device."""

from collections.abc import Callable
from contextvars import ContextVar
from copy import copy
from dataclasses import dataclass
from typing import Any, TypeVar
from uuid import UUID
from zoneinfo import ZoneInfo

from django.apps import apps
from django.contrib.auth import SESSION_KEY, get_user_model, logout
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.utils.module_loading import import_string
from django.utils.translation import gettext as _
from django_htmx.middleware import HtmxDetails

from witnessmark.kept_versions import KeptError
from witnessmark.shop import roles
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import Member, Shop, ShopRow
from witnessmark.shop.models.changes import changing

# by name, as Django's own handlers are: pages import this module
NOT_AS_KEPT = "witnessmark.shop.pages.sign_in.views.not_as_kept"
AnyShopRow = TypeVar("AnyShopRow", bound=ShopRow)

DEVICE_COOKIE = "device"
DEVICE_SECONDS = 60 * 60 * 24 * 365 * 2
LOOKS = {"theme": ("paper", "night"), "units": tuple(Shop.Units.values)}  # cookies of the switch


class DeskRequest(HttpRequest):
    """A request of a signed-in member, as every page has it."""

    desk: "Desk"
    htmx: HtmxDetails


@dataclass(frozen=True)
class Desk:
    """Where somebody works: shop, member, device. Every page reaches its rows through it."""

    member: Member
    device: UUID
    units: str = "metric"

    @property
    def shop(self) -> Shop:
        """The shop of the member."""
        return self.member.shop

    def all(self, model: type[AnyShopRow]) -> Any:
        """Queryset of the shop's own rows of `model`."""
        return model.of(self.member.shop_id)

    def get(self, model: type[AnyShopRow], key: UUID, *related: str) -> AnyShopRow:
        """The shop's own row; Http404 for one that is not there or is another shop's.

        `related`: names for select_related.
        """
        rows = self.all(model).select_related(*related) if related else self.all(model)
        try:
            row: AnyShopRow = rows.get(pk=key)
        except model.DoesNotExist as gone:
            raise Http404(_("There is nothing at this address.")) from gone
        return row

    def may(self, address: str, method: str = "POST") -> bool:
        """Whether the person may use the address of this name."""
        return roles.may(self.member.role, address, method)

    def new(self, model: type[AnyShopRow], **fields: Any) -> AnyShopRow:
        """An unsaved row that belongs to the shop; for `instance=` of a form that makes one."""
        return model(shop=self.shop, **fields)


units_in_use: ContextVar[str] = ContextVar("units_in_use", default="metric")
shop_in_use: ContextVar[Shop | None] = ContextVar("shop_in_use", default=None)


def member_of(request: HttpRequest) -> Member:
    """Who is signed in. Raises PermissionDenied, and ends the sign-in, where it belongs to no shop."""
    member = Member.objects.select_related("shop").filter(user_id=request.user.pk or 0).first()
    if member is None:
        logout(request)
        raise PermissionDenied(_("This sign-in belongs to no shop."))
    member.user = request.user  # type: ignore[assignment]  # read already, and signed in
    return member


class DeskMiddleware:
    """Gives a signed-in request its desk, refuses what its role may not do, and shows times in the shop's zone."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if not request.user.is_authenticated:
            if _was_closed(request):
                logout(request)
                raise PermissionDenied(_("This sign-in was closed."))
            return self.get_response(request)
        member = member_of(request)
        device, known = _device(request)
        units = _chosen(request, "units") or member.shop.units
        request.desk = Desk(member, device, units)  # type: ignore[attr-defined]
        response = self._answer(request, member.shop, units)
        if not response.has_header("Cache-Control"):  # going back shows a fresh page and ticket
            patch_cache_control(response, private=True, no_store=True)
        if not known:
            _remember_device(request, response, device)
        return response

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """What was kept and cannot be used is told in words, and not shown."""
        return (
            import_string(NOT_AS_KEPT)(request, exception)
            if isinstance(exception, KeptError)
            else None
        )

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: dict[str, Any]
    ) -> None:
        """Raise RefusedError where the role does not allow this address so; Http404 for another shop's row."""
        desk: Desk | None = getattr(request, "desk", None)
        match = request.resolver_match
        if desk is None or match is None or desk.may(match.url_name or "", request.method or ""):
            return
        for table, key in kwargs.items():  # a parameter is named after its table (urls.py)
            if isinstance(key, UUID):
                desk.get(apps.get_model("shop", table), key)
        raise roles.RefusedError(roles.least_at(match.url_name, request.method or ""))

    def _answer(self, request: HttpRequest, shop: Shop, units: str) -> HttpResponse:
        units_token, shop_token = units_in_use.set(units), shop_in_use.set(shop)
        changing_token = changing.set(request.desk.member)  # type: ignore[attr-defined]
        try:
            with timezone.override(ZoneInfo(shop.time_zone)):
                return self.get_response(request)
        finally:
            units_in_use.reset(units_token)
            shop_in_use.reset(shop_token)
            changing.reset(changing_token)


def in_every_template(request: HttpRequest) -> dict[str, Any]:
    """Context processor: desk, and the chosen theme (empty: as the device prefers)."""
    return {"desk": getattr(request, "desk", None), "theme": _chosen(request, "theme")}


def _was_closed(request: HttpRequest) -> bool:
    """Whether somebody whose sign-in was closed since is still signed in here."""
    key = request.session.get(SESSION_KEY)
    if key is None:
        return False
    return get_user_model()._default_manager.filter(pk=key, is_active=False).exists()


def _chosen(request: HttpRequest, switch: str) -> str:
    choice = request.COOKIES.get(switch, "")
    return choice if choice in LOOKS[switch] else ""


def known_device(request: HttpRequest) -> UUID | None:
    """The device's id from its signed cookie; None for one on which nobody has signed in yet."""
    told = request.get_signed_cookie(DEVICE_COOKIE, default=None, salt=DEVICE_COOKIE)
    return UUID(told) if told else None


def _device(request: HttpRequest) -> tuple[UUID, bool]:
    """The device's id, a new one where it has none, and whether it had one."""
    known = known_device(request)
    return (known, True) if known else (new_id(), False)


def _remember_device(request: HttpRequest, response: HttpResponse, device: UUID) -> None:
    response.set_signed_cookie(
        DEVICE_COOKIE,
        str(device),
        salt=DEVICE_COOKIE,
        max_age=DEVICE_SECONDS,
        secure=request.is_secure(),
        httponly=True,
        samesite="Lax",
    )


def shop_read_now(desk: Desk) -> Shop:
    """The shop's row, read now: a form writes what is typed onto its row, also what it refuses."""
    shop = copy(desk.shop)
    shop.refresh_from_db()
    return shop
