"""Every page at both sizes, empty, at work, with open items and in error: no fault for axe, none over, none small."""

from collections.abc import Iterator

import pytest

from screenshots import SIZES, faults, faults_of_size
from tests.sweep import either_size, share, swept
from witnessmark.shop import scenario
from witnessmark.shop.models import (
    Machine,
    Member,
    Shop,
    StoredBook,
    Visit,
    WasteContainer,
    Wrench,
    WrenchEvent,
)

pytestmark = pytest.mark.browser
STOPS = ["arrival", "needs", "price", "order", "bench", "handback", "papers"]


def addresses(shop: Shop) -> Iterator[str]:
    """Every page that is opened by GET, for every machine that is here."""
    yield from (
        "/",
        "/board/",
        "/board/sheet/",
        "/machines/",
        "/arrive/",
        "/arrive/?book=none",
        "/books/",
        "/calculate/",
        "/shop/",
        "/shop/money/",
        "/shop/room/",
        "/shop/changes/",
        "/shop/people/new/",
        "/password/",
        "/shop/packs/",
        "/shop/packs/new/",
        "/shop/shims/",
        "/shop/shims/new/",
        "/shop/waste/",
        "/shop/waste/new/",
        "/shop/wrenches/",
        "/shop/wrenches/new/",
    )
    for wrench in Wrench.objects.filter(shop=shop)[:2]:
        yield from (f"/shop/wrenches/{wrench.pk}/{page}" for page in ("", "check/", "change/"))
    for event in WrenchEvent.objects.filter(shop=shop, kind="lever"):
        yield f"/shop/wrenches/events/{event.pk}/closed/"
    for container in WasteContainer.objects.filter(shop=shop)[:1]:
        for page in ("", "put-in/", "collected/"):
            yield f"/shop/waste/{container.pk}/{page}"
    for folder, model in {"shop/people": Member, "machines": Machine, "books": StoredBook}.items():
        for row in model.objects.filter(shop=shop)[:1]:
            yield f"/{folder}/{row.pk}/"
    member = Member.objects.filter(shop=shop)[0]
    yield from (f"/shop/people/{member.pk}/{page}/" for page in ("close", "password"))
    for visit in Visit.objects.filter(shop=shop):
        yield from (f"/visits/{visit.pk}/{stop}/" for stop in STOPS)
        yield f"/visits/{visit.pk}/bench/owner/"
        yield f"/visits/{visit.pk}/codes/"
        yield f"/visits/{visit.pk}/order/moments/"
        if visit.machine.model == "T9":
            yield f"/visits/{visit.pk}/bench/?card=codes/copy"
        if visit.machine.model == "410":
            yield f"/visits/{visit.pk}/shims/"
            yield f"/visits/{visit.pk}/bench/?card=engine_oil/drain"
            yield f"/visits/{visit.pk}/bench/?card=engine_oil/fill_first"


def look(person, paths) -> dict[str, list[str]]:
    """What is wrong, page by page; scripts that the policy refuses and errors of the console count too."""
    said: list[str] = []
    person.page.on(
        "console", lambda message: said.append(message.text) if message.type == "error" else None
    )
    problem = {}
    for path in paths:
        said.clear()
        answer = person.page.goto(f"{person.url}{path}")
        assert answer
        found = [f"answered {answer.status}"] if answer.status >= 400 else []
        person.page.set_viewport_size(SIZES["tablet"])
        found += faults(person.page)
        person.page.set_viewport_size(SIZES["phone"])
        found += [f"phone: {one}" for one in faults_of_size(person.page)]
        if found + said:
            problem[path] = found + said
    return problem


@swept(3)
def test_an_empty_workshop_has_no_fault(at_tablet, workshop, step):
    assert look(at_tablet("tamsin"), share(addresses(workshop), step)) == {}


@swept(3)
def test_pages_of_visits_at_every_stage_have_no_fault(at_tablet, workshop, desks, step):
    """Needs undecided, price offered, half done with items open, handed back."""
    for about in scenario.scenario()["machines"]:
        if about.get("stage") in {"needs", "price", "bench", "gone"}:
            machine = Machine.objects.get(shop=workshop, plate=about["plate"])
            scenario.bring(desks["tamsin"], desks["jonas"], machine, about)
    scenario.afterwards(workshop)
    assert look(at_tablet("tamsin"), share(addresses(workshop), step)) == {}


@either_size
def test_a_page_that_came_back_with_faults_has_none_of_these(at_tablet, brought_to, size):
    """A form refused: an arrival without odometer, and a skip without a reason."""
    visit = brought_to("order", "rear_end")
    person = at_tablet("tamsin")
    person.page.set_viewport_size(SIZES[size])
    person.go("/arrive/?book=none")
    person.page.get_by_role("button", name="Take it in").click()
    assert person.page.locator(".fault").count()
    assert faults(person.page) == []
    person.go(f"/visits/{visit.pk}/bench/")
    person.page.locator("details.all > summary").click()
    person.page.get_by_text("Leave this step out").click()
    person.page.get_by_role("button", name="Leave it out").click()
    assert person.page.locator(".fault").count()
    assert faults(person.page) == []
