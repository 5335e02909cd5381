"""A wrench is checked with a weight on a lever, found wrong, and what it closed is open again."""

import pytest
from playwright.sync_api import expect

from screenshots import faults
from witnessmark.shop.models import Wrench, WrenchMark
from witnessmark.shop.work.visit import read

pytestmark = pytest.mark.browser


def test_a_check_asks_for_what_its_kind_needs_and_what_was_closed_opens_again(
    at_tablet, brought_to, workshop
):
    """5 kg at 0.4 m pull with 19.6 N·m, 15 kg with 58.8: a wrench that shows 22 and 66 is 12 % off."""
    visit = brought_to("bench", "annual", cards=34)
    large = Wrench.objects.get(shop=workshop, name="Large click wrench")
    closed = WrenchMark.objects.filter(wrench=large.pk, visit=visit, stands=True).count()
    assert closed >= 5
    person = at_tablet("tamsin")
    page = person.page
    person.go(f"/shop/wrenches/{large.pk}/check/")
    expect(page.get_by_label("True, 1")).to_be_visible()
    expect(page.get_by_label("Weight, 1")).to_be_hidden()
    page.locator("label", has_text="checked with a weight on a lever").click()
    expect(page.get_by_label("True, 1")).to_be_hidden()
    for place, shown, mass in ((1, "22", "5"), (2, "66", "15")):
        page.get_by_label(f"Shown, {place}").fill(shown)
        page.get_by_label(f"Weight, {place}").fill(mass)
    page.get_by_role("button", name="Save the check").click()

    expect(
        page.get_by_role("heading", name="What Large click wrench has tightened")
    ).to_be_visible()
    assert faults(page) == []
    page.get_by_role("button", name="Write it into these visits").click()
    expect(page.get_by_text("written down").first).to_be_visible()
    stands = [item.stands for item in read(visit).state.items.values() if item.kind == "fastener"]
    assert stands.count("doubt") == closed
    person.go("/")
    expect(page.get_by_text("out of use until it is put right and checked")).to_be_visible()
