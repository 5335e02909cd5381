"""Trouble codes of a visit: pasted before and after, compared, never cleared unseen."""

from pathlib import Path

import pytest

import witnessmark.demo
from tests.fixtures.shop import new_machine
from tests.fixtures.tour import put
from tests.shipped_books.planned import archetype
from tests.shop.filled import Forms
from tests.shop.test_papers import text_of
from witnessmark.book import load_book
from witnessmark.shop import content_store, store
from witnessmark.shop.work.codes import codes_of
from witnessmark.shop.work.visit import read

pytestmark = pytest.mark.postgres_long

TOURER = Path(witnessmark.demo.__file__).parent / "books" / "quandle_t9.toml"
BEFORE = "P0301 misfire\nC0123-16 [09]\nP0420"
AFTER = "C0123-16 [09]\nU0100"


@pytest.fixture
def tab(technician, client_of):
    return client_of(technician)


def at(visit, act=""):
    return f"/visits/{visit.pk}/codes/{act}"


def _form(tab, visit, act=""):
    """The form of the page that goes to this act, as it stands."""
    page = tab.get(at(visit)).content.decode()
    forms = [values for names, values in Forms(page).found if names or values]
    wanted = {"": "moment", "cleared/": "clear-text"}[act]
    return next(
        values
        for values in forms
        if wanted in values or (wanted == "moment" and "pasted" in values)
    )


def paste(tab, visit, text, **typed):
    sent = _form(tab, visit) | {"pasted": text} | typed
    return tab.post(at(visit), sent)


def became(visit):
    return {
        word: [one.code.written for one in codes] for word, codes in codes_of(read(visit)).groups
    }


def test_codes_pasted_before_and_after_are_compared(tab, visit):
    """Gone, stayed, new; what is still there is a finding, what was copied an entry as pasted."""
    assert paste(tab, visit, BEFORE).status_code == 303
    assert set(read(visit).state.items) == {"codes", "complaint"}
    assert paste(tab, visit, AFTER, moment="after the work").status_code == 303
    assert became(visit) == {
        "new": ["U0100"],
        "stayed": ["C0123-16"],
        "gone": ["P0301", "P0420"],
    }
    entries = [entry for entry in store.entries(visit) if entry.kind == "codes_read"]
    assert [entry.body["pasted"] for entry in entries] == [BEFORE, AFTER]
    (finding,) = read(visit).state.findings
    assert (finding.text, finding.safety) == ("Trouble codes after the work: C0123-16, U0100", True)
    page = tab.get(f"/visits/{visit.pk}/handback/").content.decode()
    assert "P0301" in page
    assert "network, standard code, communication with a control unit" in page


def test_a_code_that_comes_back_after_clearing_has_returned(tab, visit):
    paste(tab, visit, BEFORE)
    tab.post(at(visit, "cleared/"), _form(tab, visit, "cleared/") | {"clear-text": "engine"})
    paste(tab, visit, "P0301", moment="after the work")
    assert became(visit) == {"returned": ["P0301"], "gone": ["C0123-16", "P0420"]}
    paste(tab, visit, "none", moment="after the work")
    assert became(visit) == {"gone": ["C0123-16", "P0301", "P0420"]}
    assert [one.settled for one in read(visit).state.findings] == ["put right"]


def test_a_helper_reads_again_what_only_a_technician_may_answer(tab, client_of, helper, visit):
    """The reading was refused as a whole; now it is kept, and the finding waits for the technician."""
    paste(tab, visit, "P0301", moment="after the work")
    theirs = client_of(helper)
    assert paste(theirs, visit, "none", moment="after the work").status_code == 303
    assert paste(theirs, visit, "P0420", moment="after the work").status_code == 303
    texts = [(one.text, one.settled) for one in read(visit).state.findings]
    assert texts == [
        ("Trouble codes after the work: P0301", ""),
        ("Trouble codes after the work: P0420", ""),
    ]


def test_another_unit_adds_to_the_reading_before(tab, visit):
    paste(tab, visit, "P0301", unit="engine")
    paste(tab, visit, "C0123", unit="brakes", moment="before the work", adds="on")
    (reading,) = codes_of(read(visit)).readings
    assert [(one.code.written, one.unit) for one in reading.seen] == [
        ("P0301", "engine"),
        ("C0123", "brakes"),
    ]


def test_a_machine_whose_build_has_no_control_unit_is_not_asked_for_codes(
    desk, shop, client_of, technician
):
    stored = content_store.keep_book(shop, archetype("chain_drive_single"))
    machine = new_machine(shop, "12-CS-01", "Ines Calder", stored)
    visit = store.open_visit(desk, machine)
    put(
        desk,
        visit,
        ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id), "keys": 1}),
    )
    pages = [f"/visits/{visit.pk}/arrival/", f"/visits/{visit.pk}/bench/"]
    tab = client_of(technician)
    assert all(
        "Trouble codes" in tab.get(one).content.decode() for one in pages[:1]
    )  # no book says so yet
    put(desk, visit, ("book_pinned", {"revision": stored.current.sha256}))
    assert not any("Trouble codes" in tab.get(one).content.decode() for one in pages)
    put(desk, visit, ("codes_cleared", {"text": "engine unit", "copied": False}))
    assert all(
        "Trouble codes" in tab.get(one).content.decode() for one in pages
    )  # what is stored is shown


def test_what_could_not_be_read_is_shown_before_it_is_kept(tab, visit):
    """A 422 with each part, its line and why; the same text sent again is kept whole."""
    text = "P0301\nPO420\nto be looked at"
    answer = paste(tab, visit, text)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "probably meant: P0420" in page
    assert "Line 3:" in page
    assert codes_of(read(visit)).readings == ()
    sent = next(values for _, values in Forms(page).found if "seen_unread" in values)
    assert tab.post(at(visit), sent | {"pasted": text + "\nP9"}).status_code == 422, "other text"
    assert tab.post(at(visit), sent).status_code == 303
    (reading,) = codes_of(read(visit)).readings
    assert [one.text for one in reading.unread] == ["PO420", "to be looked at"]


@pytest.mark.parametrize("text", ["", "nothing to see", "54"])
def test_a_text_that_tells_nothing_is_refused_and_stays(tab, visit, text):
    answer = paste(tab, visit, text)
    assert answer.status_code == 422
    assert text in answer.content.decode()
    assert codes_of(read(visit)).readings == ()


def test_clearing_before_anything_was_copied_is_warned_about(tab, visit):
    """Refused until it is said that they are gone already; then written down as that."""
    page = tab.get(at(visit)).content.decode()
    assert "Nothing is copied to this visit yet" in page
    sent = _form(tab, visit, "cleared/")
    assert tab.post(at(visit, "cleared/"), sent).status_code == 422
    assert tab.post(at(visit, "cleared/"), sent | {"clear-sure": "on"}).status_code == 303
    (entry,) = [entry for entry in store.entries(visit) if entry.kind == "codes_cleared"]
    assert entry.body["copied"] is False
    assert set(read(visit).state.items) == {"codes", "complaint"}


def test_a_reading_taken_back_takes_its_finding_with_it(tab, visit):
    paste(tab, visit, "P0301", moment="after the work")
    page = tab.get(at(visit)).content.decode()
    sent = next(values for _, values in Forms(page).found if "entry" in values)
    assert tab.post(at(visit, "undo/"), sent).status_code == 303
    state = read(visit).state
    assert (state.findings, set(state.items)) == ((), {"complaint"})


def test_hand_back_leads_to_the_reading_that_is_wanted(tab, desk, visit):
    body = {"moment": "before the work", "pasted": "P0301", "codes": [{"code": "P0301"}]}
    put(desk, visit, ("codes_read", body))
    page = tab.get(f"/visits/{visit.pk}/handback/").content.decode()
    assert "read them again after the work" in page
    assert f'href="/visits/{visit.pk}/codes/"' in page


def test_the_service_record_tells_the_codes_and_what_became_of_them(tab, visit):
    """Read back from the printed paper itself."""
    paste(tab, visit, BEFORE)
    paste(tab, visit, AFTER, moment="after the work")
    text = text_of(tab, visit, "service-record")
    assert "Trouble codes Before the work P0301, C0123-16, P0420." in text
    assert "New U0100 network, standard code, communication with a control unit" in text
    assert "Gone P0301 powertrain, standard code, ignition or misfire; P0420" in text


def test_the_card_that_copies_codes_leads_to_the_page_and_back(tab, desk, shop, machine):
    """Only cards that read or clear codes tell of them; a book's circuit for codes is opened by what was found."""
    stored = content_store.keep_book(shop, load_book(TOURER), TOURER.read_text())
    visit = store.open_visit(desk, machine)
    people = {"machine": str(machine.pk), "owner": str(machine.owner_id)}
    pinned = ("book_pinned", {"revision": stored.current.sha256})
    put(desk, visit, ("arrived", people), pinned, ("job_taken", {"job": "codes"}))
    bench = f"/visits/{visit.pk}/bench/?card="
    for card in ("codes/copy", "codes/clear", "codes/read_after"):
        assert "No codes are copied" in tab.get(bench + card).content.decode()
    assert "No codes are copied" not in tab.get(f"{bench}tyres/read_rear").content.decode()
    answer = tab.post(at(visit), _form(tab, visit) | {"pasted": "P0301", "card": "codes/copy"})
    assert answer.url == f"{bench}codes%2Fcopy"
    assert "Before the work</dt><dd>P0301" in tab.get(answer.url).content.decode()
    assert set(read(visit).state.items) == {"circuit/codes/read_after"}
