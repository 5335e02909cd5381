"""Taking a machine in: one form, one visit; what cannot be is asked about, and nothing typed is lost."""

import json
import re
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from io import BytesIO
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connections
from django.utils import timezone
from PIL import Image
from playwright.sync_api import expect

import witnessmark.demo
from screenshots import faults
from tests.shop.filled import faults_of, form_of, send
from witnessmark.book import load_book
from witnessmark.ledger.gates import gate
from witnessmark.shop import content_store, store
from witnessmark.shop.models import (
    Entry,
    LastDoneKnown,
    Machine,
    Owner,
    PhotoKept,
    StoredBook,
    Visit,
    VisitSummary,
)
from witnessmark.shop.work.machine_history import last_done

DEMO = Path(witnessmark.demo.__file__).parent / "books"
NEW = {"machine-maker": "Quandle", "machine-model": "T9", "machine-plate": "44-KK-02",
       "machine-identification": "inv 44kk02", "owner-name": "Rui Marsh", "owner-phone": "555 0144",
       "owner-email": "rui@example.org", "owner-address": "Quay 9"}  # fmt: skip


@pytest.fixture
def tourer(shop) -> StoredBook:
    text = (DEMO / "quandle_t9.toml").read_text()
    return content_store.keep_book(shop, load_book(DEMO / "quandle_t9.toml"), text)


@pytest.fixture
def client(technician, client_of):
    return client_of(technician)


def bodies(visit: Visit) -> list[tuple[str, dict]]:
    rows = Entry.objects.filter(visit=visit).order_by("seal__number")
    return [(row.kind, json.loads(row.body)) for row in rows]


def picture(colour: str) -> SimpleUploadedFile:
    out = BytesIO()
    Image.new("RGB", (40, 30), colour).save(out, "JPEG")
    return SimpleUploadedFile(f"{colour}.jpg", out.getvalue(), "image/jpeg")


def at_the_door(client, path: str, **typed) -> dict:
    """The form of the door as it would be sent."""
    return form_of(client.get(path).content.decode(), "odometer") | typed


def test_one_form_takes_in_a_machine_never_here_before(client, tourer):
    """Machine, owner, visit, and the entries: arrived, odometer, the book's revision, what the book asks."""
    answer = send(client, f"/arrive/?book={tourer.pk}", NEW | {
        "odometer": "32000", "complaint": "annual service", "keys": "2", "fuel": "half",
        "may_ride": "yes", "state_panniers": "off", "look_tyres": ["good"],
        "look_leaks": ["none"], "wanted_by": "2027-03-01"})  # fmt: skip

    visit = Visit.objects.get()
    machine, said = visit.machine, dict(bodies(visit))
    assert answer.url == f"/visits/{visit.pk}/arrival/"
    assert (machine.identification, machine.owner.name, machine.book) == (
        "inv 44kk02",
        "Rui Marsh",
        tourer,
    )
    assert [kind for kind, _ in bodies(visit)] == [
        "arrived",
        "odometer",
        "book_pinned",
        "states_found",
    ]
    assert said["odometer"] == {"km": 32000, "text": "32000 km"}
    assert said["book_pinned"] == {"revision": tourer.current.sha256}
    assert said["states_found"] == {"states": {"panniers": "off"}}
    assert said["arrived"] | {"keys": 2, "may_ride": True, "alarm": None, "wanted_by": "2027-03-01",
        "look": {"leaks": "none", "tyres": "good"}} == said["arrived"]  # fmt: skip


def test_the_way_to_a_machine_never_here_before_stands_above_those_that_are_known(client, machine):
    said = client.get("/arrive/").content.decode()
    assert said.index('href="#never"') < said.index(machine.plate) < said.index('id="never"')


def test_no_entry_holds_personal_data_and_an_owner_can_be_erased(client, tourer):
    """Entries name the owner by id; erasing clears the row and leaves the id."""
    send(client, f"/arrive/?book={tourer.pk}", NEW | {"odometer": "32000"})
    owner = Owner.objects.get()

    everything = " ".join(Entry.objects.values_list("body", flat=True))
    assert [word for word in ("Rui", "555 0144", "rui@", "Quay") if word in everything] == []
    assert str(owner.pk) in everything

    unsure = client.post(f"/owners/{owner.pk}/erase/", {"csrfmiddlewaretoken": "x"})
    assert unsure.status_code == 422
    client.post(f"/owners/{owner.pk}/erase/", {"sure": "on"})
    owner.refresh_from_db()
    assert (owner.name, owner.phone, owner.email, owner.address) == ("owner erased", "", "", "")
    assert owner.erased_on == timezone.localdate()


def test_the_same_form_sent_twice_makes_one_visit(client, tourer):
    form = at_the_door(client, f"/arrive/?book={tourer.pk}", **NEW, odometer="32000", **{
        "known-0-job": "front_brake_fluid", "known-0-km": "20000", "known-0-known": "word"})  # fmt: skip

    answers = [client.post("/arrive/", form) for _ in range(2)]

    assert [a.status_code for a in answers] == [303, 303]
    assert len({a.url for a in answers}) == 1
    counts = [m.objects.count() for m in (Visit, Machine, Owner, LastDoneKnown)]
    assert (counts, Entry.objects.count()) == ([1, 1, 1, 1], 3)


@pytest.mark.postgres
def test_two_taps_at_the_same_time_make_one_visit(
    transactional_db, client, technician, client_of, tourer
):
    """Both requests run at once, each on its own connection."""
    form = at_the_door(client, f"/arrive/?book={tourer.pk}", **NEW, odometer="32000")

    def tap(browser) -> int:
        try:
            return browser.post("/arrive/", form).status_code
        finally:
            connections.close_all()

    browsers = [client_of(technician) for _ in range(2)]
    for browser in browsers:  # the same device: its cookie is signed once
        browser.cookies["device"] = client.cookies["device"].value
    with ThreadPoolExecutor(2) as both:
        statuses = list(both.map(tap, browsers))

    assert statuses == [303, 303]
    assert [m.objects.count() for m in (Visit, Machine, Owner)] == [1, 1, 1]
    assert Entry.objects.count() == 3


def test_from_the_arrival_it_goes_on_to_the_needs(client, machine):
    send(client, f"/arrive/?machine={machine.pk}", {"odometer": "48000"})
    visit = Visit.objects.get()
    answer = send(client, f"/visits/{visit.pk}/arrival/", {"complaint": "tyre", "next": "needs"})

    assert answer.url == f"/visits/{visit.pk}/needs/"
    assert dict(bodies(visit))["arrived"]["complaint"] == "tyre"
    assert client.get(answer.url).status_code == 200


def test_a_machine_in_the_shop_does_not_come_in_again(client, visit):
    answer = send(client, f"/arrive/?machine={visit.machine_id}", {"odometer": "48300"})

    assert answer.status_code == 422
    assert "in the shop already, as visit 1" in " ".join(faults_of(answer))
    assert Visit.objects.count() == 1


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("41000", "less than 48\u202f210 km"),
        ("90000", "nobody rides more than"),
        ("48300 ml", "volume"),
        ("lots", "number"),
    ],
)
def test_an_impossible_odometer_is_asked_about_and_nothing_typed_is_lost(
    client, desk, visit, typed, says
):
    """Lower than before, a jump nobody rides, another unit, no number: 422, and the form as it was."""
    store.record(desk, visit, "returned", {})
    answer = send(client, f"/arrive/?machine={visit.machine_id}", {
        "odometer": typed, "complaint": "pulls to the left", "luggage": "top box", "fuel": "half",
        "look_brakes": ["soft"], "known-0-job": "tyre", "known-0-source": "stamp"})  # fmt: skip

    page = form_of(answer.content.decode(), "odometer")
    assert answer.status_code == 422
    assert says in " ".join(faults_of(answer))
    assert (page["odometer"], page["complaint"], page["luggage"]) == (
        typed,
        "pulls to the left",
        "top box",
    )
    assert (page["fuel"], page["look_brakes"], page["known-0-job"]) == ("half", ["soft"], "tyre")
    assert Visit.objects.count() == 1


def test_an_odometer_that_is_right_is_kept_with_its_reason(client, desk, visit):
    store.record(desk, visit, "returned", {})
    answer = send(client, f"/arrive/?machine={visit.machine_id}", {
        "odometer": "120", "right_because": "clock exchanged"})  # fmt: skip

    assert answer.status_code == 303
    newest = Visit.objects.latest("number")
    assert ("odometer", {"km": 120, "text": "120 km"}) in bodies(newest)
    assert any(
        "clock exchanged" in body.get("text", "")
        for kind, body in bodies(newest)
        if kind == "noted"
    )


def test_a_file_that_is_no_photo_is_refused_and_the_good_ones_are_kept(client, machine):
    """A browser forgets its files when a form comes back; the good photos are kept and go in with the next try."""
    form = at_the_door(client, f"/arrive/?machine={machine.pk}", odometer="48000")
    bad = SimpleUploadedFile("notes.jpg", b"no picture", "image/jpeg")
    first = client.post("/arrive/", form | {"photos": [picture("red"), bad, picture("blue")]})

    assert first.status_code == 422
    assert "notes.jpg" in " ".join(faults_of(first))
    again = form_of(first.content.decode(), "odometer")
    assert again["odometer"] == "48000"
    assert len(again["kept_photo"]) == 2
    assert Visit.objects.count() == 0

    client.post("/arrive/", again)
    assert [kind for kind, _ in bodies(Visit.objects.get())].count("photo") == 2


def test_what_was_done_before_is_by_word_or_by_record(client, machine):
    send(client, f"/arrive/?machine={machine.pk}", {
        "odometer": "48000", "owner_said": "new tyre two years ago",
        "known-0-job": "tyre", "known-0-km": "30000", "known-0-known": "word",
        "known-1-job": "lights", "known-1-on": "2025-05-02", "known-1-known": "record",
        "known-1-source": "stamp, page 4"})  # fmt: skip

    known = last_done(machine)
    assert (known["tyre"].known, known["tyre"].km) == ("word", 30000)
    assert (known["lights"].known, known["lights"].source) == ("record", "stamp, page 4")


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ({"known-0-job": "tyre", "known-0-known": "word"}, "distance, the day, or both"),
        ({"known-0-job": "tyre", "known-0-km": "52000", "known-0-known": "word"}, "More than the odometer"),
        ({"known-0-km": "30000", "known-0-known": "word"}, "Which job"),
        ({"known-0-job": "tyre", "known-0-km": "30000", "known-0-known": "record"}, "which record"),
    ],
)  # fmt: skip
def test_what_was_done_before_must_be_possible_and_named(client, machine, row, says):
    answer = send(client, f"/arrive/?machine={machine.pk}", {"odometer": "48000"} | row)

    assert answer.status_code == 422
    assert says in " ".join(faults_of(answer))
    assert (Visit.objects.count(), LastDoneKnown.objects.count()) == (0, 0)


def test_what_must_not_be_ridden_is_a_finding_that_the_road_test_waits_for(client, machine):
    send(
        client,
        f"/arrive/?machine={machine.pk}",
        {"odometer": "48000", "look_leaks": ["oil", "fuel"]},
    )

    state = store.state(Visit.objects.get())
    assert [f.text for f in state.findings] == ["Leaks: fuel, seen at arrival"]
    assert not gate("road test", state).passes


def test_a_machine_without_a_book_comes_in_and_its_book_is_pinned_later(client, tourer):
    send(client, "/arrive/?book=none", NEW | {"odometer": "32000"})
    visit = Visit.objects.get()
    assert store.state(visit).book is None

    send(
        client,
        f"/visits/{visit.pk}/arrival/",
        {"book": str(tourer.pk)},
        to=f"/visits/{visit.pk}/arrival/book/",
    )

    assert store.state(visit).book == tourer.current.sha256
    assert Machine.objects.get().book == tourer


def test_a_half_typed_arrival_comes_back_from_the_build_sheet_as_it_was(client, shop, machine):
    """A model without a book: leave, build, come back with its book; also without it, and from the door."""
    path = "/arrive/?book=none"
    typed = NEW | {
        "odometer": "32000",
        "complaint": "rattles",
        "fuel": "half",
        "look_tyres": ["good"],
    }
    sent = at_the_door(client, path, **typed, photos=picture("red"), build="1")
    away = client.post("/arrive/", sent)
    assert client.post("/arrive/", sent)["Location"] == away["Location"]  # sent twice: once kept
    assert not Machine.objects.exclude(pk=machine.pk).exists()
    sheet = client.get(away["Location"]).content.decode()
    assert 'value="Quandle"' in sheet
    (back,) = re.findall(r'href="(/arrive/\?half=[^"]+)"', sheet)
    door = client.get("/arrive/").content.decode()
    assert (door.count(back), "Quandle T9 44-KK-02" in door) == (1, True)

    def lost(form):
        return {name for name, said in typed.items() if form.get(name) != said}

    form = form_of(client.get(back).content.decode(), "odometer")
    assert (lost(form), form["book"]) == (set(), "none")
    begun = client.post(away["Location"], form_of(sheet, "maker") | {"begin": "naked_four"})
    started = client.post(
        away["Location"],
        form_of(begun.content.decode(), "maker") | {"maker": "Quandle", "model": "T9 B"},
    )
    (book,) = StoredBook.objects.filter(name="quandle_t9_b")
    assert started["Location"] == f"{back}&book={book.pk}"
    form = form_of(client.get(started["Location"]).content.decode(), "odometer")
    assert (lost(form), form["book"]) == ({"machine-model"}, str(book.pk))
    assert form["machine-model"] == "T9 B"
    answer = client.post("/arrive/", form | {"odometer": "much"})
    assert answer.status_code == 422
    answer = client.post("/arrive/", form_of(answer.content.decode(), "odometer") | {"odometer": "32000"})  # fmt: skip
    visit = Visit.objects.get(machine__plate="44-KK-02")
    assert answer["Location"] == f"/visits/{visit.pk}/arrival/"
    said = dict(bodies(visit))
    assert said["book_pinned"] == {"revision": book.current.sha256}
    assert (said["arrived"]["complaint"], len(PhotoKept.objects.all())) == ("rattles", 1)
    gone = client.get(back)
    assert "not here any more" in gone.content.decode()
    assert "Half typed" not in client.get("/arrive/").content.decode()


def test_a_known_machine_without_a_book_gets_the_one_made_for_it(client, machine, tourer):
    Machine.objects.filter(pk=machine.pk).update(book=None)
    sent = at_the_door(client, f"/arrive/?machine={machine.pk}", odometer="32000", build="1")
    away = client.post("/arrive/", sent)["Location"]
    back = parse_qs(urlsplit(away).query)["back"][0]
    form = form_of(client.get(f"{back}&book={tourer.pk}").content.decode(), "odometer")
    assert (form["odometer"], form["book"]) == ("32000", str(tourer.pk))
    client.post("/arrive/", form)
    machine.refresh_from_db()
    assert (machine.book, Visit.objects.filter(machine=machine).count()) == (tourer, 1)


def test_a_book_is_not_exchanged_under_jobs_that_were_taken_on(client, visit, tourer):
    page = client.get(f"/visits/{visit.pk}/arrival/").content.decode()
    ticket = {name: form_of(page, "odometer")[name] for name in ("entry_id", "seen")}
    before = store.state(visit).book
    answer = client.post(f"/visits/{visit.pk}/arrival/book/", ticket | {"book": str(tourer.pk)})

    assert answer.status_code == 422
    assert "Jobs are booked" in " ".join(faults_of(answer))
    assert store.state(visit).book == before


def test_two_people_who_correct_an_arrival_both_keep_what_they_changed(
    client, colleague, client_of, visit
):
    """Each changes one thing on a page opened before the other's was kept. The time of arrival stays."""
    path = f"/visits/{visit.pk}/arrival/"
    at_the_desk = form_of(client.get(path).content.decode(), "odometer") | {
        "complaint": "tyre and chain"
    }
    other = client_of(colleague)
    at_the_tablet = form_of(other.get(path).content.decode(), "odometer") | {
        "keys": "1",
        "odometer": "48300",
    }
    came = VisitSummary.objects.get(visit=visit).arrived_at

    assert [
        client.post(path, at_the_desk).status_code,
        other.post(path, at_the_tablet).status_code,
    ] == [303, 303]

    arrived = [body for kind, body in bodies(visit) if kind == "arrived"][-1]
    summary = VisitSummary.objects.get(visit=visit)
    assert (arrived["complaint"], arrived["keys"]) == ("tyre and chain", 1)
    assert (summary.odometer_km, summary.arrived_at) == (48300, came)


def test_a_page_kept_as_it_is_writes_nothing(client, visit):
    before = Entry.objects.count()
    answer = send(client, f"/visits/{visit.pk}/arrival/", {"complaint": "rear tyre worn"})

    assert answer.status_code == 303
    assert Entry.objects.count() == before


def test_a_day_to_come_and_a_book_year_are_refused(client, tourer):
    tomorrow = (timezone.localdate() + timedelta(days=2)).isoformat()
    answer = send(client, f"/arrive/?book={tourer.pk}", NEW | {
        "odometer": "32000", "machine-year": "1066",
        "known-0-job": "front_brake_fluid", "known-0-on": tomorrow, "known-0-known": "word"})  # fmt: skip

    said = " ".join(faults_of(answer))
    assert ("Not a year" in said, "still to come" in said) == (True, True)
    assert Visit.objects.count() == 0


def test_an_odd_identification_number_is_kept_as_typed_and_told(client, tourer):
    """Never refused: what was probably meant is told as one types, and stands on the arrival and the machine."""
    typed = "1M8 GDM9AX KPO42788"
    told = client.get("/machines/number/", {"machine-identification": typed}).content.decode()
    assert "Probably meant: 1M8GDM9AXKP042788" in told
    send(client, f"/arrive/?book={tourer.pk}", NEW | {
        "odometer": "32000", "machine-identification": typed})  # fmt: skip

    visit = Visit.objects.get()
    assert visit.machine.identification == typed
    for path in (f"/visits/{visit.pk}/arrival/", f"/machines/{visit.machine.pk}/"):
        assert "Probably meant: 1M8GDM9AXKP042788" in client.get(path).content.decode()


def test_tyres_are_kept_as_marked_and_told_in_words(client, tourer):
    """Size, load, speed and date from the marking; the part that cannot be read is told, too."""
    front = "120/70 ZR 17 M/C (58W) DOT 2319 XYLOPHON"
    send(client, f"/arrive/?book={tourer.pk}", NEW | {"odometer": "32000", "tyre_front": front})

    visit = Visit.objects.get()
    assert dict(bodies(visit))["arrived"]["look"] == {"tyre_front": front}
    for path in (f"/visits/{visit.pk}/arrival/", f"/machines/{visit.machine.pk}/"):
        page = client.get(path).content.decode()
        assert "58 (236 kg), W (over 270 km/h)" in page
        assert "week 23 of 2019" in page
        assert "“XYLOPHON”: not understood." in page


@pytest.mark.browser
def test_a_number_is_told_as_one_types(page, live_server, technician, sign_in):
    """In the real browser: the warning comes with the slip and goes with it; the field keeps what was typed."""
    sign_in(page, technician)
    page.goto(f"{live_server.url}/arrive/?book=none")
    number = page.get_by_label("Identification number")
    number.fill("1M8GDM9AXKPO42788")
    warning = page.get_by_text("Probably meant: 1M8GDM9AXKP042788")
    warning.wait_for()
    number.fill("1M8GDM9AXKP042788")
    page.get_by_text("1989 or 2019").wait_for()
    assert warning.count() == 0
    assert faults(page) == []


@pytest.mark.browser
@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
def test_a_known_machine_is_in_with_three_taps_and_one_number(
    browser, live_server, technician, client_of, machine, scripts
):
    """On a phone: take in, the machine, its odometer, take it in. The page in error has no fault of its own."""
    page = browser.new_context(
        java_script_enabled=scripts, viewport={"width": 390, "height": 844}
    ).new_page()
    cookie = client_of(technician).cookies["sessionid"].value
    page.context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
    page.goto(f"{live_server.url}/")
    page.get_by_role("link", name="Take in the first machine").click()
    page.get_by_role("link", name="Brannock T9 · 12-QX-81").click()
    page.get_by_role("button", name="Take it in").click()
    expect(page.locator(".field.wrong")).to_have_count(1)
    if scripts:
        assert faults(page) == []
    page.get_by_label("Odometer").fill("48210")
    page.get_by_role("button", name="Take it in").click()

    expect(page.get_by_text("Taken in.")).to_be_visible()
    expect(page.get_by_role("button", name="What’s due")).to_be_visible()
    if scripts:
        assert faults(page) == []
    page.context.close()
