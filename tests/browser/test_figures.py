"""The figures of an oil change on the phone, with the manual open: one after the other, and what that takes."""

import pytest
from playwright.sync_api import expect

from screenshots import SIZES, faults
from tests.browser.first_screen import off_screen
from tests.shop.test_figures import kept, taken_in
from witnessmark.shop import content_store
from witnessmark.shop.work.figures_wanted import figures_wanted
from witnessmark.shop.work.visit import read

pytestmark = pytest.mark.browser

OIL = {  # invented
    "oil_plug_torque": ("25", "N·m"),
    "oil_filter_torque": ("17", "N·m"),
    "engine_oil_grade": ("SAE 5W-40", ""),
    "engine_oil_volume": ("4.1", "L"),
    "engine_oil_level_how": ("upright, after a minute", ""),
    "service_distance": ("10000", "km"),
    "service_time": ("12", "months"),
}
FIRST_SCREEN = {"heading": "h1", "value": "[name=value]", "action": ".act"}


@pytest.fixture
def oil_change(workshop, desks):
    """A model of which nothing is known yet, in for its oil; a sibling has the torque of the plugs."""
    kept(workshop, 80, oil_plug_torque=("24 N·m", "Manual of the 80, page 7"))
    return taken_in(desks["tamsin"], kept(workshop, 90), "engine_oil")


@pytest.fixture
def on_phone(at_tablet):
    """Tamsin, with a telephone in her hand."""
    person = at_tablet("tamsin")
    person.page.set_viewport_size(SIZES["phone"])
    return person


def test_an_oil_changes_figures_are_entered_one_after_the_other_on_the_phone(on_phone, oil_change):
    """Five of its cards, then two intervals: each its value and page; the document once, a unit where it differs."""
    page, at = on_phone.page, f"/visits/{oil_change.pk}"
    on_phone.go(f"{at}/needs/")
    on_phone.tap(page.get_by_role("link", name="Enter one after the other"))
    on_phone.tap(page.get_by_role("link", name="Enter: "))
    names, entries = [use.id for use in figures_wanted(read(oil_change))], 0
    assert set(names) == set(OIL)
    for place, name in enumerate(names, 1):
        expect(page.get_by_role("heading", level=1)).to_contain_text(f"{place} of 7: ")
        value, unit = OIL[name]
        page.locator("[name=value]").fill(value)
        entries += 1
        if unit and page.locator("[name=unit]").input_value() != unit:
            page.locator("[name=unit]").select_option(unit)
            entries += 1
        page.locator("[name=page]").fill(str(40 + place))
        entries += 1
        if not page.locator("[name=document]").input_value():
            page.locator("[name=document]").fill("Workshop manual, 2nd edition")
            entries += 1
        assert off_screen(page, FIRST_SCREEN) == []
        page.set_viewport_size(SIZES["phone"])
        on_phone.tap(page.locator("button.act"))
    expect(page).to_have_url(f"{on_phone.url}{at}/needs/")
    assert (entries, on_phone.taps) == (15, 9), "entries, taps"
    book = content_store.book_of(oil_change.shop, oil_change.machine.book.current.sha256)
    assert book.figures["engine_oil_volume"].source is None, "the revision it was read from"
    oil_change.machine.book.refresh_from_db()
    book = content_store.book_of(oil_change.shop, oil_change.machine.book.current.sha256)
    assert {name: book.figures[name].value for name in OIL} == {
        name: f"{value} {unit}".strip() for name, (value, unit) in OIL.items()
    }


def test_a_slip_is_told_as_one_types_and_the_card_keeps_its_place(on_phone, oil_change):
    """From the card in hand to its figure and back; 900 N·m for drain plugs is doubted before anything is sent."""
    page = on_phone.page
    card = "engine_oil/close_up"
    on_phone.go(f"/visits/{oil_change.pk}/bench/?card={card}")
    on_phone.tap(page.locator("a.enter", has_text="Engine oil drain plugs"))
    assert faults(page) == []
    field, look = page.locator("[name=value]"), page.locator("#look")
    under_the_thumb = page.locator("[name=page]").bounding_box()
    field.press_sequentially("900")
    expect(look).to_contain_text("Look again.")
    field.fill("")
    field.press_sequentially("25")
    expect(look).not_to_contain_text("Look again.")
    expect(look).to_contain_text("Read as 25 N·m.")
    assert page.locator("[name=page]").bounding_box() == under_the_thumb
    page.locator("[name=page]").fill("41")
    page.locator("[name=document]").fill("Workshop manual")
    on_phone.tap(page.get_by_role("button", name="Save"))
    expect(page).to_have_url(f"{on_phone.url}/visits/{oil_change.pk}/bench/?card={card}")
    expect(page.get_by_role("heading", level=1)).to_have_text(
        "New filter; both plugs in with new rings"
    )


def test_the_list_and_a_figure_taken_over_hold_up_in_every_look(on_phone, oil_change):
    page, at = on_phone.page, f"/visits/{oil_change.pk}/figures/"
    on_phone.go(at)
    assert faults(page) == []
    assert off_screen(page, {"heading": "h1", "line": ".line .words", "action": ".act"}) == []
    on_phone.go(f"{at}oil_plug_torque/")
    on_phone.tap(page.get_by_role("button", name="Same as Orlo 80: 24 N·m"))
    on_phone.go(f"{at}oil_plug_torque/")
    expect(page.locator(".figure.unproven")).to_contain_text("24 N·m")
    assert faults(page) == []
