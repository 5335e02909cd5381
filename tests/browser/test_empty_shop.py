"""From an empty store to the door with a machine the tool has never seen, by screens alone."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from screenshots import SIZES, faults
from tests.browser.first_screen import OFF_SCREEN
from witnessmark.shop.models import Member, Shop, StoredBook

pytestmark = pytest.mark.browser

MOST_ENTRIES = 25  # of the 60 to the first card of an oil change


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


@pytest.mark.parametrize("size", SIZES)
def test_an_empty_shop_comes_to_the_door_with_its_own_book(
    transactional_db, shop_settings, live_server, browser, size
):
    context = browser.new_context(viewport=SIZES[size])
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
    one.page.goto(live_server.url)
    one.tap("Take in the first machine", "link")
    one.see("Which machine comes in?")
    one.tap("A model that is new here", "link")
    one.see("How is it built?", action=".act")
    one.tap("Four in line, naked")
    one.see("How is it built?", slot=".slot summary", action=".act")
    one.type("maker", "Orlo")
    one.type("model", "400")
    one.tap("Start it, and go on")
    one.see("Take in a", field="#id_machine-plate", action=".act")
    assert (Shop.objects.get().name, str(Member.objects.get())) == (
        "Fell Lane Motorcycles",
        "Ada Fell",
    )
    assert StoredBook.objects.get().title
    assert one.entries <= MOST_ENTRIES
    context.close()
