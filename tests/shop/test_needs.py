"""What the machine needs: proposed from what is known, chosen by ticks, recorded as what was changed."""

import re
from datetime import timedelta

import pytest
from django.utils import timezone

from witnessmark.book import archetypes, load_book
from witnessmark.shop import store
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import LastDoneKnown
from witnessmark.shop.pages.needs.asked import asked_for, names
from witnessmark.shop.pages.needs.needs import needs_of
from witnessmark.shop.work.visit import read


@pytest.fixture
def tab(technician, client_of):
    return client_of(technician)


@pytest.fixture
def arrived(desk, machine):
    """A machine taken in, nothing decided yet."""
    visit = store.open_visit(desk, machine)
    store.record_all(desk, visit, store.Ticket(str(new_id())), [
        ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id), "complaint": "pulls to the left"}),
        ("odometer", {"km": 48210.0, "text": "48210 km"}),
        ("book_pinned", {"revision": machine.book.current.sha256}),
    ])  # fmt: skip
    return visit


def path(visit, rest=""):
    return f"/visits/{visit.pk}/needs/{rest}"


def form_of(page) -> dict:
    """The form as the page has it: ticket, ticks, what it showed as taken."""
    said = page.content.decode().split('id="jobs"', 1)[1].split("</form>")[0]
    entry = re.search(r'name="entry_id" value="([^"]+)"', said)[1]
    seen = re.search(r'name="seen" value="([^"]*)"', said)[1].replace("&quot;", '"')
    ticked = re.findall(r'name="job" value="(\w+)" checked', said)
    return {
        "entry_id": entry,
        "seen": seen,
        "job": ticked,
        "shown": re.findall(r'name="shown" value="(\w+)"', said),
    }


def test_what_is_due_is_ticked_as_a_proposal_and_nothing_is_written(tab, arrived):
    before = len(store.entries(arrived))
    page = tab.get(path(arrived))

    assert form_of(page)["job"] == ["tyre"]
    said = page.content.decode()
    assert "pulls to the left" in said
    assert "never known to be done" in said
    assert len(store.entries(arrived)) == before


def test_one_tap_unticks_all_that_is_due_and_one_ticks_it_again(tab, arrived):
    said = tab.get(path(arrived)).content.decode()
    assert 'href="?tick=none"' in said
    page = tab.get(path(arrived, "?tick=none"))
    assert form_of(page)["job"] == []
    assert 'href="?tick=due"' in page.content.decode()
    assert form_of(tab.get(path(arrived, "?tick=due")))["job"] == ["tyre"]
    assert "0 jobs are ticked" in page.content.decode()
    tab.post(path(arrived), form_of(page) | {"job": ["lights"]})
    assert store.state(arrived).jobs == {"lights": "taken", "tyre": "left"}


def test_of_an_unknown_history_what_the_owner_named_is_ticked_alone(tab, desk, machine):
    visit = store.open_visit(desk, machine)
    store.record(desk, visit, "book_pinned", {"revision": machine.book.current.sha256})
    book = read(visit).book
    said = {"machine": str(machine.pk), "owner": str(machine.owner_id)}
    complaint = f"{book.jobs['lights'].text.upper()}, please; it stutters"
    store.record(desk, visit, "arrived", said | {"complaint": complaint})
    page = tab.get(path(visit))
    assert form_of(page)["job"] == asked_for(book, complaint)
    assert "lights" in asked_for(book, complaint)
    assert "tyre" not in asked_for(book, complaint)
    assert "Only what was asked for is ticked" in page.content.decode()
    assert form_of(tab.get(path(visit, "?tick=due")))["job"] == ["tyre"]
    assert asked_for(book, "pulls to the left") == asked_for(book, "") == []


def test_looking_for_a_job_records_nothing_and_keeps_what_is_ticked_and_typed(tab, arrived):
    before = len(store.entries(arrived))
    sent = form_of(tab.get(path(arrived))) | {"job": ["lights"], "because": "asked for"}
    page = tab.post(path(arrived), sent | {"look": "1", "find": "no such job"})
    assert page.status_code == 200
    assert form_of(page)["job"] == ["lights"]
    assert 'value="asked for"' in page.content.decode()
    assert len(store.entries(arrived)) == before


@pytest.mark.parametrize(
    ("said", "job"),
    [
        ("Oil change", "engine_oil"),
        ("ÖLWECHSEL bitte, danke", "engine_oil"),
        ("front brake rotor", "front_disc"),
        ("Ventilspiel", "valves"),
        ("Tappets; it pulls to the left", "valves"),
    ],
)
def test_a_job_is_found_by_what_others_of_the_trade_call_it(said, job):
    """Common practice, no source."""
    book = load_book(archetypes()["naked_four"])
    assert job in asked_for(book, said)
    assert job not in asked_for(book, "it pulls to the left")


def test_a_job_is_looked_for_by_any_of_its_names():
    book = load_book(archetypes()["naked_four"])
    found = {job for job in book.jobs if names(book, job, "oil chan")}
    assert found == {"engine_oil", "fork_oil"}
    assert names(book, "rear_pads", "bremsb hinten")  # as it is translated
    assert not names(book, "rear_pads", "change oil")


def test_taking_on_records_each_job_with_its_reason(tab, arrived):
    got = tab.post(
        path(arrived),
        form_of(tab.get(path(arrived))) | {"job": ["tyre", "lights"], "because": "asked for"},
    )

    assert (got.status_code, got.url) == (303, f"/visits/{arrived.pk}/price/")
    taken = {
        e.body["job"]: e.body["because"] for e in store.entries(arrived) if e.kind == "job_taken"
    }
    assert taken["tyre"].startswith("due: never known to be done")
    assert taken["lights"] == "asked for"


def test_a_due_job_left_out_is_recorded_as_left(tab, arrived):
    tab.post(path(arrived), form_of(tab.get(path(arrived))) | {"job": ["lights"]})

    assert store.state(arrived).jobs == {"lights": "taken", "tyre": "left"}
    assert form_of(tab.get(path(arrived)))["job"] == ["lights"]  # the proposal does not come back


def test_two_people_do_not_undo_each_other(tab, arrived, colleague, client_of):
    """Both have the page open; each changes one thing; both changes stand."""
    tab.post(path(arrived), form_of(tab.get(path(arrived))))
    mine, theirs = form_of(tab.get(path(arrived))), form_of(client_of(colleague).get(path(arrived)))
    client_of(colleague).post(path(arrived), theirs | {"job": ["tyre", "lights"]})
    tab.post(path(arrived), mine | {"job": []})

    assert store.state(arrived).jobs == {"tyre": "left", "lights": "taken"}


def test_the_same_form_twice_is_stored_once(tab, arrived):
    form = form_of(tab.get(path(arrived)))
    tab.post(path(arrived), form)
    count = len(store.entries(arrived))
    tab.post(path(arrived), form)

    assert len(store.entries(arrived)) == count


def test_a_declined_job_comes_up_again_and_is_said_so(tab, arrived, desk, machine):
    store.record_all(desk, arrived, store.Ticket(str(new_id())), [
        ("job_taken", {"job": "lights"}),
        ("offered", {"estimate": "a" * 64, "lines": ["lights"]}),
        ("answered", {"estimate": "a" * 64, "line": "lights", "verdict": "no", "by": str(machine.owner_id),
                      "how": "in person"}),
        ("job_left", {"job": "lights"}),
    ])  # fmt: skip
    later = store.open_visit(desk, machine)
    store.record(desk, later, "book_pinned", {"revision": machine.book.current.sha256})

    assert "declined on" in tab.get(path(later)).content.decode()
    assert (
        "declined on" not in tab.get(path(arrived)).content.decode()
    )  # its own visit: see its price
    LastDoneKnown(
        shop=machine.shop,
        machine=machine,
        job="lights",
        known="record",
        km=1,
        on=timezone.localdate(),
    ).save()
    assert "declined on" not in tab.get(path(later)).content.decode()


def test_a_record_tells_how_it_is_ridden(arrived, machine):
    """Work on record at 42 210 km two hundred days ago: 6000 km since then are 30 a day."""
    day = timezone.localdate() - timedelta(days=200)
    LastDoneKnown(
        shop=machine.shop,
        machine=machine,
        job="tyre",
        known="record",
        km=42210,
        on=day,
        source="stamp",
    ).save()
    needed = needs_of(read(arrived))

    assert needed.riding.km_per_day == 30
    assert needed.next_visit.km == pytest.approx(48210 + 365 * 30)
    assert needed.proposed == ()
    assert "by record (stamp)" in needed.due[0].why


def test_a_missing_figure_is_named_where_it_is_used_and_can_be_entered(tab, arrived, desk, machine):
    from witnessmark.shop import content_store

    book = content_store.book_of(machine.shop, machine.book.current.sha256)
    bolts = book.figures["wheel_bolts"].model_copy(update={"value": None, "source": None})
    stored = content_store.keep_book(
        machine.shop, book.model_copy(update={"figures": book.figures | {"wheel_bolts": bolts}})
    )
    store.record(desk, arrived, "book_pinned", {"revision": stored.current.sha256})
    page = tab.get(path(arrived))
    said = page.content.decode()
    assert "1 figure missing" in said
    assert "Work stops without it at: Fit the rear wheel" in said

    one = f"/visits/{arrived.pk}/figures/wheel_bolts/"
    led = f"?only=1&amp;back={path(arrived)}"
    assert f'href="{one}{led}"' in said
    to = f"{one}set/{led.replace('&amp;', '&')}"
    sent = {k: v for k, v in form_of(page).items() if k in {"entry_id", "seen"}}
    typed = {"value": "60", "unit": "N·m", "document": "manual", "page": "12"}
    answer = tab.post(to, sent | typed)
    assert (answer.status_code, answer.url) == (303, path(arrived))
    assert read(arrived).book.figures["wheel_bolts"].source == "manual, page 12"
    assert "figure missing" not in tab.get(path(arrived)).content.decode()
