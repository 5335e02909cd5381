"""Whatever was stored is shown: every page and paper, over a store with odd content, and over the demo's."""

import hashlib
import logging
import re
from datetime import timedelta
from itertools import cycle

import pytest
from django.utils import timezone

from tests.fixtures.shop import new_machine
from tests.fixtures.tour import put
from tests.shop.test_scope import ADDRESSES, a_row_of_everything, path_of
from witnessmark.shop import content_store, store
from witnessmark.shop.models import BookRevision, EstimateKept, PlanKept, Visit

PAPERS = [
    "estimate",
    "job-card",
    "road-test",
    "service-record",
    "call-back",
    "not-ridden",
    "declined",
]
ODD = [
    "42A", "(99A)", "0/0 R 0", "DOT", "DOT 0099", "120/70 ZR 17 M/C (58W) DOT 2319", "Ж" * 30, "\u202e12",
    "A" * 400, "<script>", "{{ x }}", "%s %d", "\x07bell", "1e400", "٣٤", "🏍", "-", "0", "½ tank", "'; --",
]  # fmt: skip


@pytest.fixture
def tab(technician, client_of):
    client = client_of(technician)
    client.raise_request_exception = False
    return client


@pytest.fixture
def unshown(caplog):
    """Parts of pages that could not be shown, as logged."""
    caplog.set_level(logging.ERROR, logger="witnessmark.shop.parts")
    return lambda: [r.getMessage() for r in caplog.records if r.name == "witnessmark.shop.parts"]


LISTS = {"today", "machines", "board"}


def odd_visit(desk, small_book, texts: list[str]) -> Visit:
    """A visit in which everything that takes a text has one of these, and what the book does not know is done."""
    turn = cycle(texts)
    machine = new_machine(desk.shop, next(turn)[:12].strip() or "x", "Ines Calder", small_book)
    machine.identification, machine.note = next(turn)[:17], next(turn)
    machine.save()
    visit = store.open_visit(desk, machine)
    put(
        desk, visit,
        ("arrived", {
            "machine": str(machine.pk), "owner": str(machine.owner_id), "keys": 1, "complaint": next(turn),
            "look": {"tyre_front": next(turn), "tyre_rear": next(turn), "paint": next(turn), "fuel": next(turn)},
        }),
        ("odometer", {"km": 0.0, "text": next(turn)[:40]}),
        ("book_pinned", {"revision": small_book.current.sha256}),
        ("job_taken", {"job": "tyre", "because": next(turn)}),
        ("noted", {"text": next(turn)}),
        ("found", {"text": next(turn), "safety": True}),
        ("codes_cleared", {"text": next(turn)}),
        ("read", {"reading": "tread", "step": "tyre/swap", "value": 1.2, "text": next(turn)}),
        ("read", {"reading": "no_such", "step": "nowhere/at_all", "words": next(turn)}),
        ("done", {"step": "nowhere/at_all"}),
        ("tightened", {"fastener": "no_such", "set_nm": 9999.0, "clicked": True}),
        ("photo", {"sha256": "b" * 64, "media_type": "image/jpeg", "text": next(turn)}),
        ("wont", {"step": "tyre/swap", "what": "stuck", "safe_now": next(turn), "text": next(turn)}),
    )  # fmt: skip
    return visit


def addresses(rows, *, all_of_them: bool = False) -> list[str]:
    """Every address of these rows and the lists they stand in, or all; and every paper."""
    made = [
        path_of(a, rows)
        for a in ADDRESSES
        if (named := set(re.findall(r"<uuid:(\w+)>", str(a.pattern)))) <= rows.keys()
        and (named or all_of_them or a.name in LISTS)
    ]
    return made + [
        f"/visits/{rows['visit'].pk}/papers/{paper}.pdf" for paper in PAPERS if "visit" in rows
    ]


def words(page) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.content.decode()))


def broken(tab, paths) -> list[str]:
    """The addresses that answer with a fault of ours, or that they cannot be read."""
    return [path for path in paths if is_broken(tab.get(path))]


def is_broken(page) -> bool:
    return page.status_code == 409 or page.status_code >= 500


@pytest.mark.parametrize("nth", range(4))
def test_odd_texts_are_shown_where_they_were_stored(tab, desk, small_book, unshown, nth):
    visit = odd_visit(desk, small_book, ODD[nth::4])
    rows = {"visit": visit, "machine": visit.machine, "owner": visit.machine.owner}
    assert broken(tab, addresses(rows)) == []
    assert unshown() == []


def test_every_address_is_shown_over_a_row_of_everything(tab, desk, visit, unshown):
    rows = a_row_of_everything(desk, visit)
    every = [path for path in addresses(rows, all_of_them=True) if "/photos/" not in path]
    assert broken(tab, every) == []  # the photo's file is not there, and its own address says so
    assert unshown() == []


def test_a_visit_without_book_job_or_estimate_is_shown(tab, desk, machine, unshown):
    visit = store.open_visit(desk, machine)
    rows = {"visit": visit, "machine": machine, "owner": machine.owner}
    assert broken(tab, addresses(rows)) == []
    put(
        desk,
        visit,
        ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id), "keys": 0}),
    )
    assert broken(tab, addresses(rows)) == []
    assert unshown() == []


def test_a_machine_whose_owner_was_erased_is_shown(tab, desk, visit, unshown):
    owner = visit.machine.owner
    owner.name, owner.phone, owner.erased_on = (
        "owner erased",
        "",
        timezone.localdate() - timedelta(1),
    )
    owner.save()
    rows = {"visit": visit, "machine": visit.machine, "owner": owner}
    assert broken(tab, addresses(rows)) == []
    assert unshown() == []


def test_a_job_card_lists_fasteners_that_are_only_counted(tab, desk, tour):
    """That was the job card of the demo's scooter: a group without a figure has no rounds."""
    page = tab.get(f"/visits/{tour.pk}/order/").content.decode()
    sent = dict(re.findall(r'name="(entry_id|plan)" value="([^"]+)"', page))
    seen = re.search(r'name="seen" value="([^"]*)"', page)[1].replace("&quot;", '"')
    tab.post(f"/visits/{tour.pk}/order/take/", sent | {"seen": seen})
    assert store.state(tour).plan
    assert tab.get(f"/visits/{tour.pk}/papers/job-card.pdf").status_code == 200


def test_a_book_that_cannot_be_read_leaves_the_rest_of_the_machines_page(tab, desk, visit, unshown):
    """Its kept form is none; a visit that pinned it says so in words on all its pages."""
    row = BookRevision(shop=desk.shop, sha256="c" * 64, content=b"{}")
    row.save()
    visit.machine.book.current = row
    visit.machine.book.save()
    put(desk, visit, ("noted", {"text": "before"}))
    page = words(tab.get(f"/machines/{visit.machine.pk}/"))
    assert "Last done: this part cannot be shown" in page
    assert "Ines Calder" in page
    assert "rear tyre worn" in page
    assert unshown()


def test_an_order_and_an_estimate_that_cannot_be_read_are_told_and_can_be_made_anew(
    tab, desk, visit
):
    for model in (PlanKept, EstimateKept):
        content_store.keep(desk.shop, model, b'{"format": 0}')
    sha256 = hashlib.sha256(b'{"format": 0}').hexdigest()
    put(
        desk,
        visit,
        ("offered", {"estimate": sha256, "lines": ["tyre"]}),
        ("plan_taken", {"plan": sha256}),
    )
    rows = {"visit": visit, "machine": visit.machine, "owner": visit.machine.owner}
    told = broken(tab, addresses(rows))
    assert told
    assert {tab.get(path).status_code for path in told} == {409}
    assert not [path for path in told if "/bench/" in path and "owner" not in path]
    assert "cannot be read any more" in words(tab.get(f"/visits/{visit.pk}/bench/"))
    assert "The kept estimate does not say its format" in words(
        tab.get(f"/visits/{visit.pk}/price/")
    )
