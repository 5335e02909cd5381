"""A wrong figure typed into the figures sheet, in a real browser: seen as one types, kept on one's word alone."""

import pytest
from playwright.sync_api import expect

from screenshots import faults
from witnessmark.book import load_book_text
from witnessmark.shop import content_store
from witnessmark.shop.models import StoredBook

pytestmark = pytest.mark.browser

BOOK = """\
format = 1
name = "orlo_90"
title = "Orlo 90"
extends = "shaft_drive_tourer"
invented = true

[machine]
maker = "Orlo"
model = "90"

[fasteners.wheel_bolts]
thread = "M10x1.25"
property_class = "10.9"

[fasteners.front_calipers]
thread = "M8"
property_class = "8.8"
screwed_into = "aluminium casting"
engagement = "16 mm"
"""


@pytest.fixture
def stored(workshop) -> StoredBook:
    return content_store.keep_book(workshop, load_book_text(BOOK), BOOK)


def value_of(stored: StoredBook, name: str) -> str | None:
    stored.refresh_from_db()
    return content_store.book_of(stored.shop, stored.current.sha256).figures[name].value


def opened(person, stored: StoredBook, name: str):
    """The figures sheet with one figure's group open: its field, and what is said beside it."""
    person.go(f"/books/{stored.pk}/figures/")
    field = person.page.locator(f"[name='value-{name}']")
    field.evaluate("it => { while ((it = it.parentElement.closest('details'))) it.open = true }")
    expect(field).to_be_visible()
    return field, person.page.locator(f"#look-{name}")


def test_a_factor_of_ten_and_a_wrong_unit_are_caught_as_one_types(at_tablet, stored):
    """For wheel bolts that want 60 N·m: the slip is named, no torque is proposed, nothing is kept yet."""
    field, look = opened(at_tablet("tamsin"), stored, "wheel_bolts_torque")
    for typed, slip in (
        ("600 N·m", "with the decimal point one place further left"),
        ("6 N·m", "with the decimal point one place further right"),
        ("530 Nm", "in lbf·in"),
        ("6.1 Nm", "in kgf·m"),
    ):
        field.fill("")
        field.press_sequentially(typed)
        expect(look).to_contain_text(slip)
        expect(look).to_contain_text("Look again.")
        expect(look).to_contain_text("an M10x1.25 10.9")
        expect(look).not_to_contain_text("60 N·m")
    field.fill("44 ft-lb")
    expect(look).to_contain_text("Read as 44 lbf·ft, that is 59.7 N·m.")
    expect(look).not_to_contain_text("Look again.")
    assert value_of(stored, "wheel_bolts_torque") is None


def test_other_quantities_are_caught_too_and_a_text_that_is_none_says_so(at_tablet, stored):
    field, look = opened(at_tablet("tamsin"), stored, "rear_tyre_pressure")
    field.fill("240 bar")
    expect(look).to_contain_text("240 bar is far too high for a tyre")
    expect(look).to_contain_text("in kPa")
    field.fill("2.5")
    expect(look).to_contain_text("has no unit")


@pytest.mark.parametrize("scripts", [True, False], ids=["with scripts", "without scripts"])
def test_it_is_kept_on_ones_word_alone_and_nothing_typed_is_lost(at_tablet, stored, scripts):
    person = at_tablet("tamsin", java_script_enabled=scripts)
    page = person.page
    field, look = opened(person, stored, "front_caliper_torque")
    page.locator("[name='source-front_caliper_torque']").fill("Workshop manual, page 31")
    field.fill("330 N·m")
    page.get_by_role("button", name="Save").click()
    field = page.locator("[name='value-front_caliper_torque']")
    expect(page.locator(".field.wrong .fault")).to_contain_text("would break an M8 8.8")
    expect(field).to_have_value("330 N·m")
    expect(page.locator("[name='source-front_caliper_torque']")).to_have_value(
        "Workshop manual, page 31"
    )
    if scripts:  # axe is one
        assert faults(page) == []
    assert value_of(stored, "front_caliper_torque") is None

    look.get_by_label("It is right anyway, because").fill("read twice; a special bolt")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("heading", name="Orlo 90")).to_be_visible()
    assert value_of(stored, "front_caliper_torque") == "330 N·m"
    expect(page.get_by_text("looks wrong, vouched for: read twice; a special bolt")).to_have_count(
        1
    )
