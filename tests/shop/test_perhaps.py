"""Parts that a reading may ask for: apart in the kit, with their chance, and whether to order them now, in words."""

from decimal import Decimal

import pytest

from tests.fixtures.undecided import taken_in
from tests.shop.day import text_of
from tests.shop.filled import faults_of, send
from tests.shop.test_price_undecided import paper
from witnessmark.shop import store
from witnessmark.shop.models import PartPrice
from witnessmark.shop.work import planning, pricing
from witnessmark.shop.work.visit import read


@pytest.fixture
def visit(shop, desk, undecided):
    """A round: the label with a tread below its least, and the tyre where that is outside its limits, at 30 % each."""
    shop.delay_per_day, shop.return_cost, shop.return_percent = Decimal(40), Decimal(5), Decimal(10)
    shop.save()
    for part, minor, days in (("valve", 500, None), ("label", 400, None), ("tyre", 9000, 3)):
        PartPrice(shop=shop, part=part, price_minor=minor, delivery_days=days).save()
    return taken_in(desk, undecided)


@pytest.fixture
def client(technician, client_of):
    return client_of(technician)


def laid_out(visit):
    work = read(visit)
    return pricing.laid_out(work, planning.planned(work, ["round"]).answer)


def shown(visit, text):
    return next(one for one in laid_out(visit).perhaps if one.text == text)


def test_order_it_or_not_is_said_with_its_figures(visit, shop):
    """By pencil: 0.3 × 3 × 40.00 = 36.00; 0.7 × (10 % of 90.00 + 5.00) = 9.80."""
    laid = laid_out(visit)
    assert [need.text for need in laid.parts] == ["Tyre valve"]
    assert [one.text for one in laid.perhaps] == ["Label", "Rear tyre"]
    tyre = shown(visit, "Rear tyre")
    assert tyre.chance == (
        "30\u00a0%, if: Depth of tread outside its limits (invented figure of the book: 30\u00a0%)"
    )
    assert tyre.order
    assert tyre.advice == (
        "Order now: 30\u00a0% × 3 days × €40.00 = €36.00, more than €9.80 for sending it back."
    )
    shop.delay_per_day = Decimal(10)
    shop.save()
    dear = shown(visit, "Rear tyre")
    assert not dear.order
    assert dear.advice == (
        "Do not order yet: 30\u00a0% × 3 days × €10.00 = €9.00, no more than €9.80 for sending it back."
    )


def test_what_is_not_known_is_said_and_not_weighed(visit, shop):
    assert "how many days" in shown(visit, "Label").advice
    PartPrice.objects.filter(part="label").delete()
    assert "the part has no price" in shown(visit, "Label").advice
    shop.delay_per_day = Decimal(0)
    shop.save()
    for text in ("Label", "Rear tyre"):
        assert "what a day’s delay costs is not entered" in shown(visit, text).advice
        assert not shown(visit, text).order


def test_the_shops_own_counts_move_the_chance(visit, desk, undecided):
    for plate, value in (("A-1", 1.0), ("A-2", 1.1), ("A-3", 4.0)):
        body = {"reading": "tread", "step": "round/tread", "value": value}
        store.record(desk, taken_in(desk, undecided, plate), "read", body)
    assert shown(visit, "Rear tyre").chance == (  # (4 × 0.3 + 2) / (4 + 3)
        "46\u00a0%, if: Depth of tread outside its limits (2 of 3 here; the book says 30\u00a0% (invented))"
    )


def test_once_it_was_read_nothing_is_perhaps(visit, desk):
    store.record(desk, visit, "read", {"reading": "tread", "step": "round/tread", "value": 1.0})
    laid = laid_out(visit)
    assert laid.perhaps == ()
    assert {need.text for need in laid.parts} == {"Tyre valve", "Label"}


def test_a_job_taken_on_or_declined_is_not_perhaps(desk, visit, undecided):
    both = taken_in(desk, undecided, "B-1", jobs=("round", "tyre"))
    assert "Rear tyre" not in [one.text for one in laid_out(both).perhaps]


def test_the_order_and_the_job_card_tell_it(client, visit, desk):
    work = read(visit)
    made = planning.ordered(work, ["round"])
    sha256 = planning.keep(visit.shop, made)
    offered = pricing.keep_offer(visit.shop, pricing.priced(work, ["round"]))
    store.record(desk, visit, "offered", {"estimate": offered, "lines": ["round"]})
    store.record(desk, visit, "answered", {
        "estimate": offered, "line": "round", "verdict": "yes",
        "by": str(visit.machine.owner_id), "how": "in person"})  # fmt: skip
    store.record(desk, visit, "plan_taken", {"plan": sha256})
    said = text_of(client.get(f"/visits/{visit.pk}/order/"))
    assert "Parts that are perhaps needed" in said
    assert "Order now: 30 % × 3 days × €40.00 = €36.00" in said
    card = paper(client, visit, "job-card")
    assert "Perhaps needed" in card
    assert "Rear tyre" in card


def test_days_of_delivery_are_entered_beside_the_prices(client, visit, undecided, shop):
    address = f"/shop/prices/{undecided.pk}/"
    send(client, address, {"tyre": "90.00"})
    send(client, address, {"days-tyre": "4"})
    row = PartPrice.objects.get(part="tyre", book="brannock_t9_small")
    assert (row.price_minor, row.delivery_days) == (9000, 4)
    for typed in ("-1", "400", "soon"):
        got = send(client, address, {"days-tyre": typed})
        assert got.status_code != 303
        assert faults_of(got)
    send(client, address, {"days-tyre": ""})
    row.refresh_from_db()
    assert (row.price_minor, row.delivery_days) == (9000, None)


def test_what_a_delay_costs_is_entered_with_the_money(client, shop):
    send(
        client,
        "/shop/money/",
        {"delay_per_day": "35,50", "return_cost": "6", "return_percent": "15 %"},
    )
    shop.refresh_from_db()
    told = (shop.delay_per_day, shop.return_cost, shop.return_percent)
    assert told == (Decimal("35.5"), 6, 15)
    for bad in ({"delay_per_day": "-3"}, {"return_percent": "101"}, {"return_cost": "much"}):
        got = send(client, "/shop/money/", bad)
        assert got.status_code != 303
        assert faults_of(got)
    shop.refresh_from_db()
    assert (shop.delay_per_day, shop.return_percent) == (Decimal("35.5"), 15)
