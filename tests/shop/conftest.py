"""Two people with a browser of their own, and a machine of the invented scenario."""

import pytest

from tests.fixtures.shop import new_machine
from tests.fixtures.tour import put
from tests.shipped_books.planned import book as demo_book
from tests.shop.day import Person
from witnessmark.shop import content_store, store
from witnessmark.shop.scenario import FILES


@pytest.fixture
def mara(technician, client_of) -> Person:
    return Person(client_of(technician))


@pytest.fixture
def nuno(colleague, client_of) -> Person:
    return Person(client_of(colleague))


@pytest.fixture
def tourer(desk):
    """`tourer("tyres", …)`: the invented tourer taken in, with these jobs."""
    text = FILES.joinpath("books", "quandle_t9.toml").read_text(encoding="utf-8")
    stored = content_store.keep_book(desk.shop, demo_book("quandle_t9"), text)
    machine = new_machine(desk.shop, "12-GT-01", "Owner (invented)", stored)

    def taken(*jobs):
        visit = store.open_visit(desk, machine)
        put(
            desk, visit,
            ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id)}),
            ("odometer", {"km": 41250.0, "text": "41250 km"}),
            ("book_pinned", {"revision": stored.current.sha256}),
            *(("job_taken", {"job": job}) for job in jobs),
        )  # fmt: skip
        return visit

    return taken
