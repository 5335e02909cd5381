"""A price of which a reading decides: from … to at most …, the same on page, paper and in what is charged."""

import re
from decimal import Decimal
from io import BytesIO

import pytest
from pypdf import PdfReader

from tests.fixtures.undecided import taken_in
from tests.shop.day import text_of
from tests.shop.test_price import answered, fields, offer, path
from witnessmark.shop import store
from witnessmark.shop.models import PartPrice
from witnessmark.shop.work import pricing
from witnessmark.shop.work.visit import read

pytestmark = pytest.mark.postgres_long


def round_of(shop, desk, undecided):
    """A round of the machine: a minute is a euro, a fifth of tax. By pencil (`tests/money/test_cases.py`): without tax
    34.00 where the tyre is pumped, 36.00 where it is marked.
    """
    shop.labour_per_hour, shop.tax_rates, shop.usual_tax = Decimal(60), {"full": "20"}, "full"
    shop.save()
    for part, minor in (("valve", 500), ("label", 400), ("tyre", 9000)):
        PartPrice(shop=shop, part=part, price_minor=minor).save()
    return taken_in(desk, undecided)


@pytest.fixture
def visit(shop, desk, undecided):
    return round_of(shop, desk, undecided)


@pytest.fixture
def tab(technician, client_of):
    return client_of(technician)


def paper(tab, visit, name="estimate"):
    pages = PdfReader(BytesIO(tab.get(path(visit, "papers", f"{name}.pdf")).content)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_a_line_says_from_what_to_at_most_what_and_what_decides(tab, visit):
    said = text_of(tab.get(path(visit)))
    assert "From €40.80 to at most €43.20 with tax: readings decide." in said
    assert re.search(
        r"Walk round at most if: Depth of tread below 1.6 mm €40.80 to at most €43.20", said
    )
    assert (
        "without tax, if: Depth of tread within its limits Labour, 29 min €29.00 Tyre valve €5.00"
        in said
    )
    assert "without tax, if: Depth of tread below 1.6 mm Labour, 27 min €27.00" in said
    assert "Offer at most €43.20" in said


def test_one_yes_covers_both_up_to_the_most(tab, visit):
    assert offer(tab, visit).status_code == 303
    asked = text_of(tab.get(path(visit)))
    assert "1 line, €40.80 to at most €43.20 with tax: ask the owner. One yes covers" in asked
    answered(tab, visit, round="yes")
    assert "Everything is answered. At most €43.20 with tax." in text_of(tab.get(path(visit)))
    kept = pricing.offered(read(visit))
    assert (kept.least.gross_minor, kept.gross_minor) == (4080, 4320), (
        "both ends are kept under the hash"
    )


def test_the_estimate_on_paper_says_the_same_to_the_cent(tab, visit):
    offer(tab, visit)
    said = paper(tab, visit)
    assert "€34.00 to at most €36.00" in said
    assert "At most, as listed, if: Depth of tread below 1.6 mm" in said
    assert "At most, with tax €43.20" in said
    assert "At least, with tax €40.80" in said


def test_the_page_of_an_estimate_offered_before_says_it_too(tab, visit):
    offer(tab, visit)
    kept = store.state(visit).offers[0].estimate
    said = text_of(tab.get(path(visit, rest=f"estimates/{kept}/")))
    assert "€40.80 to at most €43.20" in said
    assert "At most, with tax €43.20 At least, with tax €40.80" in said


@pytest.mark.parametrize(("step", "value", "gross"), [("pump", 4.0, 4080), ("mark", 1.2, 4320)])
def test_what_was_done_decides_what_is_charged(tab, desk, visit, step, value, gross):
    offer(tab, visit)
    answered(tab, visit, round="yes")
    store.record(desk, visit, "read", {"reading": "tread", "step": "round/tread", "value": value})
    for name in ("tread", "valve", step):
        store.record(desk, visit, "done", {"step": f"round/{name}"})
    assert pricing.charged(read(visit), ["round"]).gross_minor == gross
    assert f"€{gross / 100:.2f}" in paper(tab, visit, "service-record")


def test_a_reading_taken_before_the_offer_leaves_one_price(tab, desk, visit):
    """It was read on this visit: nothing is left to decide, and the price is the one of what is found."""
    store.record(desk, visit, "read", {"reading": "tread", "step": "round/tread", "value": 4.0})
    assert "at most if" not in text_of(tab.get(path(visit)))


def test_another_way_of_the_same_line_is_a_new_price(tab, visit, shop):
    """The most is the same, the least is not: it is offered anew."""
    offer(tab, visit)
    PartPrice(shop=shop, part="valve", book="brannock_t9_small", price_minor=500).save()
    assert "Offer at most" not in text_of(tab.get(path(visit)))
    shop.flat_prices = {"brannock_t9_small": {"round": 2700}}
    shop.save()
    assert "Offer at most €43.20" in text_of(tab.get(path(visit)))


def test_a_price_sent_from_an_old_page_is_not_offered(tab, desk, visit):
    """The tread was read meanwhile: the form has the hash of a price that is none any more."""
    old = fields(tab.get(path(visit)))
    store.record(desk, visit, "read", {"reading": "tread", "step": "round/tread", "value": 4.0})
    got = tab.post(path(visit, rest="offer/"), old)
    assert got.status_code == 422
    assert "has changed since" in got.content.decode()
