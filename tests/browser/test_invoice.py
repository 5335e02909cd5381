"""One visit's end in a real browser: nothing is open, the invoice is issued, printed and paid."""

import re

import pytest
from playwright.sync_api import expect

from screenshots import faults
from tests.browser.first_screen import off_screen
from tests.fixtures.tour import put
from witnessmark.shop import store
from witnessmark.shop.ids import new_id
from witnessmark.shop.work.hand_back import verdict
from witnessmark.shop.work.visit import read

pytestmark = [pytest.mark.browser, pytest.mark.postgres]


def everything_closed(desk, helper_desk, visit) -> None:
    wrench = {
        "wrench": str(new_id()),
        "wrench_proven": True,
        "set_nm": 60.0,
        "clicked": True,
        "step": "wheel_on",
    }
    put(desk, visit,
        ("read", {"reading": "tread", "step": "tyre/swap", "value": 8.0, "text": "8 mm"}),
        *(("tightened", {"fastener": "wheel_bolts", "index": n} | wrench) for n in (1, 2)),
        ("done", {"step": "wheel_on"}),
        ("complaint_answered", {"complaint": "rear tyre worn", "how": "put right", "text": "new tyre"}))  # fmt: skip
    looks = [item for item in read(visit).state.items if item.startswith("second look/")]
    if looks:
        put(helper_desk, visit, ("looked", {"items": looks}))
    put(desk, visit, ("walked_round", {}))
    assert verdict(read(visit), "hand-back").passes, verdict(read(visit), "hand-back").words


def test_from_nothing_open_to_the_paid_invoice(
    live_server, page, sign_in, technician, desk, helper_desk, to_invoice
):
    """Three taps to the print: the invoice, issue it, print it."""
    everything_closed(desk, helper_desk, to_invoice)
    sign_in(page, technician)
    page.goto(f"{live_server.url}/visits/{to_invoice.pk}/handback/")
    expect(page.get_by_role("heading", name="Nothing is open")).to_be_visible()

    page.locator("main").get_by_role("link", name="Invoice").click()  # 1
    expect(page.get_by_role("heading", name="Invoice", exact=True)).to_be_visible()
    assert off_screen(page, {"heading": "h1", "sum": ".total", "action": ".act"}) == []
    assert faults(page) == []
    page.get_by_role("button", name="Issue the invoice").click()  # 2
    to_print = page.get_by_role("link", name=re.compile("Print INV-"))
    expect(to_print).to_be_visible()
    assert off_screen(page, {"heading": "h1", "sum": ".total", "action": ".act"}) == []
    assert faults(page) == []
    printed = page.request.get(f"{live_server.url}{to_print.get_attribute('href')}")  # 3
    assert printed.body().startswith(b"%PDF")

    page.get_by_label("card", exact=True).first.check()
    page.get_by_role("button", name="Paid", exact=True).click()
    expect(page.get_by_text("Nothing is owed.")).to_be_visible()
    assert store.state(to_invoice).account.open_minor == 0
    page.goto(f"{live_server.url}/owed/")
    expect(page.get_by_text("Nobody owes anything.")).to_be_visible()


def test_a_line_partly_done_and_given_away_is_typed_on_a_phone(
    live_server, page, sign_in, technician, to_invoice
):
    sign_in(page, technician)
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(f"{live_server.url}/visits/{to_invoice.pk}/invoice/lines/tyre/")
    assert off_screen(page, {"heading": "h1", "action": ".act"}) == []
    page.get_by_label("partly done").check()
    page.get_by_label("What it came to, without tax").fill("20")
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_text("€27.60")).to_be_visible()
    assert faults(page) == []
