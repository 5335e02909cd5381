"""From the door to the order: plate, what is asked and the thing to tap stand on the first screen, at both sizes."""

from __future__ import annotations

import pytest
from playwright.sync_api import Locator, Page

from screenshots import SIZES
from tests.sweep import either_size
from witnessmark.shop import scenario
from witnessmark.shop.models import Machine

pytestmark = pytest.mark.browser

# Whether nothing lies over the middle of it, such as the bar at the bottom.
BARE = """(one) => {
  const { left, top, width, height } = one.getBoundingClientRect();
  const hit = document.elementFromPoint(left + width / 2, top + height / 2);
  return one === hit || one.contains(hit) || (hit !== null && hit.contains(one));
}"""


def on_first_screen(page: Page, locator: Locator) -> bool:
    """Whether it can be seen whole without scrolling, and nothing lies over it."""
    size, box = page.viewport_size, locator.first.bounding_box()
    assert size
    if box is None or box["width"] == 0:
        return False
    within = box["x"] >= 0 and box["x"] + box["width"] <= size["width"] + 1
    within = within and box["y"] >= 0 and box["y"] + box["height"] <= size["height"] + 1
    return within and locator.first.evaluate(BARE)


def off(page: Page, wanted: dict[str, Locator]) -> list[str]:
    page.wait_for_load_state("networkidle")
    return [f"{page.url} {name}" for name, one in wanted.items() if not on_first_screen(page, one)]


@either_size
def test_from_the_door_to_the_order_one_sees_which_machine_what_is_asked_and_what_to_tap(
    at_tablet, workshop, desks, size
):
    """Needs undecided, price to offer and to answer, order to take; the door before and after choosing."""
    about = {one["stage"]: one for one in scenario.scenario()["machines"] if "stage" in one}
    visits = {}
    for stage in ("needs", "price", "order"):
        one = dict(about["bench"] if stage == "order" else about[stage], stage=stage)
        machine = Machine.objects.get(shop=workshop, plate=one["plate"])
        scenario.bring(desks["tamsin"], desks["jonas"], machine, one)
        visits[stage] = machine.visits.get()
    person = at_tablet("tamsin")
    page = person.page
    page.set_viewport_size(SIZES[size])
    problem = []

    def look(path: str, **wanted: Locator) -> None:
        person.go(path)
        problem.extend(off(page, {"heading": page.locator("h1"), **wanted}))

    plate, act, line = (
        page.locator(".where .plate"),
        page.locator(".act:visible"),
        page.locator(".line"),
    )
    for stage, visit in visits.items():
        look(f"/visits/{visit.pk}/arrival/", plate=plate, act=act)
        look(f"/visits/{visit.pk}/needs/", plate=plate, job=page.locator(".choose .words"), act=act)
        first = page.locator(".figure" if stage == "order" else ".line .words")
        asked = page.locator(".lead") if stage != "order" else first
        if stage != "needs":
            look(f"/visits/{visit.pk}/{stage}/", plate=plate, asked=asked, first=first, act=act)
    look(f"/visits/{visits['price'].pk}/price/", yes=page.locator(".yesno .tile").first, act=act)
    look("/", line=line, act=act)
    look("/arrive/", field=page.locator("#q"))
    look("/arrive/?book=none", field=page.locator("#id_machine-plate"), act=act)
    look("/shop/", line=line)
    look("/shop/money/", field=page.locator("#id_labour_per_hour"), act=act)
    assert problem == []


@either_size
def test_the_price_of_the_rest_stands_over_the_button_that_records_the_no(
    at_tablet, brought_to, size
):
    """Wherever on the page the no is tapped."""
    visit = brought_to("price", "annual")
    person = at_tablet("tamsin")
    page = person.page
    page.set_viewport_size(SIZES[size])
    person.go(f"/visits/{visit.pk}/price/")
    page.locator("label.tile", has=page.locator("input[value=no]")).last.click()
    page.locator("#rest .rest").wait_for(timeout=60_000)
    record = page.get_by_role("button", name="Record the answers")
    assert off(page, {"told": page.locator("#rest .rest"), "record": record}) == []
