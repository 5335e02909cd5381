"""No shop sees, changes or learns of another shop's rows, at any address."""

import json
import re
from collections.abc import Iterable, Iterator
from http.cookies import SimpleCookie
from pathlib import Path

import pytest
from django.apps import apps
from django.db import models, transaction
from django.test import Client
from django.urls import URLPattern, get_resolver

import witnessmark.shop
from tests.fixtures.shop import new_machine
from witnessmark.shop import store
from witnessmark.shop.content_store import keep
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import (
    ChangeKept,
    DecidedRow,
    DeclinedLine,
    DocumentKept,
    DocumentSeries,
    DoubtfulMark,
    EstimateKept,
    ForeignShopError,
    KnownSender,
    LastDoneKnown,
    LastDoneRow,
    Machine,
    OwedRow,
    PartPrice,
    PhotoKept,
    PlanKept,
    Receipt,
    RepairDraft,
    ShimStock,
    Shop,
    ShopRow,
    StockPack,
    Visit,
    WasteContainer,
    WasteMove,
    WasteRow,
    Wrench,
    WrenchDay,
    WrenchEvent,
    WrenchMark,
)  # fmt: skip

OPEN_DOORS = {"sign-in", "look", "open-shop"}  # no sign-in needed
# Words that stand only in rows of the first shop, and must never reach the other.
SECRETS = ["Cairnhill", "Ines Calder", "12-QX-81", "INV12-QX-81", "rear tyre worn", "555 0100",
           "Secret wrench", "Secret oil", "Secret part", "Secret drum", "Secret shims", "Secret repair",
           "secret source", "one wheel of it", "Secret sender", "Secret number"]  # fmt: skip

Rows = dict[str, ShopRow]


def addresses() -> list[URLPattern]:
    """Every address of the site, from the URLconf itself, so that new pages are covered."""

    def walk(patterns: list) -> Iterator[URLPattern]:
        for one in patterns:
            if isinstance(one, URLPattern):
                yield one
            else:
                yield from walk(one.url_patterns)

    return list(walk(get_resolver().url_patterns))


ADDRESSES = addresses()


def path_of(address: URLPattern, rows: Rows) -> str:
    """The path with each `<uuid:table>` filled by that table's row, anything else by "x"."""

    def fill(match: re.Match) -> str:
        kind, name = match["kind"], match["name"]
        if kind == "uuid":
            assert name in rows, (
                f"{address.pattern}: name the parameter after its table, not {name}"
            )
            return str(rows[name].pk)
        return "1" if kind == "int" else "x"

    return "/" + re.sub(r"<(?:(?P<kind>\w+):)?(?P<name>\w+)>", fill, str(address.pattern))


def a_row_of_everything(desk, visit) -> Rows:
    """One row of every table of the shop, by the name of its table."""
    shop, machine = desk.shop, visit.machine
    store.record(desk, visit, "done", {"step": "wheel_off"})
    store.record(desk, visit, "read", {
        "reading": "tread", "step": "tyre/swap", "value": 1.2, "text": "1.2 mm"})  # fmt: skip
    ticket = store.Ticket(str(new_id()))
    for text in ("rear tyre worn", "rear tyre worn out"):
        store.record_all(desk, visit, ticket, [("noted", {"text": text})])
    keep(shop, PlanKept, b"{}")
    keep(shop, EstimateKept, b"{}")
    DocumentKept(
        shop=shop, sha256="a" * 64, content=b"{}", series="invoice", number=1, name="Secret number"
    ).save()
    DocumentSeries(shop=shop, name="invoice").save()
    OwedRow(
        id=new_id(), shop=shop, visit=visit, name="Secret number", currency="EUR", open_minor=1
    ).save()
    ChangeKept(
        shop=shop, by=desk.member, about="Secret wrench", what="name", before="x", after="y"
    ).save()
    for row in (
        wrench := Wrench(shop=shop, name="Secret wrench", low_nm=20, high_nm=100),
        event := WrenchEvent(shop=shop, wrench=wrench, kind="dropped", on="2026-01-01"),
        StockPack(shop=shop, name="Secret oil", fluid="oil", family="engine oil", size_ml=1000),
        PartPrice(shop=shop, part="ring", name="Secret part", price_minor=120),
        KnownSender(shop=shop, name="Secret sender", key="0" * 64),
        drum := WasteContainer(shop=shop, name="Secret drum", stream="used oil", capacity_ml=60000),
        WasteMove(
            shop=shop,
            container=drum,
            kind="put in",
            volume_ml=900,
            on="2026-01-01",
            note="Secret drum",
        ),
        ShimStock(shop=shop, kind="Secret shims", size_um=2300),
        Receipt(shop=shop, visit=visit, member=desk.member, form="a" * 64, to="/", said="Saved."),
        RepairDraft(
            shop=shop,
            visit=visit,
            said={
                "job": {"text": "Secret repair", "steps": []},
                "prices": {},
                "tests": [],
                "cause": "",
            },
        ),
        PhotoKept(shop=shop, sha256="a" * 64, media_type="image/jpeg", width=1, height=1),
        LastDoneKnown(shop=shop, machine=machine, job="tyre", known="word", source="secret source"),
    ):
        row.save()
    day = {"on": "2026-01-01", "shop": shop, "visit": visit, "machine": machine}
    LastDoneRow(id=new_id(), job="tyre", **day).save()
    WrenchMark(id=new_id(), wrench=wrench.pk, entry=new_id(), fastener="x", place=1, words="x", safety=False,
               at=visit.summary.last_at, shown_nm=60, got_nm=60, stands=True, **day).save()  # fmt: skip
    WasteRow(id=new_id(), container=drum.pk, into="Secret drum", fluid="oil", family="engine oil", volume_ml=900,
             step="oil/drain", entry=new_id(), **day).save()  # fmt: skip
    DecidedRow(id=new_id(), shop=shop, visit=visit, book="small", unknown="x", yes=True).save()
    WrenchDay(id=new_id(), shop=shop, wrench=wrench.pk, on="2026-01-01", marks=1).save()
    DoubtfulMark(id=new_id(), shop=shop, event=event, machine=machine, entry=new_id()).save()
    DecidedRow(
        id=new_id(), shop=shop, visit=visit, book="secret", unknown="tread outside", yes=True
    ).save()
    DeclinedLine(id=new_id(), line="tyre", words="Secret part", estimate="a" * 64, **day).save()
    return {m._meta.model_name: m.objects.filter(shop=shop).first() for m in shop_models()}


def shop_models() -> list[type[ShopRow]]:
    return [m for m in apps.get_app_config("shop").get_models() if m is not Shop]


def everything_of(shop: Shop) -> str:
    """All rows of a shop as text."""
    return json.dumps([
        [m.__name__, *m.objects.filter(shop=shop).order_by("pk").values()] for m in shop_models()
    ] + [list(Shop.objects.filter(pk=shop.pk).values())], default=repr)  # fmt: skip


@pytest.fixture
def rows(desk, visit) -> Rows:
    return a_row_of_everything(desk, visit)


@pytest.fixture
def strangers(shop_next_door, stranger, client_of) -> Client:
    return client_of(stranger)


def test_every_table_has_its_shop_and_a_uuid():
    for model in shop_models():
        assert issubclass(model, ShopRow)
        assert not model._meta.get_field("shop").null
        assert isinstance(model._meta.pk, models.UUIDField)


def test_the_walk_has_a_row_of_every_table(rows):
    """Else an address of that table would be tried with nothing that could leak."""
    assert [name for name, row in rows.items() if row is None] == []


def each(addresses: Iterable[URLPattern], client: Client) -> Iterator[URLPattern]:
    """Each address by itself: what was done at one is undone, in the database and in the browser."""
    cookies = {name: one.value for name, one in client.cookies.items()}
    for address in addresses:
        place = transaction.savepoint()
        yield address
        transaction.savepoint_rollback(place)
        client.cookies = SimpleCookie(cookies)


def test_another_shop_finds_nothing_at_any_address(rows, desk, strangers):
    """With rows of the first shop: 404 and no change. Without: none of its words in the answer."""
    before = everything_of(desk.shop)
    query = {name: str(row.pk) for name, row in rows.items()}
    for address in each(ADDRESSES, strangers):
        path = path_of(address, rows)
        got = strangers.get(path, query)
        sent = strangers.post(path, query | {"entry_id": str(new_id()), "seen": "{}"})

        assert everything_of(desk.shop) == before, path
        if "<uuid:" in str(address.pattern):
            assert {got.status_code, sent.status_code} <= {404, 405}, path
            assert 404 in {got.status_code, sent.status_code}, path
        for answer in (got, sent):
            said = b"".join(answer.streaming_content) if answer.streaming else answer.content
            assert [word for word in SECRETS if word.encode() in said] == [], path


def test_the_shop_itself_is_answered_there(rows, technician, client_of):
    """So that the 404 of the other shop means something."""
    own = client_of(technician)
    there = (
        a for a in ADDRESSES if "<uuid:" in str(a.pattern) and a.name != "photo"
    )  # test_photos
    for address in each(there, own):
        others = re.sub(r"<uuid:\w+>", "", str(address.pattern))
        answer = own.get(path_of(address, rows))

        assert answer.status_code < 500, address.pattern
        if "<" not in others:
            assert answer.status_code != 404, address.pattern


def test_rows_of_another_shop_named_in_a_form_are_not_taken(
    rows, desk, strangers, shop_next_door, stranger
):
    """At an address of its own, a shop may name another's rows in query or form: nothing comes of it."""
    machine = new_machine(shop_next_door, "99-ZZ-99", "Own Owner", phone="555 0177")
    own: Rows = {"machine": machine}
    own["visit"] = store.open_visit(type(desk)(stranger, new_id()), machine)
    before = everything_of(desk.shop)
    query = {other: str(row.pk) for other, row in rows.items()}
    there = [
        a for a in ADDRESSES if re.fullmatch(r"[^<]*<uuid:(machine|visit)>[^<]*", str(a.pattern))
    ]
    for address in each(there, strangers):
        path = path_of(address, own)
        got = strangers.get(path, query)
        sent = strangers.post(path, query | {"entry_id": str(new_id()), "seen": "{}"})

        assert everything_of(desk.shop) == before, path
        for answer in (got, sent):
            assert answer.status_code < 500, path
            assert [
                w for w in SECRETS if not answer.streaming and w.encode() in answer.content
            ] == [], path


def test_nobody_comes_in_without_signing_in(rows, client):
    for address in each((a for a in ADDRESSES if a.name not in OPEN_DOORS), client):
        for answer in (client.get(path_of(address, rows)), client.post(path_of(address, rows))):
            assert (answer.status_code, answer.url.split("?")[0]) == (302, "/sign-in/"), address


def test_a_row_cannot_point_at_another_shops_row(machine, shop_next_door, stranger, client_of):
    with pytest.raises(ForeignShopError, match="belongs to another shop"):
        Machine(shop=shop_next_door, owner=machine.owner, maker="x", model="y").save()
    with pytest.raises(ForeignShopError):
        Visit(shop=shop_next_door, machine=machine, number=1).save()


def test_pages_reach_rows_through_the_desk_only():
    """One scoped access path: no page uses a manager of a model."""
    pages = Path(witnessmark.shop.__file__).parent / "pages"
    found = [
        f"{file.relative_to(pages)}:{number}"
        for file in sorted(pages.rglob("*.py"))
        for number, line in enumerate(file.read_text().splitlines(), 1)
        if re.search(r"\.(objects|_default_manager)\b|get_object_or_404", line)
    ]
    assert found == []


def test_a_sign_in_without_a_shop_is_told_so(database, django_user_model, client):
    client.force_login(django_user_model.objects.create_user("nobody"))
    answer = client.get("/")

    assert answer.status_code == 403
    assert "belongs to no shop" in answer.content.decode()
