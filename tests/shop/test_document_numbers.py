"""Documents are numbered without a gap and without a double, whoever issues at once, and whenever it is cut off."""

import os
import signal
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection, connections

from tests.fixtures.invoices import STEPS, agreed, trading
from tests.fixtures.shop import new_machine
from tests.fixtures.tour import done, put
from tests.shop.day import Person
from witnessmark.shop import store, verifying
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import DocumentKept, Entry, Owner, Visit
from witnessmark.shop.work import issuing

pytestmark = pytest.mark.postgres  # and on SQLite, as everything
CLIENTS = 50


def ready(desk, book, plate: str) -> Visit:
    """A visit with both lines agreed and done."""
    machine = new_machine(desk.shop, plate, f"Owner {plate}", book)
    Owner.objects.filter(pk=machine.owner_id).update(address="Rua Nova 7\n9000-34 Funchal")
    visit = store.open_visit(desk, machine)
    put(desk, visit,
        ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id), "keys": 1}),
        ("book_pinned", {"revision": book.current.sha256}),
        ("job_taken", {"job": "tyre"}), ("job_taken", {"job": "lights"}))  # fmt: skip
    visit = Visit.objects.select_related("machine__owner", "shop").get(pk=visit.pk)
    agreed(desk, visit)
    put(desk, visit, *done(*STEPS))
    return visit


def issued() -> list[str]:
    """The entries of all documents: each of a kept one, by its number."""
    entries = [store.entry_of_row(row) for row in Entry.objects.filter(kind="issued")]
    named = {(e.body["series"], e.body["number"], e.body["document"]) for e in entries}
    kept = {(row.series, row.number, row.sha256) for row in DocumentKept.objects.all()}
    assert named == kept
    assert len(entries) == len(kept)
    return sorted(e.body["name"] for e in entries)


def test_fifty_at_once_get_the_numbers_from_one_to_fifty(
    transactional_db, shop, desk, small_book, technician, client_of
):
    trading(shop)
    desk.member.shop.refresh_from_db()
    visits = [ready(desk, small_book, f"P-{n}") for n in range(CLIENTS)]
    people = [Person(client_of(technician)) for _ in visits]
    forms = [p.form(f"/visits/{v.pk}/invoice/", f"/visits/{v.pk}/invoice/issue/")
             for p, v in zip(people, visits, strict=True)]  # fmt: skip

    def send(place: int) -> int:
        path = f"/visits/{visits[place].pk}/invoice/issue/"
        try:
            return people[place].client.post(path, forms[place]).status_code
        finally:
            connection.close()

    with ThreadPoolExecutor(CLIENTS) as pool:
        answers = list(pool.map(send, range(CLIENTS)))
    assert answers == [303] * CLIENTS
    assert [name[-4:] for name in issued()] == [f"{n:04d}" for n in range(1, CLIENTS + 1)]
    assert issuing.gaps(shop) == []


@pytest.mark.parametrize("at", ["number taken", "document kept", "entry sealed", "committed"])
def test_killed_while_it_issues_it_is_issued_whole_or_not_at_all(
    transactional_db, shop, desk, small_book, technician, client_of, monkeypatch, at
):
    trading(shop)
    desk.member.shop.refresh_from_db()
    visit = ready(desk, small_book, "K-1")
    person = Person(client_of(technician))
    page, path = f"/visits/{visit.pk}/invoice/", f"/visits/{visit.pk}/invoice/issue/"
    form = person.form(page, path)
    connections.close_all()  # a connection does not survive a fork
    child = os.fork()
    if child == 0:
        _die(monkeypatch, at)
        person.client.post(path, form)
        os.kill(os.getpid(), signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    assert os.WTERMSIG(status) == signal.SIGKILL
    assert len(issued()) == (1 if at == "committed" else 0)
    assert person.client.post(path, form).status_code == 303  # the same form again
    assert [name[-4:] for name in issued()] == ["0001"]
    assert issuing.gaps(shop) == []
    assert list(verifying.of_visits(shop)) == []


def _die(monkeypatch, at: str) -> None:
    """From here on, this process ends at that moment as a power cut would end it."""

    def end(*_args, **_more):
        os.kill(os.getpid(), signal.SIGKILL)

    if at == "number taken":
        monkeypatch.setattr(DocumentKept, "save", end)
    elif at == "document kept":
        monkeypatch.setattr(store, "seal_next", end)
    elif at == "entry sealed":
        monkeypatch.setattr("witnessmark.shop.receipts.keep", end)


def test_a_gap_would_be_found(shop, desk, small_book):
    """What `verify` tells where a row is gone that nobody can delete."""
    for number in (1, 3):
        DocumentKept(
            id=new_id(), shop=shop, sha256=f"{number}" * 64, content=b"{}", series="invoice",
            number=number, name=f"INV-{number}",
        ).save(force_insert=True)  # fmt: skip
    assert issuing.gaps(shop) == ["invoice: number 2 is missing"]
