"""What was read beyond or at a limit, or found at the door leads on: to a job and its price, or an answer."""

import re

import pytest
from playwright.sync_api import expect

from screenshots import SIZES, faults
from tests.fixtures.shop import new_machine
from tests.shop.day import FORM, Person, text_of
from tests.shop.filled import Forms
from tests.sweep import either_size
from witnessmark.book import load_book_text
from witnessmark.ledger import new_entry_id
from witnessmark.shop import content_store, store
from witnessmark.shop.ids import new_id
from witnessmark.shop.work.arrival_look import LOOKS
from witnessmark.shop.work.visit import read

MANUAL = "invented workshop manual, p. 30"
BOOK = f"""
format = 1
name = "invented_four"
title = "Invented four"
extends = "naked_four"
invented = true
machine = {{ maker = "Invented", model = "Four" }}

[figures.rear_tread_least]
value = "1.6 mm"
source = "{MANUAL}"
"""
TREAD, LOAD = "tyres/read_rear", "battery/test"


@pytest.fixture
def tab(technician, client_of):
    return client_of(technician)


@pytest.fixture
def four(desk, shop):
    """`four("tyres", …, look={…})`: a machine built of blocks, jobs taken on, the look at the door."""
    book = content_store.keep_book(shop, load_book_text(BOOK))
    machine = new_machine(shop, "44-FO-04", "Ines Calder", book)

    def here(*jobs, look=None, found=()):
        visit = store.open_visit(desk, machine)
        came = {"machine": str(machine.pk), "owner": str(machine.owner_id), "look": look or {}}
        put(desk, visit, ("arrived", came), ("odometer", {"km": 21000.0, "text": "21000 km"}),
            ("book_pinned", {"revision": book.current.sha256}),
            *(("found", {"text": text, "safety": True}) for text in found),
            *(("job_taken", {"job": job}) for job in jobs))  # fmt: skip
        return visit

    return here


def put(desk, visit, *acts):
    store.record_all(desk, visit, store.Ticket(str(new_id())), list(acts))


def tread(mm, step=TREAD):
    body = {"reading": "rear_tread", "step": step, "index": 1, "text": f"{mm} mm"}
    return "read", body | {"value": mm}


def load(words):
    return "read", {"reading": "battery_load", "step": LOAD, "index": 1, "words": words}


def bench(visit) -> str:
    return f"/visits/{visit.pk}/bench/"


def strips(client, visit) -> list[str]:
    """The words of the readings that stand above the card."""
    page = client.get(bench(visit)).content.decode()
    return [
        " ".join(re.sub(r"<[^>]*>", " ", one).split())
        for one in re.findall(r'<section class="strip".*?</section>', page, re.DOTALL)
        if f"{bench(visit)}mend/" in one or "No ride until" in one
    ]


def mend_form(client, visit, reading: str) -> dict:
    page = client.get(bench(visit)).content.decode()
    forms = (f for f in FORM.findall(page) if "mend/" in f and f'value="{reading}"' in f)
    return dict(Forms(next(forms)).found[0][1])


def let(visit) -> str:
    return read(visit).state.readings[-1].entry


# ---------------------------------------------------------------- beyond the limit


def test_what_holds_no_ride_offers_its_job_with_minutes_and_price_and_the_finding_is_answered(
    tab, desk, four
):
    visit = four("battery")
    put(desk, visit, load("does not hold"))
    assert strips(tab, visit) == [
        "Battery under load: does not hold. Ask the owner: Renew the battery"
    ]
    price = tab.get(f"{bench(visit)}mend/battery_change/")
    assert re.search(r"\d+ min, .*\d.* with tax", text_of(price))
    before = len(store.entries(visit))
    tab.get(f"{bench(visit)}mend/battery_change/")
    assert len(store.entries(visit)) == before

    form = mend_form(tab, visit, "battery_load") | {"job": "battery_change"}
    assert tab.post(f"{bench(visit)}mend/", form).url == f"{bench(visit)}owner/"
    state = read(visit).state
    assert "battery_change" in state.taken
    assert "battery_change" in state.offers[-1].lines
    assert not any(item.startswith("outside/battery_load") for item in state.items)
    assert [one.settled for one in state.findings] == ["booked as Renew the battery"]
    assert strips(tab, visit) == []

    assert tab.post(f"{bench(visit)}mend/", form).status_code == 303  # sent twice: once
    assert len([e for e in store.entries(visit) if e.kind == "offered"]) == 1
    late = tab.post(f"{bench(visit)}mend/", form | {"entry_id": new_entry_id()})
    assert late.status_code == 409


def test_tread_below_its_limit_holds_the_ride_and_offers_the_tyre(tab, desk, four):
    visit = four("tyres", "ride_after")
    put(desk, visit, tread(1.2))
    [held] = strips(tab, visit)
    assert f"1.2 mm measured with ±0.1 mm: below the limit of 1.6 mm ({MANUAL})." in held
    assert "No ride until it is put right and read again." in held
    assert "Ask the owner: Rear tyre" in held
    form = mend_form(tab, visit, "rear_tread")
    assert tab.post(f"{bench(visit)}mend/", form | {"let": let(visit)}).status_code in (400, 409)
    assert not any(e.kind == "let_be" for e in store.entries(visit))


def test_a_job_that_does_not_put_it_right_is_refused_and_none_named_is_no_line_of_its_own(
    tab, desk, four
):
    visit = four("battery")
    put(desk, visit, load("does not hold"))
    form = mend_form(tab, visit, "battery_load")
    form.pop("job", None)
    for job in ({"job": "chain"}, {}):
        assert tab.post(f"{bench(visit)}mend/", form | job).status_code == 400
    assert tab.get(f"{bench(visit)}mend/no_such_job/").status_code == 404
    assert not store.state(visit).offers


def test_a_helper_sees_it_and_decides_nothing(client_of, helper, desk, four):
    visit = four("battery", "tyres")
    put(desk, visit, load("does not hold"), tread(1.6))
    client = client_of(helper)
    page = text_of(client.get(bench(visit)))
    assert "Battery under load: does not hold" in page
    assert "at the limit of 1.6 mm" in page
    assert "Let it be" not in page.partition("Card in hand")[0].replace("Let it be, or offer", "")
    said = {"entry_id": new_entry_id(), "reading": "rear_tread", "let": let(visit)}
    assert client.post(f"{bench(visit)}mend/", said).status_code == 403
    assert client.get(f"{bench(visit)}mend/battery_change/").status_code == 403


# ---------------------------------------------------------------- at the limit


def test_a_reading_at_its_limit_asks_and_the_answer_is_kept_with_the_name(
    tab, desk, technician, four
):
    visit = four("tyres")
    put(desk, visit, tread(1.6))
    [asks] = strips(tab, visit)
    assert f"1.6 mm measured with ±0.1 mm: at the limit of 1.6 mm ({MANUAL})." in asks
    assert "Let it be, or offer what renews or sets it?" in asks
    assert "Ask the owner: Rear tyre" in asks

    form = mend_form(tab, visit, "rear_tread") | {"let": let(visit)}
    form.pop("job", None)
    assert tab.post(f"{bench(visit)}mend/", form).status_code == 303
    kept = store.entries(visit)[-1]
    assert (kept.kind, kept.author) == ("let_be", str(technician.pk))
    assert kept.body["words"].startswith("Rear tyre, least tread: 1.6 mm")
    assert strips(tab, visit) == []
    assert f"let be by {technician}" in text_of(tab.get(f"{bench(visit)}?card={TREAD}"))

    assert tab.post(f"{bench(visit)}mend/", form).status_code == 303  # the same form again
    assert len([e for e in store.entries(visit) if e.kind == "let_be"]) == 1
    again = tab.post(f"{bench(visit)}mend/", form | {"entry_id": new_entry_id()})
    assert again.status_code in (400, 409)


def test_read_once_more_it_is_asked_once_more_and_an_old_page_answers_nothing(tab, desk, four):
    visit = four("tyres")
    put(desk, visit, tread(1.6))
    old = mend_form(tab, visit, "rear_tread") | {"let": let(visit)}
    old.pop("job", None)
    put(desk, visit, tread(1.7))
    assert tab.post(f"{bench(visit)}mend/", old).status_code == 409
    assert "1.7 mm" in strips(tab, visit)[0]
    put(desk, visit, tread(4.0))
    assert strips(tab, visit) == []


def test_taken_back_the_question_comes_back(tab, desk, four):
    visit = four("tyres")
    put(desk, visit, tread(1.6))
    form = mend_form(tab, visit, "rear_tread") | {"let": let(visit)}
    form.pop("job", None)
    tab.post(f"{bench(visit)}mend/", form)
    Person(tab).do(bench(visit), f"{bench(visit)}undo/")
    assert len(strips(tab, visit)) == 1


def test_after_hand_back_nothing_is_asked_and_an_old_form_is_told_so(tab, desk, four):
    visit = four("tyres")
    put(desk, visit, tread(1.6))
    form = mend_form(tab, visit, "rear_tread") | {"let": let(visit)}
    form.pop("job", None)
    put(desk, visit, ("returned", {"keys": 0, "fobs": 0}))
    assert strips(tab, visit) == []
    answer = tab.post(f"{bench(visit)}mend/", form)
    assert answer.status_code == 409
    assert not any(e.kind == "let_be" for e in store.entries(visit))


# ---------------------------------------------------------------- found at the door


def needs(visit) -> str:
    return f"/visits/{visit.pk}/needs/"


def ticked(client, visit) -> set[str]:
    said = client.get(needs(visit)).content.decode()
    return set(re.findall(r'name="job" value="(\w+)" checked', said))


def test_what_was_found_at_the_door_is_ticked_with_why_and_kept_so(tab, four):
    visit = four(look={"tyres": "worn", "tyres_where": "rear", "drive": "slack"})
    said = text_of(tab.get(needs(visit)))
    assert {"tyres", "chain"} <= ticked(tab, visit)
    assert "found at arrival: Tyres: worn (rear)" in said
    assert "found at arrival: Drive: slack" in said
    assert "rear_tyre" not in ticked(tab, visit)  # its test comes first
    Person(tab).do(needs(visit), holding='name="because"', job=["tyres"])
    [taken] = [e.body for e in store.entries(visit) if e.kind == "job_taken"]
    assert taken["because"].startswith("due: found at arrival: Tyres: worn (rear)")


def test_it_stands_on_the_card_that_looks_at_it_and_on_no_other(tab, four):
    visit = four("tyres", look={"tyres": "worn", "tyres_where": "rear"})
    words = "Found at arrival: Tyres: worn (rear)"
    assert words in text_of(tab.get(f"{bench(visit)}?card={TREAD}"))
    assert words not in text_of(tab.get(f"{bench(visit)}?card=tyres/read_front"))


def test_one_that_must_not_be_ridden_is_answered_at_the_card_that_looks_at_it(tab, four):
    visit = four("tyres", look={"tyres": "flat"}, found=["Tyres: flat, seen at arrival"])
    page = tab.get(f"{bench(visit)}?card={TREAD}")
    assert "Answer: Tyres: flat" in text_of(page)
    Person(tab).do(
        f"{bench(visit)}?card={TREAD}", f"{bench(visit)}settle/", settle__how="put right"
    )
    page = text_of(tab.get(f"{bench(visit)}?card={TREAD}"))
    assert "Found at arrival: Tyres: flat" in page
    assert "Answer: Tyres: flat" not in page


def test_what_no_job_looks_at_is_an_extra_line_as_before(tab, four):
    visit = four(look={"body": "dented", "else_seen": "mirror taped", "tyre_rear": "120/70 ZR 17"})
    page = tab.get(needs(visit)).content.decode()
    assert f"/visits/{visit.pk}/line/?words=Paint%20and%20body%3A%20dented" in page
    assert "words=mirror%20taped" in page
    assert "words=120" not in page  # a marking is no finding


def test_a_place_without_a_finding_is_asked_about_and_nothing_typed_is_lost(tab, four):
    visit = four(look={"leaks": "oil"})
    here = f"/visits/{visit.pk}/arrival/"
    form = Person(tab).form(here, here, 'name="complaint"')
    answer = tab.post(here, form | {"look_leaks": ["none"], "look_leaks_where": ["front", "left"]})
    assert answer.status_code == 422
    assert "Say above what was found there." in text_of(answer)
    assert re.search(r'name="look_leaks_where" value="left"[^>]*checked', answer.content.decode())
    assert tab.post(here, form | {"look_leaks": ["oil"], "look_leaks_where": ["front", "left"]}).url
    assert read(visit).state  # kept
    assert "Leaks: oil (front, left)" in text_of(tab.get(needs(visit)))


def test_every_word_of_the_look_has_a_name_in_books_but_those_of_the_paint():
    named = {word for look in LOOKS.values() for word in look.names}
    unnamed = {
        w for n, look in LOOKS.items() if n != "body" for w in look.words[1:] if w not in look.names
    }
    assert named
    assert unnamed == set()


def test_nothing_known_of_the_battery_ticks_its_test_and_says_so_at_the_renewal(tab, four):
    visit = four()
    said = text_of(tab.get(needs(visit)))
    assert "battery" in ticked(tab, visit)
    assert "battery_change" not in ticked(tab, visit)
    assert "after the test, Battery test and charge" in said


@pytest.mark.browser
@either_size
def test_the_question_at_a_limit_is_on_the_first_screen_with_its_price(
    page, live_server, sign_in, technician, desk, four, size
):
    visit = four("tyres")
    put(desk, visit, tread(1.6))
    page.set_viewport_size(SIZES[size])
    sign_in(page, technician)
    page.goto(f"{live_server.url}{bench(visit)}")
    offer = page.get_by_role("button", name="Ask the owner: Rear tyre")
    expect(offer).to_contain_text("with tax")
    expect(page.get_by_role("button", name="Let it be")).to_be_in_viewport()
    expect(offer).to_be_in_viewport()
    assert faults(page) == []
