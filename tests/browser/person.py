"""A person at the tablet: taps, types and counts the taps."""

from __future__ import annotations

import re

from playwright.sync_api import Locator, Page, expect

from witnessmark.shop.models import Visit
from witnessmark.shop.work.cards import card_of
from witnessmark.shop.work.demo_technician import good_reading
from witnessmark.shop.work.visit import Work, read

READING = re.compile(r"reading-(?P<reading>.+)-(?P<place>\d+)")
MOST_TAPS = 400


class Person:
    """One signed-in person with a page of the real browser. Typing is not a tap; choosing a tile is."""

    def __init__(self, page: Page, url: str) -> None:
        self.page, self.url, self.taps = page, url, 0

    def go(self, path: str) -> None:
        """Open an address; not a tap, for the pages lead on from one another by their own buttons."""
        self.page.goto(f"{self.url}{path}")

    def tap(self, what: Locator) -> None:
        """Tap one thing that is there to be tapped, and wait for the page that follows."""
        what.click()
        self.page.wait_for_load_state()
        self.taps += 1

    def button(self, words: str | re.Pattern[str]) -> Locator:
        return self.page.get_by_role("button", name=words).first

    def do_every_card(self, visit: Visit) -> None:
        """Do the cards as the bench offers them, until none is left."""
        self.go(f"/visits/{visit.pk}/bench/")
        while self.page.locator(".card-form").count():
            assert self.taps < MOST_TAPS, "the bench never ends"
            self.do_card(read(visit))
        expect(self.page.get_by_role("heading", name="No card is left")).to_be_visible()

    def do_every_card_but_rides(self, visit: Visit) -> None:
        """Do cards until one is held by a gate."""
        self.go(f"/visits/{visit.pk}/bench/")
        while self.page.locator(".card-form").count():
            before = len(read(visit).entries)
            self.do_card(read(visit))
            if len(read(visit).entries) == before:
                return

    def do_card(self, work: Work) -> None:
        """Read what is to be read, tap each fastener in its order, then Done where that is still asked."""
        self.type_readings(work)
        card = self.page.get_by_role("heading", level=1).inner_text()
        while (bolt := self.page.locator("button.place.next")).count():
            self.tap(bolt.first)
            if self.page.get_by_role("heading", level=1).inner_text() != card:
                return  # the last tap closed the card
        if (
            not self.page.locator("button.place").count()
            and self.page.locator(".place.tight").count()
        ):
            return  # the card was closed by its last fastener and the next one bears the same name
        self.tap(self.page.locator(".card-form button[name=done]"))
        if (short := self.page.locator("[name=short-wait]")).count():  # no test sits out a wait
            short.fill("watched by another clock")
            self.tap(self.page.locator(".card-form button[name=done]"))

    def type_readings(self, work: Work) -> None:
        for name in self._fields():
            hit = READING.fullmatch(name)
            assert hit
            good = good_reading(self._shown(work, hit["reading"]))
            field = self.page.locator(f".card-form [name='{name}']")
            if field.first.get_attribute("type") == "radio":
                self.page.locator(
                    f".card-form label.tile:has([name='{name}'][value='{good}'])"
                ).click()
                self.taps += 1
            else:
                field.fill(good)

    def _fields(self) -> list[str]:
        names = self.page.locator(".card-form [name^='reading-']").evaluate_all(
            "all => all.map(one => one.name)"
        )
        return list(dict.fromkeys(names))

    def _shown(self, work: Work, reading: str):
        for step_id, step in work.steps.items():
            if reading in step.readings:
                return next(one for one in card_of(work, step_id).readings if one.id == reading)
        raise LookupError(reading)
