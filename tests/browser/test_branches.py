"""A reading that decides, in the browser: what it may bring is seen before it is taken, what it brought right after."""

import re

import pytest
from playwright.sync_api import expect

from screenshots import faults
from tests.fixtures.slack import chain_in, slack_file
from witnessmark.shop.work.visit import read

pytestmark = pytest.mark.browser


@pytest.mark.parametrize(
    ("slack", "next_card"), [("35", "Grease the chain as it is"), ("45", "Adjust the chain")]
)
def test_the_card_that_a_reading_decides_about_is_the_next_one(
    at_tablet, desks, tmp_path, slack, next_card
):
    visit = chain_in(desks["tamsin"], slack_file(tmp_path))
    person = at_tablet("tamsin")
    page = person.page
    person.go(f"/visits/{visit.pk}/order/?now=1")
    expect(
        page.get_by_text(re.compile("Readings decide: 21 min of labour expected"))
    ).to_be_visible()
    page.get_by_text(re.compile("If Chain slack outside its limits")).click()
    assert faults(page) == []
    person.tap(person.button("Take this order"))
    expect(
        page.get_by_text(re.compile("It decides. Within its limits: as planned"))
    ).to_be_visible()
    for place in (1, 2):
        page.locator(f'[name="reading-slack-{place}"]').fill(slack)
    person.tap(person.button(re.compile("^Done")))
    expect(page.get_by_role("heading", level=1)).to_have_text(next_card)
    expect(
        page.get_by_text(re.compile("Chain slack (within|outside) its limits: "))
    ).to_be_visible()
    assert faults(page) == []
    assert read(visit).state.answers == {"slack outside": slack == "45"}
