"""From the order of work to the day's sheet: a wish priced, both people planned with, nothing too small to hit."""

import re

import pytest
from playwright.sync_api import expect

from screenshots import faults
from witnessmark.shop.work import planning
from witnessmark.shop.work.visit import read

pytestmark = pytest.mark.browser


def test_a_wish_is_priced_taken_and_stands_on_the_sheet_of_the_day(at_tablet, brought_to):
    """The rear tyre first, for two; what it costs is said before it is taken; then the day for all machines."""
    visit = brought_to("order", "rear_end")
    person = at_tablet("tamsin")
    page = person.page
    person.go(f"/visits/{visit.pk}/order/?")
    page.get_by_text("Who works on it").first.click()
    for name in ("Tamsin Orrell", "Jonas Pellow"):
        page.get_by_label(name).check()
    page.get_by_role("button", name="Plan it for them").click()
    page.wait_for_load_state("networkidle", timeout=90_000)
    page.get_by_text("Change the order").click()
    page.get_by_label("Which job", exact=True).select_option(label="Rear tyre")
    page.get_by_role("button", name="What would it cost?").click()
    expect(page.locator("#wish")).to_contain_text(
        re.compile("“Rear tyre” first: .*"), timeout=60_000
    )
    page.get_by_role("link", name="Show this order").click()
    expect(page.get_by_text(re.compile("“Rear tyre” first: "))).to_be_visible(timeout=60_000)
    assert faults(page) == []
    page.wait_for_load_state("networkidle", timeout=90_000)
    page.get_by_role("button", name="Take this order").click()
    page.wait_for_url(re.compile("/bench/"))

    made = planning.taken(read(visit))
    assert {one.name for one in made.problem.technicians} == {"Tamsin Orrell", "Jonas Pellow"}
    jobs = {o.name: o.job for o in made.problem.operations}
    order = [jobs[step.name] for step in made.answer.steps if step.name in jobs]
    own = [n for n, job in enumerate(order) if job == "rear_tyre"]
    rests = {name for o in made.problem.operations if o.job == "rear_tyre" for name in o.after}
    assert all(made.answer.steps and n <= own[-1] for n in own)
    assert set(order[: own[0]]) <= {jobs[name] for name in rests}

    person.go("/board/")
    page.set_viewport_size({"width": 390, "height": 844})
    expect(page.get_by_text("All ready at")).to_be_visible(timeout=90_000)
    expect(page.get_by_role("img", name=re.compile("A row for each technician"))).to_be_visible()
    assert faults(page) == []


def test_on_a_phone_a_job_is_ticked_by_its_name_and_a_step_opens_why_it_stands_there(
    at_tablet, brought_to
):
    """A name that ticks looks like no link; a step that opens is as big as a thumb."""
    visit = brought_to("order", "rear_end")
    person = at_tablet("tamsin")
    page = person.page
    page.set_viewport_size({"width": 390, "height": 844})
    person.go(f"/visits/{visit.pk}/needs/")
    line = page.locator(".choose:visible").first
    name, box = line.locator(".words"), line.locator("input")
    before = box.is_checked()
    for checked in (not before, before):
        name.click()
        assert box.is_checked() is checked
        assert name.evaluate("one => getComputedStyle(one).textDecorationLine") == "none"
    assert page.locator(".choose a").count() == 0

    person.go(f"/visits/{visit.pk}/order/?now=1")
    page.locator(".stretches > li > details > summary").first.click()
    step = page.locator("details.step").first
    step.locator("summary").click()
    expect(step.locator(".why li").last).to_be_visible()
    assert faults(page) == []
