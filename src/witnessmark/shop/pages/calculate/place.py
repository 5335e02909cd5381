"""Where somebody calculates: for nothing in particular, or for the machine of a visit, at a card of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode
from uuid import UUID

from django.http import HttpResponse
from django.urls import reverse

from witnessmark.calculators import CALCULATORS, Calculator
from witnessmark.shop.pages.calculate.filling import Filling, of_shop, of_visit
from witnessmark.shop.responses import back_or
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work.visit import Work, bench_address, work_of

CARRIED = ("card", "values", "back")  # in the address beside what a calculator asks for
LAST_USED = "calculated"  # the cookie: names of calculators, newest first; stays on the device
MOST_LAST = 10
_SECONDS = 60 * 60 * 24 * 365


@dataclass(frozen=True)
class Place:
    """``fillings``: what of it can be put in. ``carried``: what its addresses and forms take along."""

    work: Work | None
    carried: Mapping[str, str]
    fillings: tuple[Filling, ...]
    back: str  # the page that led here; empty where none did
    last_used: tuple[Calculator, ...]

    @property
    def list_path(self) -> str:
        """Of the list, for its form."""
        return self._path("calculators")

    @property
    def list_address(self) -> str:
        """Of the list."""
        return self._with(self.list_path, self.carried)

    def address(self, name: str, values: str = "", put_in: Mapping[str, str] | None = None) -> str:
        """Of a calculator, with the values of that key."""
        query = {**self.carried, **({"values": values} if values else {}), **(put_in or {})}
        return self._with(self._path("calculator", name), query)

    def path(self, name: str) -> str:
        """Of a calculator, for its form."""
        return self._path("calculator", name)

    def fillings_of(self, name: str) -> tuple[Filling, ...]:
        """Those of one calculator."""
        return tuple(one for one in self.fillings if one.calculator == name)

    def _path(self, page: str, *names: str) -> str:
        if self.work is None:
            return reverse(page, args=names)
        return reverse(f"visit-{page}", args=[self.work.visit.pk, *names])

    @staticmethod
    def _with(path: str, query: Mapping[str, str]) -> str:
        return f"{path}?{urlencode(query)}" if query else path


def place_of(request: DeskRequest, visit: UUID | None) -> Place:
    """Where the request comes from. Http404 for another shop's visit."""
    said = {name: request.GET[name] for name in ("card", "back") if request.GET.get(name)}
    if visit is None:
        return Place(None, {}, tuple(of_shop(request.desk)), "", _last_used(request))
    work = work_of(request.desk, visit)
    card = said.get("card", "") if said.get("card") in work.steps else ""
    bench = bench_address(work, card)
    back = back_or(request, bench)
    carried = ({"card": card} if card else {}) | ({"back": back} if back != bench else {})
    fillings = tuple(of_visit(request.desk, work, card))
    return Place(work, carried, fillings, back, _last_used(request))


def _last_used(request: DeskRequest) -> tuple[Calculator, ...]:
    names = request.COOKIES.get(LAST_USED, "").split(".")
    return tuple(CALCULATORS[name] for name in dict.fromkeys(names) if name in CALCULATORS)[
        :MOST_LAST
    ]


def remember(request: DeskRequest, response: HttpResponse, calculator: Calculator) -> None:
    """Put it first among the last used of this device."""
    names = [calculator.name, *(one.name for one in _last_used(request) if one is not calculator)]
    response.set_cookie(
        LAST_USED,
        ".".join(names[:MOST_LAST]),
        max_age=_SECONDS,
        secure=request.is_secure(),
        httponly=True,
        samesite="Lax",
    )
