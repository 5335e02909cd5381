"""At the bench: two people, two taps, no scripts, faults that lose nothing."""

import re
from urllib.parse import urlencode

import pytest
from playwright.sync_api import expect

from screenshots import faults
from tests.browser.first_screen import off_screen
from witnessmark.shop.work.visit import read

pytestmark = pytest.mark.browser


def entries(visit, kind):
    return [entry for entry in read(visit).entries if entry.kind == kind]


@pytest.mark.postgres
def test_two_people_on_one_card_are_told_of_each_other_and_neither_is_lost(at_tablet, brought_to):
    """Both pages show the card before either taps; the second is told who did it, and may still record his own."""
    visit = brought_to("order", "rear_end")
    first, second = at_tablet("tamsin"), at_tablet("edda")  # a helper leaves no step out
    for person in (first, second):
        person.go(f"/visits/{visit.pk}/bench/")
    first.do_card(read(visit))
    second.page.locator("details.all > summary").click()
    second.page.get_by_text("Leave this step out").click()
    second.page.get_by_label("Why is it not done?").fill("the owner wants it left")
    second.page.get_by_role("button", name="Leave it out").click()
    expect(second.page.get_by_role("heading", name="Nothing was recorded yet")).to_be_visible()
    expect(second.page.get_by_text("Tamsin").first).to_be_visible()
    assert faults(second.page) == []
    assert (len(entries(visit, "done")), len(entries(visit, "skipped"))) == (1, 0)
    second.page.get_by_role("button", name="Record it anyway").click()
    expect(second.page.get_by_text("Left out, with your reason.")).to_be_visible()
    assert (len(entries(visit, "done")), len(entries(visit, "skipped"))) == (1, 1)


def test_a_tap_is_seen_to_be_heard_while_its_answer_is_on_the_way(at_tablet, brought_to):
    """The button stands marked until the next page comes; a slow answer looked like a tap that was missed."""
    visit = brought_to("order", "rear_end")
    person = at_tablet("tamsin")
    person.go(f"/visits/{visit.pk}/bench/")
    person.type_readings(read(visit))
    # the answer never comes: what is seen meanwhile stays
    person.page.evaluate("document.addEventListener('submit', event => event.preventDefault())")
    button = person.page.locator(".card-form button[name=done]").first
    button.click()
    expect(button).to_have_attribute("aria-busy", "true")


def test_a_double_tap_is_stored_once(at_tablet, brought_to):
    """The same form sent twice gives one entry, and the second answer is as the first."""
    visit = brought_to("order", "rear_end")
    person = at_tablet("tamsin")
    person.go(f"/visits/{visit.pk}/bench/")
    person.type_readings(read(visit))
    form = person.page.locator(".card-form").evaluate(
        "form => [...new FormData(form, form.querySelector('button[name=done]'))]"
    )
    address = f"{person.url}/visits/{visit.pk}/bench/confirm/"
    sent = [
        person.page.context.request.post(
            address,
            data=urlencode([(name, value) for name, value in form]),
            headers={"Referer": person.url, "Content-Type": "application/x-www-form-urlencoded"},
            max_redirects=0,
        )
        for _ in range(2)
    ]
    assert [answer.status for answer in sent] == [303, 303]
    assert len(entries(visit, "done")) == 1


def test_what_was_typed_on_a_card_is_still_there_beside_what_is_wrong(at_tablet, brought_to):
    """A reading in the wrong kind of unit is refused at its field; the others on the card keep what was typed."""
    visit = brought_to("order", "annual")
    person = at_tablet("tamsin")
    person.go(f"/visits/{visit.pk}/bench/")
    while not person.page.locator(".card-form input[inputmode=decimal][name^='reading-']").count():
        person.do_card(read(visit))
    field = person.page.locator(".card-form input[inputmode=decimal][name^='reading-']").first
    field.fill("12 lbf·ft")
    person.page.locator(".card-form button[name=done]").click()
    expect(person.page.locator(".field.wrong .fault").first).to_be_visible()
    expect(field).to_have_value("12 lbf·ft")
    assert entries(visit, "read") == []


def test_the_bench_works_without_scripts(at_tablet, brought_to):
    """Every card of a small service can be done with JavaScript switched off."""
    visit = brought_to("order", "rear_end")
    person = at_tablet("tamsin", java_script_enabled=False)
    person.go(f"/visits/{visit.pk}/bench/")
    for _ in range(4):
        person.do_card(read(visit))
    # an unattended part begins as a wait, which is done later
    assert len(entries(visit, "done") + entries(visit, "wait_begun")) >= 4


def test_the_owner_adds_a_job_in_two_taps_and_the_card_is_back(at_tablet, brought_to):
    """Rings, add: the job is taken on and agreed at its price, and the same card is in hand."""
    visit = brought_to("order", "rear_end")
    person = at_tablet("tamsin")
    person.go(f"/visits/{visit.pk}/bench/")
    card = person.page.get_by_role("heading", level=1).inner_text()
    person.tap(person.page.get_by_role("link", name="Owner rings"))
    person.tap(person.page.locator("button[name=add][value=tyres]"))
    assert (person.taps, "tyres" in read(visit).state.agreed) == (2, True)
    expect(person.page.get_by_role("heading", level=1)).to_have_text(card)


def test_a_wait_runs_beside_the_cards_and_rings_once_wherever_the_tablet_then_is(
    at_tablet, brought_to
):
    """Its time is the server's, whatever the tablet's clock says; the strip leads to the card that ends it."""
    visit = brought_to("order", "rear_end")
    person = at_tablet("tamsin")
    page = person.page
    page.clock.install(time="2001-01-01T00:00:00")  # the tablet's clock is wrong
    person.go(f"/visits/{visit.pk}/bench/?card=final_drive_oil/drain")
    person.tap(page.get_by_role("button", name=re.compile("Start the wait")))
    strip = page.locator(".waits a")
    expect(strip).to_contain_text("oil runs out")
    expect(strip).to_contain_text(re.compile("10 min left"))
    first = {"heading": "h1", "strip": ".waits a", "action": ".card-form .acts button"}
    assert off_screen(page, first) == []
    page.clock.run_for(4 * 60_000)
    expect(strip).to_contain_text("6 min left")

    person.go("/")
    expect(strip).to_contain_text("oil runs out")
    page.route(
        "**/waits/",
        lambda route: route.fulfill(
            body=re.sub(r'data-left="\d+"', 'data-left="0"', route.fetch().text())
        ),
    )
    page.clock.run_for(11 * 60_000)
    expect(page.locator(".waits[data-rung] a.over")).to_contain_text("time is over")
    assert page.title().startswith("time is over")
    assert faults(page) == []
    page.reload()
    page.clock.run_for(11 * 60_000)
    expect(page.locator(".waits a.over")).to_be_visible()
    assert page.locator(".waits[data-rung]").count() == 0, "it rings once for each tablet"

    person.tap(strip)
    person.tap(page.get_by_role("button", name="Wait over"))
    page.locator("[name=short-wait]").fill("no drop for a minute")
    person.tap(page.get_by_role("button", name="Wait over"))
    assert "final_drive_oil/drain" in read(visit).state.done
    expect(page.locator(".waits")).to_have_count(0)
