"""One machine, the whole way: a real browser from the door to the printed record."""

from io import BytesIO

import pypdf
import pytest
from PIL import Image
from playwright.sync_api import expect

from tests.browser.first_screen import off_screen
from witnessmark.shop.models import Visit
from witnessmark.shop.work.planning import to_do
from witnessmark.shop.work.visit import read

pytestmark = pytest.mark.browser
OPEN = {"heading": "h1", "what is open": ".line .words", "action": ".line .btn"}
ASKED = {"heading": "h1", "field": "[name=keys]", "action": ".act"}
GONE = {"heading": "h1", "papers": ".act", "take it back": "form[action$='take-back/'] .btn"}
MOST_TAPS = 95  # of an annual service, from the first card to the machine handed back


def photo() -> dict[str, object]:
    picture = BytesIO()
    Image.new("RGB", (80, 60), "gray").save(picture, "JPEG")
    return {"name": "left.jpg", "mimeType": "image/jpeg", "buffer": picture.getvalue()}


@pytest.mark.postgres_long
def test_a_machine_of_unknown_history_goes_from_the_door_to_its_printed_record(
    at_tablet, live_server, workshop
):
    """Arrival, needs, price, order, every card, road test, second look, hand-back, record; in at most 60 taps."""
    tamsin = at_tablet("tamsin")
    page = tamsin.page
    tamsin.go("/arrive/")
    page.get_by_role("link", name="Quandle T9").last.click()
    page.get_by_label("Plate").fill("LY-99-NEW")
    page.get_by_label("Name").fill("Nell Quarrie (invented)")
    page.get_by_label("Odometer").fill("41250")
    page.get_by_label("What is it here for?").fill("Annual service")
    page.get_by_text("Photos round the machine").click()
    page.locator("input[type=file]").set_input_files([photo()])
    page.get_by_role("button", name="Take it in").click()
    visit = Visit.objects.get(machine__plate="LY-99-NEW")

    tamsin.go(f"/visits/{visit.pk}/needs/")
    for proposed in (
        "air_filter",
        "battery_change",
    ):  # due, for nothing is known of them; not this time
        page.locator(f"[name=job][value={proposed}]").uncheck()
    page.get_by_role("button", name="Book these jobs").click()  # ticked, for the owner asked for it
    tamsin.go(f"/visits/{visit.pk}/price/")
    page.get_by_role("button", name="Offer").click()
    page.locator("label.tile", has_text="in person").first.click()
    page.get_by_role("button", name="Yes to all").click()
    tamsin.go(f"/visits/{visit.pk}/complaint/")
    page.get_by_label("put right", exact=True).check()
    page.get_by_label("Put right by").select_option(label="all that is agreed")
    page.get_by_role("button", name="Answered").click()
    assert "Annual service" in read(visit).state.items["complaint"].words  # until all of it is done
    tamsin.go(f"/visits/{visit.pk}/order/")
    expect(page.get_by_text("Ready in")).to_be_visible(timeout=60_000)
    page.get_by_role("button", name="Take this order").click()
    work = read(visit)
    assert set(to_do(work)) == set(work.book.services["annual"].jobs)

    tamsin.taps = 0
    tamsin.do_every_card(visit)
    jonas = at_tablet("jonas")
    jonas.go(f"/visits/{visit.pk}/handback/")
    for box in jonas.page.locator("input[name=look]").all():
        box.check()
    jonas.tap(jonas.button("Ticked ones are as they should be"))
    tamsin.go(f"/visits/{visit.pk}/handback/")
    tamsin.tap(tamsin.button("Walked round, all clear"))
    assert off_screen(page, ASKED) == []
    page.get_by_label("Keys given back").fill("2")
    page.get_by_label("Odometer now").fill("41262")
    page.get_by_label("ridden away").check()
    tamsin.taps += 1
    tamsin.tap(tamsin.button("Hand it back"))
    assert off_screen(page, GONE) == []
    state = read(visit).state
    assert (state.items, state.returned is not None, state.odometer_km) == ({}, True, 41262)
    taps = tamsin.taps + jonas.taps
    assert taps <= MOST_TAPS, f"an annual service took {taps} taps"

    tamsin.go(f"/visits/{visit.pk}/papers/")
    link = page.locator("a[href$='service-record.pdf']").first.get_attribute("href")
    printed = page.context.request.get(f"{live_server.url}{link}").body()
    text = " ".join(
        " ".join(p.extract_text().split()) for p in pypdf.PdfReader(BytesIO(printed)).pages
    )
    for words in (
        "Service record",
        "LY-99-NEW",
        "Rear wheel bolts",
        "clicked at 60 N·m",
        "Jonas Pellow",
        "in calibration",
    ):
        assert words in text
    assert "not final" not in text


@pytest.mark.postgres
def test_with_the_wheel_bolts_untorqued_it_is_not_handed_back(at_tablet, brought_to, live_server):
    """The page refuses in words and leads to the card; a form sent past the page is refused too."""
    visit = brought_to("order", "rear_end")
    tamsin = at_tablet("tamsin")
    page = tamsin.page
    tamsin.go(f"/visits/{visit.pk}/bench/")
    while page.get_by_role("heading", level=1).inner_text() != "Rear wheel made tight in a star":
        tamsin.do_card(read(visit))
    tamsin.tap(page.locator(".card-form button[name=done]"))  # said to be done, no bolt was tapped
    page.locator("[name='loose-because']").fill("torqued with the wheel on the floor")
    tamsin.tap(page.locator(".card-form button[name=done]"))
    tamsin.do_every_card_but_rides(visit)

    tamsin.go(f"/visits/{visit.pk}/handback/")
    expect(page.get_by_role("heading", name="Not to be handed back")).to_be_visible()
    assert off_screen(page, OPEN) == []
    expect(page.get_by_role("button", name="Hand it back")).to_have_count(0)
    expect(page.get_by_text("Not to be ridden")).to_be_visible()
    expect(page.get_by_text("Rear wheel bolt").first).to_be_visible()
    token = page.locator("[name=csrfmiddlewaretoken]").first.input_value()
    entry, seen = (
        page.locator(f"[name={name}]").first.input_value() for name in ("entry_id", "seen")
    )
    sent = page.context.request.post(
        f"{live_server.url}/visits/{visit.pk}/handback/return/",
        form={
            "csrfmiddlewaretoken": token,
            "entry_id": entry,
            "seen": seen,
            "keys": "2",
            "fobs": "1",
            "leaves": "ridden away",
        },
        headers={"Referer": f"{live_server.url}/"},
    )
    assert sent.status == 422
    assert read(visit).state.returned is None
    page.get_by_role("link", name="Rear wheel made tight in a star").first.click()
    expect(
        page.get_by_role("heading", level=1, name="Rear wheel made tight in a star")
    ).to_be_visible()
