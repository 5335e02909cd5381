"""From an empty store to the first card of an oil change on a model the tool has never seen, by screens alone."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from screenshots import SIZES, faults
from tests.browser.first_screen import OFF_SCREEN
from witnessmark.shop.models import Member, Shop, StoredBook

pytestmark = pytest.mark.browser

MOST_ENTRIES = 60


class Newcomer:
    """Somebody with an empty shop. An entry is a field typed, a tile or box chosen, or a tap that goes on."""

    def __init__(self, page: Page, shots: str | None) -> None:
        self.page, self.entries, self.shots, self.looks = page, 0, shots, 0

    def type(self, field: str, text: str) -> None:
        self.page.locator(f"[name='{field}']").fill(text)
        self.entries += 1

    def tap(self, words: str, role: str = "button", *, within: str = "main") -> None:
        self.page.locator(within).get_by_role(role, name=words).first.click()
        self.page.wait_for_load_state()
        self.entries += 1

    def see(self, heading: str, **wanted: str) -> None:
        """The page one is led to: what is asked and what to tap are on its first screen, nothing is wrong with it."""
        expect(self.page.get_by_role("heading", level=1)).to_contain_text(heading, timeout=15_000)
        assert self.page.evaluate(OFF_SCREEN, {"heading": "h1", **wanted}) == []
        assert faults(self.page) == []
        if self.shots:
            self.looks += 1
            self.page.screenshot(path=Path(self.shots) / f"{self.looks:02d}.png", full_page=True)


def test_an_empty_shop_comes_to_the_first_card_of_an_oil_change(
    transactional_db, shop_settings, live_server, browser
):
    """On the phone: what fits there fits the tablet, and takes no fewer entries."""
    context = browser.new_context(viewport=SIZES["phone"])
    context.set_default_timeout(15_000)
    one = Newcomer(context.new_page(), os.environ.get("SHOTS"))
    one.page.goto(live_server.url)

    one.see("Open the shop", field="#id_shop", action=".act")
    one.type("shop", "Fell Lane Motorcycles")
    one.type("person", "Ada Fell")
    one.type("username", "ada")
    one.type("password", "clutch basket 7")
    one.tap("Open it")
    one.see("day", step=".line", action=".act")

    one.tap("What does an hour of labour cost?", "link")
    one.see("")
    one.type("labour_per_hour", "60")
    one.type("tax-0-name", "standard")
    one.type("tax-0-percent", "20")
    one.tap("Save")
    one.tap("Which torque wrenches are here?", "link")
    one.see("")
    one.type("name", "Small click wrench")
    one.type("high_nm", "60 N·m")
    one.tap("Save")
    one.tap("Witness Mark", "link", within="header")
    one.tap("Take in the first machine", "link")
    one.see("Which machine comes in?")
    one.tap("Without a service book", "link")
    one.see("Take in a machine", other="[name=build]", action=".act")
    one.type("machine-maker", "Orlo")
    one.type("machine-model", "400")
    one.type("machine-plate", "OR-400")
    one.type("owner-name", "Rui Marsh")
    one.type("odometer", "24000")
    one.type("complaint", "oil change")
    one.tap("Say how it is built, then go on here")
    one.see("How is it built?", action=".act")
    one.tap("Four in line, naked")
    one.see("How is it built?", slot=".slot summary", action=".act")
    one.tap("Start it, and go on")
    one.see("Take in: Orlo 400", field="#id_machine-plate", action=".act")
    expect(one.page.locator("#id_odometer")).to_have_value("24000")
    one.tap("Take it in")
    one.see("Arrival", plate=".where .plate", action=".act")

    one.tap("What’s due")
    one.see("What’s due", none="main a.quiet", action=".act")
    one.tap("Tick none", "link")
    one.page.locator(".choose", has_text="Engine oil and filter").first.click()
    one.entries += 1
    one.tap("Book these jobs")
    one.see("Price", action=".act")
    one.tap("Enter the price", "link")
    one.see("Prices", field="#id_oil_filter", action=".act")
    one.type("oil_filter", "9.50")
    one.type("oil_plug_ring", "1.20")
    one.tap("Save")
    one.tap("Enter how much goes in", "link")
    one.see("4 of 7", field="[name=value]", action=".act")
    one.type("value", "3.2")
    one.type("page", "7")
    one.type("document", "Workshop manual")
    one.tap("Save")
    one.tap("Enter the price", "link")
    one.see("A bottle or can", field="#id_name", action=".act")
    for field, text in (("name", "Oil"), ("grade", "SAE 10W-40"), ("rating", "JASO MA2"), ("size_ml", "4 L"),
                        ("price_minor", "30")):  # fmt: skip
        one.type(field, text)
    one.tap("Save")
    one.tap("Offer")
    one.page.locator("label.tile", has_text="in person").first.click()
    one.tap("Yes to all")
    one.tap("To the order of work", "link")
    one.see("Order of work", action=".act")
    one.tap("Take this order")
    one.see("Run the engine warm", plate=".where .plate", action=".act")
    assert (Shop.objects.get().name, str(Member.objects.get())) == (
        "Fell Lane Motorcycles",
        "Ada Fell",
    )
    assert StoredBook.objects.get().title
    assert one.entries <= MOST_ENTRIES
    context.close()
