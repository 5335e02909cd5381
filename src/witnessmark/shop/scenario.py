"""Builds the invented demo workshop through the same doors a person uses: forms' entries, the planner, the gates."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from decimal import Decimal
from importlib import resources
from typing import Any

from django.contrib.auth import get_user_model
from django.db import transaction
from django.utils import timezone

from witnessmark.book import Book, load_book, selection
from witnessmark.decode import read_pasted
from witnessmark.facts import add_months
from witnessmark.shop import content_store, store
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import (
    LastDoneKnown,
    Machine,
    Member,
    Owner,
    PartPrice,
    ShimStock,
    Shop,
    StockPack,
    StoredBook,
    Visit,
    WasteContainer,
    WasteMove,
    Wrench,
    WrenchEvent,
)
from witnessmark.shop.scope import Desk
from witnessmark.shop.work import planning, pricing
from witnessmark.shop.work.codes import AFTER, BEFORE, body_of
from witnessmark.shop.work.demo_technician import work_through
from witnessmark.shop.work.visit import read

FILES = resources.files("witnessmark.demo")
STAGES = ["arrival", "needs", "price", "order", "bench", "gone"]


def scenario() -> dict[str, Any]:
    """The scenario as written."""
    return tomllib.loads(FILES.joinpath("scenario.toml").read_text(encoding="utf-8"))


@transaction.atomic
def build(*, visits: bool = True) -> Shop:
    """Make the demo workshop in an empty database, with or without today's visits; return its shop."""
    said = scenario()
    shop = Shop.objects.create(**_shop_fields(said["shop"]))
    members = {
        name: _member(shop, name, about, said["password"])
        for name, about in said["members"].items()
    }
    books = {name: _book(shop, name) for name in _books_of(said)}
    _tools(shop, said)
    _waste(shop, said)
    _prices(shop, books)
    technician, helper = (Desk(members[name], new_id()) for name in ("tamsin", "jonas"))
    for about in said["machines"]:
        machine = _machine(shop, about, books[about["book"]])
        if visits and "stage" in about:
            bring(technician, helper, machine, about)
    if visits:
        afterwards(shop)
    return shop


def afterwards(shop: Shop) -> list[WrenchEvent]:
    """What comes to light when the visits are done: a wrench they were worked with is found wrong."""
    every = []
    for event in scenario()["after_the_visits"]:
        about = dict(event)
        every.append(_happened(Wrench.objects.get(shop=shop, name=about.pop("wrench")), about))
    return every


def tour_visit(shop: Shop) -> Visit:
    """The visit whose plan the demo shows: the first machine of the scenario."""
    plate = scenario()["machines"][0]["plate"]
    return Visit.objects.filter(shop=shop, machine__plate=plate).order_by("number")[0]


# ---------------------------------------------------------------- rows


def _shop_fields(about: Mapping[str, Any]) -> dict[str, Any]:
    decimals = {"labour_per_hour", "consumables_amount", "disposal_amount"}
    return {name: Decimal(value) if name in decimals else value for name, value in about.items()}


def _member(shop: Shop, name: str, about: Mapping[str, Any], password: str) -> Member:
    user = get_user_model().objects.create_user(
        name, password=password, first_name=about["first_name"], last_name=about["last_name"]
    )
    at_the_bench = about.get("at_the_bench", True)
    return Member.objects.create(
        shop=shop, user=user, role=about["role"], at_the_bench=at_the_bench
    )


def _books_of(said: Mapping[str, Any]) -> list[str]:
    """The books of the machines, each once, in the order of the scenario."""
    return list(dict.fromkeys(about["book"] for about in said["machines"]))


def _book(shop: Shop, name: str) -> StoredBook:
    with resources.as_file(FILES.joinpath("books", f"{name}.toml")) as path:
        return content_store.keep_book(shop, load_book(path), path.read_text(encoding="utf-8"))


def _tools(shop: Shop, said: Mapping[str, Any]) -> None:
    for about in said["wrenches"]:
        fields = {
            key: value for key, value in about.items() if key not in {"events", "back_in_days"}
        }
        if "back_in_days" in about:
            fields["back_by"] = timezone.localdate() + timedelta(days=about["back_in_days"])
        wrench = Wrench.objects.create(shop=shop, **fields)
        for event in about.get("events", ()):
            _happened(wrench, event)
    for about in said["packs"]:
        StockPack.objects.create(shop=shop, **about)
    for about in said["shims"]:
        for size, count in about["sizes"]:
            ShimStock.objects.create(shop=shop, kind=about["kind"], size_um=size, count=count)


def _waste(shop: Shop, said: Mapping[str, Any]) -> None:
    """The waste containers, with what was in them before the demo's visits."""
    for about in said["waste"]:
        fields = {key: value for key, value in about.items() if key != "put_in"}
        container = WasteContainer.objects.create(shop=shop, **fields)
        if "put_in" in about:
            family, volume, days, note = about["put_in"]
            WasteMove.objects.create(
                shop=shop, container=container, kind=WasteMove.Kind.PUT_IN, family=family,
                volume_ml=volume, on=timezone.localdate() - timedelta(days=days), note=note,
            )  # fmt: skip


def _happened(wrench: Wrench, about: Mapping[str, Any]) -> WrenchEvent:
    fields = {key: value for key, value in about.items() if key != "days_ago"}
    on = timezone.localdate() - timedelta(days=about["days_ago"])
    return WrenchEvent.objects.create(shop=wrench.shop, wrench=wrench, on=on, **fields)


def _prices(shop: Shop, books: Mapping[str, StoredBook]) -> None:
    """An invented price for every part of the books, told apart only so that sums look like sums."""
    for stored in books.values():
        book = content_store.book_of(shop, stored.current.sha256)
        for number, (name, part) in enumerate(sorted(book.parts.items())):
            if not part.consumable:
                price = 180 + 430 * (number % 7) + 1900 * (number % 3)
                PartPrice.objects.create(
                    shop=shop, part=name, book=book.name, name=part.text, price_minor=price
                )


def _machine(shop: Shop, about: Mapping[str, Any], stored: StoredBook) -> Machine:
    book = content_store.book_of(shop, stored.current.sha256)
    owner = Owner.objects.create(shop=shop, **about["owner"])
    told = {key: about[key] for key in ("plate", "identification", "year", "colour")}
    made = book.machine
    maker, model = (made.maker, made.model) if made else ("", book.title)
    machine = Machine.objects.create(
        shop=shop, owner=owner, book=stored, maker=maker, model=model, **told
    )
    for job, (known, km, months, source) in about.get("history", {}).items():
        never = known == "never"
        LastDoneKnown.objects.create(
            shop=shop,
            machine=machine,
            job=job,
            known=known,
            km=None if never else float(km),
            on=None if never else add_months(timezone.localdate(), -months),
            source=source,
        )
    return machine


# ---------------------------------------------------------------- visits


def bring(technician: Desk, helper: Desk, machine: Machine, about: Mapping[str, Any]) -> None:
    """Take a machine in and bring its visit to the stage named: through forms' entries, planner and gates."""
    visit = store.open_visit(technician, machine)
    stage = STAGES.index(about["stage"])
    _record(technician, visit, _arrived(machine, about))
    _record(technician, visit, iter(_codes(about, BEFORE)))
    if stage > STAGES.index("needs"):
        _record(technician, visit, _taken(visit, about["service"]))
        _record(technician, visit, _offered(visit))
    if stage > STAGES.index("price"):
        _record(technician, visit, _agreed(visit))
    if about["stage"] == "gone" and "answer" in about:
        _record(technician, visit, _complaint_answered(about))
    if stage >= STAGES.index("order"):
        _record(technician, visit, _order(visit))
    if stage >= STAGES.index("bench"):
        last = _codes(about, AFTER) if about["stage"] == "gone" else []
        work_through(technician, helper, visit, most=about.get("cards"), last=last)


def _record(desk: Desk, visit: Visit, acts: Iterator[store.EntryDraft]) -> None:
    every = list(acts)
    if every:
        store.record_all(desk, visit, store.Ticket(str(new_id())), every)


def _arrived(machine: Machine, about: Mapping[str, Any]) -> Iterator[store.EntryDraft]:
    assert machine.book is not None
    told = {
        key: about[key] for key in ("complaint", "owner_said", "keys", "fobs", "luggage", "fuel")
    }
    wanted: date = timezone.localdate() + timedelta(days=1)
    yield (
        "arrived",
        {
            "machine": str(machine.pk),
            "owner": str(machine.owner_id),
            "wanted_by": wanted.isoformat(),
            "may_ride": True,
            "old_parts_back": False,
            "alarm": False,
            **told,
        },
    )
    yield "odometer", {"km": float(about["odometer_km"]), "text": f"{about['odometer_km']} km"}
    yield "book_pinned", {"revision": machine.book.current.sha256}
    asked = _asked(content_store.book_of(machine.shop, machine.book.current.sha256))
    if asked:
        yield "states_found", {"states": asked}


def _codes(about: Mapping[str, Any], moment: str) -> list[store.EntryDraft]:
    """What the reader showed at this moment, pasted as it was; and that the codes were cleared before it."""
    told = about.get("codes", {}).get("before" if moment == BEFORE else "after", "")
    if not told:
        return []
    body = body_of(read_pasted(told), told.strip(), moment, adds=False)
    cleared: list[store.EntryDraft] = [("codes_cleared", {"text": "all units", "copied": True})]
    return [*(cleared if moment == AFTER else []), ("codes_read", body)]


def _asked(book: Book) -> dict[str, str]:
    return {name: condition.start for name, condition in book.conditions.items() if condition.asked}


def _taken(visit: Visit, service: str) -> Iterator[store.EntryDraft]:
    work = read(visit)
    for job in selection(work.book, [service]):
        yield "job_taken", {"job": job, "because": work.book.services[service].text}


def _offered(visit: Visit) -> Iterator[store.EntryDraft]:
    work = read(visit)
    made = pricing.priced(work, work.state.taken)
    sha256 = pricing.keep_offer(work.visit.shop, made)
    yield "offered", {"estimate": sha256, "lines": [line.id for line in made.estimate.lines]}


def _agreed(visit: Visit) -> Iterator[store.EntryDraft]:
    work = read(visit)
    offer = work.state.offers[-1]
    for line in offer.lines:
        said = {"estimate": offer.estimate, "line": line, "verdict": "yes", "by": work.state.owner}
        yield "answered", {**said, "how": "by telephone"}


def _complaint_answered(about: Mapping[str, Any]) -> Iterator[store.EntryDraft]:
    """Closed once the lines it names are done."""
    yield "complaint_answered", {"complaint": about["complaint"], **about["answer"]}


def _order(visit: Visit) -> Iterator[store.EntryDraft]:
    work = read(visit)
    made = planning.ordered(work, planning.to_do(work))
    yield "plan_taken", {"plan": planning.keep(work.visit.shop, made)}
