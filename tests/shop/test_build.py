"""The build sheet in the browser: a model from its choices, another build later, and all that can be sent wrong."""

import re
from functools import cache

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from screenshots import SIZES, faults
from tests.browser.first_screen import OFF_SCREEN
from tests.fixtures.shop import new_machine
from tests.shop.filled import faults_of, form_of, send
from tests.sweep import either_size
from witnessmark.book import build as sheet
from witnessmark.book import load_book_text
from witnessmark.book.figures import figures_missing
from witnessmark.book.figures_form import figures_sheet
from witnessmark.book.figures_written import with_figures
from witnessmark.shop import content_store, store
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import BookRevision, StoredBook
from witnessmark.shop.pages.books import build as page_of_build

MODEL = {"maker": "Orlo", "model": "200", "years": '2001 "late"'}
FOUR = sheet.starting_points()["naked_four"][1]
SHAFT = {"final_drive": "shaft", "final_drive-shaft-plugs": "no"}
NEW = "/books/new/?begin=naked_four"


@pytest.fixture
def client(technician, client_of):
    return client_of(technician)


@cache
def sheet_of_a_model() -> str:
    """A model with chain, one figure of the chain filled in."""
    made = sheet.book_built(FOUR)
    text = figures_sheet(made, build=FOUR, name="orlo_200", maker="Orlo", model="200")
    return with_figures(text, {"chain_lubricant": {"value": "chain wax", "source": "page 9"}})


@pytest.fixture
def model(shop) -> StoredBook:
    """That model, kept."""
    text = sheet_of_a_model()
    return content_store.keep_book(shop, load_book_text(text), text)


def book_of(stored: StoredBook):
    stored.refresh_from_db()
    return content_store.book_of(stored.shop, stored.current.sha256)


def words_of(answer) -> str:
    return " ".join(re.sub(r"<[^>]*>", " ", answer.content.decode()).split())


def looked_at(client, stored, typed):
    """The page that shows what another build would change, and the form that saves it."""
    answer = send(client, f"/books/{stored.pk}/build/", typed, by="shown")
    return answer, form_of(answer.content.decode(), "looked")


# ---------------------------------------------------------------- a new model


def test_a_model_starts_from_its_choices_and_asks_for_its_figures(client, shop):
    """On an empty shop, without scripts: what was begun with, less one choice, is what the book has."""
    answer = send(client, NEW, MODEL | SHAFT)
    stored = StoredBook.objects.get()
    assert (answer.status_code, answer.headers["Location"]) == (303, f"/books/{stored.pk}/figures/")
    book = book_of(stored)
    assert sheet.whole(book.build) == FOUR | {"final_drive": {"is": "shaft", "plugs": "no"}}
    assert len(figures_missing(book, book.jobs)) == len(book.figures)
    assert (book.machine.years, "extends" in stored.text) == ('2001 "late"', False)


def test_the_smallest_build_has_what_no_machine_is_without_and_says_what_is_not_known(client, shop):
    least = {slot.name: next(iter(slot.blocks)) for slot in sheet.asked() if slot.needed}
    send(client, "/books/new/", MODEL | least | {"engine": "four_stroke"})
    stored = StoredBook.objects.get()
    assert book_of(stored).build["final_drive"] == {"is": "not known"}
    page = words_of(client.get(f"/books/{stored.pk}/"))
    assert "Final drive not known yet" in page
    assert "What is not known yet brings no jobs until it is." in page


def test_to_begin_with_another_and_to_look_keep_what_was_typed_and_store_nothing(client, shop):
    page = form_of(client.get(NEW).content.decode(), "maker")
    begun = client.post("/books/new/", page | MODEL | {"begin": "moped"})
    sent = form_of(begun.content.decode(), "maker")
    assert (begun.status_code, sent["engine"], sent["maker"]) == (200, "two_stroke", "Orlo")
    looked = client.post("/books/new/", sent | SHAFT | {"look": "1", "clutch": "plates"})
    sent = form_of(looked.content.decode(), "maker")
    assert (looked.status_code, sent["final_drive"], sent["years"]) == (200, "shaft", '2001 "late"')
    assert "Final drive oil" in words_of(looked)
    assert not StoredBook.objects.exists()


BAD = {
    "nothing chosen": ({"engine": None}, "Choose one: no machine is without it."),
    "no such block": ({"final_drive": "shfat"}, "no block “shfat”; did you mean “Shaft”?"),
    "no such choice": ({"engine-four_stroke-built": "four in lin"}, "did you mean “four in line”?"),
    "no such option": ({"engine-four_stroke-bilt": "single"}, "no option “bilt”"),
    "chosen twice": ({"final_drive": ["chain", "shaft"]}, "Chosen more than once: “chain”, “shaft”. Choose one."),
    "no such slot": ({"propeller": "two blades"}, "This page is from another version"),
    "not together": ({"rear_wheel": "bolts"}, "“Wheel bolts, swinging arm on one side” does not go with"),
    "a tyre is always there": ({"front_tyre": "not known"}, "Choose one: no machine is without it."),
}  # fmt: skip


@pytest.mark.parametrize(("typed", "told"), BAD.values(), ids=BAD)
def test_what_cannot_be_built_is_told_at_its_place_and_nothing_typed_is_lost(
    client, shop, typed, told
):
    answer = send(client, NEW, MODEL | typed, by="maker")
    assert answer.status_code == 422
    assert told in " ".join(faults_of(answer)).replace("&quot;", '"')
    sent = form_of(answer.content.decode(), "maker")
    assert (sent["maker"], sent["cooling"]) == ("Orlo", "liquid")
    assert not StoredBook.objects.exists()


def test_the_same_form_sent_again_is_one_model_and_a_second_of_its_name_is_told(client, shop):
    page = form_of(client.get(NEW).content.decode(), "maker") | MODEL
    first, again = client.post("/books/new/", page), client.post("/books/new/", page)
    assert (again.status_code, again.headers["Location"]) == (303, first.headers["Location"])
    assert StoredBook.objects.count() == 1
    answer = send(client, NEW, MODEL)
    assert (answer.status_code, faults_of(answer)) == (
        422,
        ["There is a book of it already: Orlo 200."],
    )


def test_a_helper_may_look_and_not_build(client, model, helper, client_of):
    hands = client_of(helper)
    assert "Change how it is built" not in words_of(hands.get(f"/books/{model.pk}/"))
    before = StoredBook.objects.count(), BookRevision.objects.count()
    for path in ("/books/new/", f"/books/{model.pk}/build/"):
        sent = form_of(client.get(path).content.decode(), "engine")
        assert [hands.get(path).status_code, hands.post(path, sent).status_code] == [403, 403]
    assert (StoredBook.objects.count(), BookRevision.objects.count()) == before


def test_what_a_choice_brings_is_told_before_it_is_taken(client, shop):
    asked = form_of(client.get(NEW).content.decode(), "maker") | SHAFT
    answer = client.get(reverse("book-new-look"), asked | {"slot": "final_drive"})
    page = words_of(answer)
    assert "Brings: Final drive oil · Shaft splines greased" in page
    assert "Takes away: Chain: clean, slack, oil" in page
    assert "7 figures to fill in" in page
    asked |= {"final_drive": "chain", "rear_wheel": "bolts", "slot": "rear_wheel"}
    bolts = client.get(reverse("book-new-look"), asked)
    assert "does not go with final drive “Chain”" in " ".join(faults_of(bolts))
    assert client.get(reverse("book-new-look"), {"slot": "propeller"}).status_code == 400


def test_blocks_that_say_different_things_are_told_with_both_lines(client, shop, monkeypatch):
    both = "blocks/a/b.toml:4 jobs.chain.text: blocks/c/d.toml:9 says otherwise; let one of the two blocks say it"
    monkeypatch.setattr(page_of_build.sheet, "brings", lambda build: sheet.Brings({}, {}, (both,)))
    asked = form_of(client.get(NEW).content.decode(), "maker")
    answer = client.get(reverse("book-new-look"), asked | {"slot": "engine"})
    assert any(both in fault for fault in faults_of(answer))


# ---------------------------------------------------------------- another build


def test_another_build_is_shown_first_then_saved_and_no_figure_is_lost(client, model):
    before = model.current.sha256
    answer, form = looked_at(client, model, SHAFT)
    page = words_of(answer)
    assert answer.status_code == 200
    assert "Final drive: Chain; then: Shaft" in page
    assert (
        "Kept aside in its text, until a choice brings it back: Chain lubricant: chain wax" in page
    )
    assert "Brings: Final drive oil · Shaft splines greased" in page
    model.refresh_from_db()
    assert model.current.sha256 == before

    path = f"/books/{model.pk}/build/"
    assert client.post(path, form).status_code == 303
    assert client.post(path, form).status_code == 303  # the same form again
    assert "final_drive_oil" in book_of(model).jobs
    assert "chain wax" in model.text
    assert "chain lubricant: chain wax, page 9" in words_of(client.get(f"/books/{model.pk}/"))

    typed = {"value-drive_fill_plug_torque": "32 Nm", "source-drive_fill_plug_torque": "page 8"}
    assert send(client, f"/books/{model.pk}/figures/", typed, by="document").status_code == 303
    back = {"final_drive": "chain", "final_drive-chain-link": "riveted"}
    answer, form = looked_at(client, model, back)
    page = words_of(answer)
    assert "Taken back from what was kept aside: Chain lubricant: chain wax" in page
    assert "brings it back: Final drive fill plug: 32 Nm" in page
    client.post(path, form)
    book = book_of(model)
    assert (book.figures["chain_lubricant"].value, book.figures["chain_lubricant"].source) == (
        "chain wax",
        "page 9",
    )
    assert model.current.sha256 == before


def test_what_is_saved_is_what_was_shown_also_where_a_figure_came_in_between(
    client, model, colleague, client_of
):
    """Somebody fills in a figure while another looks at a build: it is shown anew, and both are kept."""
    _answer, form = looked_at(client, model, SHAFT)
    typed = {"value-chain_slack_how": "on the side stand", "source-chain_slack_how": "page 4"}
    send(client_of(colleague), f"/books/{model.pk}/figures/", typed, by="document")
    path = f"/books/{model.pk}/build/"
    again = client.post(path, form)
    assert again.status_code == 200
    assert "How chain slack is read: stand, load, where: on the side stand" in words_of(again)
    assert client.post(path, form_of(again.content.decode(), "looked")).status_code == 303
    assert "on the side stand" in book_of(model).name + model.text


def test_two_people_who_change_two_choices_both_keep_theirs_and_one_choice_is_asked_again(
    client, model, colleague, client_of
):
    other, path = client_of(colleague), f"/books/{model.pk}/build/"
    mine = form_of(client.get(path).content.decode(), "shown")
    _answer, form = looked_at(other, model, {"front_brake": "drum"})
    other.post(path, form)
    shown = client.post(path, mine | SHAFT)
    client.post(path, form_of(shown.content.decode(), "looked"))
    build = book_of(model).build
    assert (build["front_brake"]["is"], build["final_drive"]["is"]) == ("drum", "shaft")

    answer = client.post(path, mine | {"final_drive": "belt"})  # an old page: it showed a chain
    assert answer.status_code == 422
    assert "Somebody chose “Shaft, No: free with the wheel in” meanwhile." in " ".join(
        faults_of(answer)
    )
    sent = form_of(answer.content.decode(), "looked")
    assert sent["final_drive"] == "belt"
    assert client.post(path, sent).status_code == 200
    assert book_of(model).build["final_drive"]["is"] == "shaft"


def test_nothing_changed_and_a_book_without_choices_are_told_with_a_way_on(
    client, model, small_book
):
    answer, _form = looked_at(client, model, {})
    assert (answer.status_code, faults_of(answer)) == (
        422,
        ["Nothing is changed: choose what differs."],
    )
    page = client.get(f"/books/{small_book.pk}/build/")
    assert "written as a whole" in words_of(page)
    assert f"/books/{small_book.pk}/text/" in page.content.decode()
    assert client.post(f"/books/{small_book.pk}/build/", {"engine": "electric"}).status_code == 422


def test_a_text_of_its_own_that_no_longer_fits_is_told_and_its_old_build_stays(client, model):
    """A book whose text asks for a hand is not changed, and says why with the line."""
    StoredBook.objects.update(text=model.text.replace("format = 1", "format = 1\nbroken = true", 1))
    answer, _form = looked_at(client, model, SHAFT)
    assert answer.status_code == 422
    assert 'orlo_200:18 broken: Unknown key "broken"' in faults_of(answer)[0]
    assert book_of(model).build["final_drive"]["is"] == "chain"


def test_a_choice_changed_in_mid_visit_leaves_the_visit_as_it_was_and_is_told_there(
    client, desk, model
):
    machine = new_machine(model.shop, "77-QX-01", "Ines Calder", model)
    visit, pinned = store.open_visit(desk, machine), model.current.sha256
    store.record_all(desk, visit, store.Ticket(str(new_id())), [
        ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id), "keys": 1, "complaint": ""}),
        ("odometer", {"km": 1000.0, "text": "1000 km"}),
        ("book_pinned", {"revision": pinned}),
        ("job_taken", {"job": "chain"}),
    ])  # fmt: skip
    page = f"/visits/{visit.pk}/needs/"
    told = "Built otherwise by now; this visit keeps the book it pinned."
    assert told not in words_of(client.get(page))
    answer, form = looked_at(client, model, SHAFT)
    assert "keeps the revision it pinned" in words_of(answer)
    client.post(f"/books/{model.pk}/build/", form)

    assert store.state(visit).book == pinned
    words = words_of(client.get(page))
    assert told in words
    assert "Final drive: Shaft (this visit: Chain)" in words
    gone = "Booked, and gone from the book: Chain: clean, slack, oil."
    for name in ("needs/", "order/?now=1", "bench/", "arrival/"):
        assert gone in words_of(client.get(f"/visits/{visit.pk}/{name}")), name


# ---------------------------------------------------------------- in a real browser


@pytest.mark.browser
@either_size
def test_from_an_empty_shop_to_the_figures_of_a_new_model(
    page, live_server, technician, sign_in, shop, size
):
    page.set_viewport_size(SIZES[size])
    sign_in(page, technician)
    page.goto(f"{live_server.url}/books/")
    page.get_by_role("link", name="Start a new model").click()
    expect(page.locator(".tiles .btn").first).to_be_visible()
    wanted = {"heading": "h1", "action": ".act", "first": ".tiles .btn"}
    assert page.evaluate(OFF_SCREEN, wanted) == []
    page.get_by_role("button", name="Start its figures sheet").click()
    expect(page.locator(".slot.problem")).to_have_count(sum(slot.needed for slot in sheet.asked()))
    expect(page.locator(".slot > details[open]")).to_have_count(1)  # one question at a time
    assert faults(page) == []
    page.get_by_text("Begin with one that is like it").click()
    page.get_by_role("button", name="Four in line, naked").click()
    drive = page.locator("#slot-final_drive")
    drive.locator("summary").click()
    drive.get_by_label("Shaft").check()
    expect(drive.locator(".brings")).to_contain_text("Shaft splines greased")
    expect(drive.locator(".brings")).to_contain_text("Chain and sprockets")
    expect(drive.get_by_text("How the chain is closed")).to_be_hidden()
    expect(drive.locator(".chosen")).to_contain_text("Shaft")
    drive.get_by_label("Yes: the wheel comes off first").check()
    page.locator("#slot-gearbox summary").click()
    expect(page.locator(".slot > details[open]")).to_have_count(1)  # what was chosen folds
    drive.locator("summary").first.click()
    assert faults(page) == []
    page.get_by_label("Maker").fill("Orlo")
    page.get_by_label("Model").fill("200")
    page.get_by_label("Model").press("Enter")
    expect(page.get_by_role("heading", name="Figures: Orlo 200")).to_be_visible()
    expect(page.locator("details[open] fieldset").first).to_be_visible()
    assert StoredBook.objects.get().text.count('final_drive = { is = "shaft", plugs = "yes" }') == 1
