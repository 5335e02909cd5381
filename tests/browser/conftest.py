"""The demo workshop with its tools and prices, and real browsers signed in to it."""

import pytest

from tests.browser.person import Person
from tests.conftest import WAIT_MS
from witnessmark.shop import scenario
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import Machine, Member, Shop, Visit
from witnessmark.shop.scope import Desk


@pytest.fixture
def workshop(transactional_db, shop_settings) -> Shop:
    """The demo workshop before anything came in."""
    return scenario.build(visits=False)


@pytest.fixture
def people(workshop) -> dict[str, Member]:
    return {
        str(m.user.username): m for m in Member.objects.filter(shop=workshop).select_related("user")
    }


@pytest.fixture
def desks(people) -> dict[str, Desk]:
    return {name: Desk(member, new_id()) for name, member in people.items()}


@pytest.fixture
def at_tablet(browser, live_server, people, client_of):
    """`at_tablet("tamsin")`: a person with a browser of his own, signed in."""
    contexts = []

    def opened(name: str, **how) -> Person:
        context = browser.new_context(viewport={"width": 1024, "height": 768}, **how)
        context.set_default_timeout(WAIT_MS)
        contexts.append(context)
        cookie = client_of(people[name]).cookies["sessionid"]
        context.add_cookies([{"name": "sessionid", "value": cookie.value, "url": live_server.url}])
        return Person(context.new_page(), live_server.url)

    yield opened
    for context in contexts:
        context.close()


@pytest.fixture
def brought_to(desks, workshop):
    """`brought_to("order", "annual")`: the tourer's visit up to a stage, made as the demo makes it."""

    def made(stage: str, service: str = "annual", cards: int | None = None) -> Visit:
        about = dict(scenario.scenario()["machines"][0], stage=stage, service=service, cards=cards)
        machine = Machine.objects.get(shop=workshop, plate=about["plate"])
        scenario.bring(desks["tamsin"], desks["jonas"], machine, about)
        return machine.visits.get()

    return made
