"""A machine with its history: what our own ledger has, what records say, what is only told."""

import re
from datetime import date
from html import unescape

import pytest

from tests.fixtures.shop import new_machine
from tests.shop.filled import faults_of, form_of, send
from witnessmark.shop import store
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import LastDoneKnown, Machine, Owner
from witnessmark.shop.work.machine_history import last_done
from witnessmark.shop.work.search import machines_by, of_number, of_plate
from witnessmark.shop.work.visit import read


@pytest.fixture
def client(technician, client_of):
    return client_of(technician)


@pytest.fixture
def history(desk, visit):
    """A visit with a finding, a reading below its limit, a declined line; the lights done and handed back."""
    by = {"estimate": "a" * 64, "by": str(visit.machine.owner_id), "how": "by telephone"}
    store.record_all(desk, visit, store.Ticket(str(new_id())), [
        ("read", {"reading": "tread", "step": "tyre/swap", "value": 1.2, "text": "1.2 mm"}),
        ("found", {"text": "valve stem cracked", "safety": True}),
        ("offered", {"estimate": "a" * 64, "lines": ["tyre", "lights"]}),
        ("answered", {"line": "tyre", "verdict": "no", **by}),
        ("answered", {"line": "lights", "verdict": "yes", **by}),
        ("job_left", {"job": "tyre"}),
        ("done", {"step": "lights/look"}),
        ("returned", {"keys": 2}),
    ])  # fmt: skip
    return visit


def test_the_history_of_a_machine_stands_on_its_page_in_words(client, history):
    page = client.get(f"/machines/{history.machine_id}/").content.decode()

    for words in ("Ines Calder", "48\u202f210 km", "Depth of tread", "1.2 mm", "below its limit",
                  "valve stem cracked", "not answered", "the owner said no on",
                  "our own record, visit 1", "never known", "handed back"):  # fmt: skip
        assert words in page, words


def test_a_finding_put_right_is_struck_like_what_is_proven(client, history, desk):
    page = f"/machines/{history.machine_id}/"
    assert 'class="line proven"' not in client.get(page).content.decode().partition("<h2>Found")[2]
    found = next(e for e in read(history).entries if e.kind == "found")
    store.record_all(
        desk,
        history,
        store.Ticket(str(new_id())),
        [("settled", {"entry": found.id, "how": "put right"})],
    )
    assert 'class="line proven"' in client.get(page).content.decode().partition("<h2>Found")[2]


def test_the_later_of_record_and_word_counts_and_the_newest_told(history, shop):
    """Our record of the lights stands against an older word; a later record goes before it."""
    machine = history.machine

    def told(job: str, known: str, **when) -> None:
        LastDoneKnown(shop=shop, machine=machine, job=job, known=known, **when).save()

    assert last_done(machine)["lights"].source == "our own record, visit 1"
    told("lights", "word", on="2020-01-01")
    assert last_done(machine)["lights"].known == "record"
    told("lights", "record", on="2090-01-01", source="another shop")
    assert last_done(machine)["lights"].source == "another shop"
    told("tyre", "record", km=20000, source="stamp")
    told("tyre", "word", km=30000)
    assert (last_done(machine)["tyre"].known, last_done(machine)["tyre"].km) == ("word", 30000)


@pytest.mark.parametrize(
    ("words", "plates"),
    [
        ("qx81", ["12-QX-81"]),
        ("calder t9", ["12-QX-81"]),
        ("12 qx", ["12-QX-81"]),
        ("t9", ["12-QX-81", "77-AA-01"]),
        ("x-8", ["12-QX-81"]),  # a part of a plate, over its hyphen
        ("bran nock", ["12-QX-81", "77-AA-01"]),
        ("MÁRSH", ["77-AA-01"]),
        ("rui-m", []),  # words of a name are looked for one by one
        ("rui zoë", []),
        ("- .", ["12-QX-81", "77-AA-01"]),  # nothing to look for
        ("12 | qx", ["12-QX-81"]),
        ("100%", []),
        ("nobody", []),
    ],
)
def test_a_machine_is_found_by_plate_owner_or_model(client, shop, machine, words, plates):
    new_machine(shop, "77-AA-01", "Rui Marsh")
    page = client.get("/machines/", {"q": words}).content.decode()

    assert [plate for plate in ("12-QX-81", "77-AA-01") if f"· {plate}" in page] == plates


@pytest.mark.postgres
def test_a_machine_is_found_by_what_it_and_its_owner_are_called_now(desk, machine):
    def found(words: str) -> bool:
        return machines_by(desk, words).exists()

    old = Machine.objects.get(pk=machine.pk)  # as a page kept open has it
    machine.plate = "88-ZÜ 7"
    machine.save(update_fields=["plate"])
    assert found("zu7")
    assert not of_plate(desk, "12-QX-81").exists()
    old.model = "T10"
    old.save(update_fields=["model"])
    assert found("t10 zu7")
    owner = Owner.objects.get(pk=machine.owner_id)
    owner.name = "Bjørn Ångström"
    owner.save()
    assert found("angstrom bjørn 88")
    assert not found("calder")
    owner.erase(date(2026, 1, 1))
    assert not found("angstrom")
    machine.owner = Owner.objects.create(shop=machine.shop, name="Ada Straße")
    machine.save(update_fields=["owner"])
    assert found("strasse zu7")
    assert of_plate(desk, "88zu-7").get() == machine
    assert not of_plate(desk, "88zu").exists()
    assert of_number(desk, "inv 12qx81").get() == machine
    assert not of_number(desk, "inv12qx8").exists()
    assert not of_plate(desk, "").exists() | of_number(desk, " - ").exists()


def test_two_people_change_one_machine_and_both_changes_stay(client, machine, colleague, client_of):
    path = f"/machines/{machine.pk}/edit/"
    other = client_of(colleague)
    first = form_of(client.get(path).content.decode(), "colour") | {"colour": "red"}
    second = form_of(other.get(path).content.decode(), "colour") | {"year": "2016"}

    assert [client.post(path, first).status_code, other.post(path, second).status_code] == [
        303,
        303,
    ]
    machine.refresh_from_db()
    assert (machine.colour, machine.year, machine.plate) == ("red", 2016, "12-QX-81")


def test_one_identification_number_is_one_machine(client, shop, machine):
    other = new_machine(shop, "77-AA-01", "Rui Marsh")
    answer = send(client, f"/machines/{other.pk}/edit/", {"identification": "inv 12-qx-81"})

    assert answer.status_code == 422
    assert "12-QX-81 has this number" in " ".join(faults_of(answer))
    assert Machine.objects.get(pk=other.pk).identification == "INV77-AA-01"


def test_one_plate_is_one_machine_else_its_history_would_be_two(client, machine):
    answer = send(client, "/arrive/?book=none", {
        "machine-maker": "Brannock", "machine-model": "T9", "machine-plate": "12 qx 81",
        "owner-name": "Ines Calder", "odometer": "48000"})  # fmt: skip

    assert answer.status_code == 422
    assert "Brannock T9 has this plate" in " ".join(faults_of(answer))
    assert Machine.objects.count() == 1


def test_an_erased_owner_is_not_offered_and_the_machine_needs_a_new_one(client, desk, visit):
    owner = visit.machine.owner
    store.record(desk, visit, "returned", {})
    client.post(f"/owners/{owner.pk}/erase/", {"sure": "on"})

    page = client.get(f"/arrive/?machine={visit.machine_id}").content.decode()
    assert "Ines Calder" not in page
    answer = send(client, f"/arrive/?machine={visit.machine_id}", {"odometer": "48300"})
    assert "Whose machine" in " ".join(faults_of(answer))
    send(
        client,
        f"/arrive/?machine={visit.machine_id}",
        {"odometer": "48300", "owner-name": "Ana Voss"},
    )
    assert Machine.objects.get(pk=visit.machine_id).owner == Owner.objects.get(name="Ana Voss")


def test_two_readings_that_show_wear_lead_to_when_the_limit_is_reached(client, desk, visit):
    """From 4 mm to 2.8 mm in 3000 km, least 1.6 mm: another 3000 km, and no link from one reading alone."""
    machine = visit.machine
    page = f"/machines/{machine.pk}/"
    tread = {"reading": "tread", "step": "tyre/swap", "index": 1}
    store.record(desk, visit, "read", tread | {"value": 4.0, "text": "4 mm"})
    store.record(desk, visit, "returned", {"keys": 2})
    assert "When is it due?" not in client.get(page).content.decode()

    later = store.open_visit(desk, machine)
    store.record_all(desk, later, store.Ticket(str(new_id())), [
        ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id)}),
        ("odometer", {"km": 51210.0, "text": "51210 km"}),
        ("book_pinned", {"revision": machine.book.current.sha256}),
        ("job_taken", {"job": "tyre"}),
        ("read", tread | {"value": 2.8, "text": "2.8 mm"}),
    ])  # fmt: skip
    link = re.search(
        r'href="(/calculate/wear-forecast/[^"]+)">When is it due', client.get(page).content.decode()
    )
    assert link
    answer = client.get(unescape(link[1])).content.decode()
    assert "About 3000 km until the limit." in answer
