"""What no book lists, the whole way in a real browser: from the complaint to the printed record."""

from io import BytesIO

import pypdf
import pytest
from playwright.sync_api import Page, expect

from tests.browser.first_screen import off_screen
from tests.browser.person import Person
from witnessmark.shop.models import Visit
from witnessmark.shop.work.visit import read

pytestmark = pytest.mark.browser
ASKED = {"heading": "h1", "field": "[name=text]", "action": ".act"}


def came_in(tamsin: Person, page: Page) -> Visit:
    """A machine with a complaint, and nothing booked that its book knows of."""
    tamsin.go("/arrive/")
    page.get_by_role("link", name="Quandle T9").last.click()
    page.get_by_label("Plate").fill("LY-77-NEW")
    page.get_by_label("Name").fill("Nell Quarrie (invented)")
    page.get_by_label("Odometer").fill("41250")
    page.get_by_label("What is it here for?").fill("Heated grips stay cold")
    page.get_by_role("button", name="Take it in").click()
    return Visit.objects.get(machine__plate="LY-77-NEW")


def more(page: Page, heading: str) -> None:
    """Unfold what not every step has."""
    page.locator("summary", has_text=heading).click()


def write_it(tamsin: Person, page: Page, visit: Visit) -> None:
    """From the complaint to the steps, and written down."""
    tamsin.go(f"/visits/{visit.pk}/complaint/")
    tamsin.tap(page.get_by_role("link", name="Write a repair for it"))
    assert off_screen(page, ASKED) == []
    expect(page.get_by_label("Why")).to_have_value("Heated grips stay cold")
    page.get_by_label("What is put right?").fill("Mend the plug of the heated grips")
    more(page, "Tests and cause")
    page.get_by_label("Tested").first.fill("Voltage at the plug, switched on")
    page.get_by_label("Found").first.fill("3.2 V")
    page.get_by_label("At least").first.fill("11.5 V")
    page.get_by_label("Source of the limits").first.fill("manual of the grips (invented), page 2")
    page.get_by_label("Cause, once it is known").fill("Green pin in the plug.")
    tamsin.tap(page.get_by_role("button", name="Add a step"))
    assert off_screen(page, ASKED) == []
    page.get_by_label("What is done?").fill("Open the plug under the seat")
    page.get_by_label("Minutes of work").fill("5")
    more(page, "Comes loose, comes off, is opened")
    page.get_by_label("In words").first.fill("Plug of the heated grips")
    page.get_by_label("What is it?").first.select_option("connector")
    page.get_by_label("In words").nth(1).fill("Clamp screw of the lead")
    page.get_by_label("What is it?").nth(1).select_option("fastener")
    page.get_by_label("How is a fastener made tight?").nth(1).select_option("counted")
    more(page, "How the machine must stand")
    page.get_by_label("The machine is").first.select_option("seat/off")
    page.get_by_role("button", name="Keep, and a next one").click()
    page.get_by_label("What is done?").fill("Clean the pin, close the plug")
    page.get_by_label("Minutes of work").fill("10")
    page.locator("label.tile", has_text="Plug of the heated grips").click()
    page.get_by_role("button", name="Keep the step").click()
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_text("“Clamp screw of the lead” is undone here")).to_be_visible()
    assert read(visit).state.repairs == {}
    page.get_by_role("button", name="Change").last.click()
    page.locator("label.tile", has_text="Clamp screw of the lead").click()
    page.get_by_role("button", name="Keep the step").click()
    expect(page.get_by_text("is undone here")).to_have_count(0)
    page.get_by_role("button", name="Write it down").click()


@pytest.mark.postgres_long
def test_a_repair_goes_from_the_complaint_to_the_printed_record(at_tablet, live_server, workshop):
    tamsin = at_tablet("tamsin")
    page = tamsin.page
    visit = came_in(tamsin, page)
    write_it(tamsin, page, visit)
    (name,) = read(visit).state.repairs
    tamsin.go(f"/visits/{visit.pk}/needs/")
    due = page.locator("[name=job]:checked").evaluate_all("boxes => boxes.map(box => box.value)")
    assert name in due
    for other in due:
        if other != name:
            page.locator(f"[name=job][value={other}]").uncheck()
    page.get_by_role("button", name="Book these jobs").click()
    expect(page.get_by_role("heading", name="Price")).to_be_visible()
    page.get_by_role("button", name="Offer").click()
    page.locator("label.tile", has_text="in person").first.click()
    page.get_by_role("button", name="Yes to all").click()
    tamsin.go(f"/visits/{visit.pk}/order/")
    page.get_by_role("button", name="Take this order").click()
    assert read(visit).state.taken == (name,)
    tamsin.do_every_card(visit)
    tamsin.go(f"/visits/{visit.pk}/complaint/?back=handback")
    page.get_by_label("put right", exact=True).check()
    page.get_by_label("Put right by").select_option(label="Mend the plug of the heated grips")
    page.get_by_role("button", name="Answered").click()
    tamsin.tap(tamsin.button("Walked round, all clear"))
    page.get_by_label("Keys given back").fill("2")
    page.get_by_label("Odometer now").fill("41252")
    page.get_by_label("ridden away").check()
    tamsin.tap(tamsin.button("Hand it back"))
    state = read(visit).state
    assert (state.items, state.returned is not None) == ({}, True)
    tamsin.go(f"/visits/{visit.pk}/papers/")
    link = page.locator("a[href$='service-record.pdf']").first.get_attribute("href")
    printed = page.context.request.get(f"{live_server.url}{link}").body()
    pages = pypdf.PdfReader(BytesIO(printed)).pages
    text = " ".join(" ".join(one.extract_text().split()) for one in pages)
    for words in (
        "Mend the plug of the heated grips",
        "Voltage at the plug, switched on: 3.2 V, not as it should be",
        "Cause: Green pin in the plug.",
        "Heated grips stay cold",
    ):
        assert words in text
