"""A book changed in the browser, one thing at a time, shown first; and all that can be sent wrong."""

import re

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from screenshots import SIZES, faults
from tests.browser.first_screen import OFF_SCREEN
from tests.fixtures.shop import new_machine
from tests.shop.filled import faults_of, form_of, send
from tests.shop.test_build import book_of, sheet_of_a_model, words_of
from tests.sweep import either_size
from witnessmark.book import load_book_text
from witnessmark.book.select import in_turn
from witnessmark.shop import content_store, store
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import BookRevision, StoredBook


@pytest.fixture
def client(technician, client_of):
    return client_of(technician)


@pytest.fixture
def model(shop) -> StoredBook:
    text = sheet_of_a_model()
    return content_store.keep_book(shop, load_book_text(text), text)


def at(stored: StoredBook, what: str, of: str, thing: str = "") -> str:
    return f"/books/{stored.pk}/change/{what}/?of={of}" + (f"&thing={thing}" if thing else "")


def looked_at(client, stored, what, of, typed, thing=""):
    """The page that shows what would change, and the form that saves it."""
    answer = send(client, at(stored, what, of, thing), typed, by="looked")
    return answer, form_of(answer.content.decode(), "looked")


def saved(client, stored, what, of, typed, thing=""):
    """What was shown, saved."""
    answer, form = looked_at(client, stored, what, of, typed, thing)
    assert answer.status_code == 200, faults_of(answer)
    return client.post(f"/books/{stored.pk}/change/{what}/", form)


# ---------------------------------------------------------------- one thing at a time


def test_minutes_are_shown_against_what_they_were_and_against_the_block_then_saved_and_taken_back(
    client, model
):
    text, before = model.text, book_of(model)
    answer, form = looked_at(client, model, "minutes", "chain/oil", {"minutes": "5,5"})
    page = words_of(answer)
    assert "Chain: clean, slack, oil, Oil the chain minutes: 2; then: 5.5" in page
    assert book_of(model) == before
    path = f"/books/{model.pk}/change/minutes/"
    said = client.post(path, form)
    assert (said.status_code, said.headers["Location"]) == (
        303,
        f"/books/{model.pk}/jobs/chain/steps/oil/",
    )
    assert client.post(path, form).headers["Location"] == said.headers["Location"]  # sent twice
    assert book_of(model).jobs["chain"].operations["oil"].minutes == 5.5
    assert model.text == text + "\n[jobs.chain.operations.oil]\nminutes = 5.5\n"
    page = words_of(client.get(f"/books/{model.pk}/jobs/chain/"))
    assert "minutes: 5.5; the block says: 2" in page
    answer, _form = looked_at(client, model, "minutes", "chain/oil", {"minutes": "6"})
    assert "minutes: 5.5; then: 6 (the block says: 2)" in words_of(answer)
    answer, _form = looked_at(client, model, "minutes", "chain/oil", {"minutes": "2"})
    assert "minutes: 5.5; then: 2 (as the block says)" in words_of(answer)

    saved(client, model, "back", "jobs/chain/operations/oil/minutes", {})
    assert (book_of(model), model.text) == (before, text)


def test_the_plan_before_and_after_is_shown_when_it_is_there(client, model):
    _answer, form = looked_at(client, model, "minutes", "chain/oil", {"minutes": "12"})
    path = f"/books/{model.pk}/change/minutes/"
    page = words_of(client.post(path, form | {"plan": "1"}))
    was, now = map(
        float,
        re.search(
            r"what it brings least attended: ([\d.]+) min; then: ([\d.]+) min", page
        ).groups(),
    )
    assert now == was + 10
    part = client.post(path, form | {"plan": "1"}, headers={"HX-Request": "true"})
    assert "least attended" in words_of(part)
    assert "<h1>" not in part.content.decode()
    assert "oil" not in model.text.partition("[jobs")[2]


LENGTH = {"text": "Wear", "quantity": "length", "unit": "mm"}
SCREW = {"new": "Guard screw", "does": ["loosens", "tightens"]}
BAD = {
    "no number": ("minutes", {"minutes": "two"}, "“two” does not start with a number"),
    "absurd": ("minutes", {"minutes": "100000"}, "A step takes from 0 to 1440 minutes"),
    "less than none": ("minutes", {"minutes": "-3"}, "A step takes from 0 to 1440 minutes"),
    "a wait for nothing": ("minutes", {"unattended": "20"}, "Say what is waited for"),
    "nothing changed": ("minutes", {}, "Nothing is changed: this is how it stands."),
    "no words": ("words", {"text": " "}, "Write it here."),
    "a limit without a unit": ("reading", LENGTH | {"low": "4"}, "has no unit"),
    "limits turned round": ("reading", LENGTH | {"low": "4 mm", "high": "2 mm"}, "The most is less than the least."),
    "a finding nobody can see": ("reading", {"text": "Wear", "choices": "none", "bad": "much"}, "“much” is not among"),
    "a torque without a unit": ("fasteners", SCREW | {"torque": "9"}, "has no unit"),
    "a fastener that nobody turns": ("fasteners", {"new": "Guard screw"}, "Say what this step does with it."),
    "no number of parts": ("parts", {"of_rag": "some"}, "“some” does not start with a number"),
    "less than one part": ("parts", {"of_rag": "0"}, "More than none"),
    "a circuit opened and left": ("circuits", {"opens": ["exhaust/gas_tight"]}, "nothing closes"),
    "a fastener that stays loose": ("fasteners", SCREW | {"does": ["loosens"]}, "nothing tightens it"),
}  # fmt: skip


@pytest.mark.parametrize(("what", "typed", "told"), BAD.values(), ids=BAD)
def test_what_cannot_be_is_told_at_its_field_and_nothing_typed_is_lost(
    client, model, what, typed, told
):
    before = model.current.sha256
    answer, form = looked_at(client, model, what, "chain/oil", typed)
    assert answer.status_code == 422
    assert told in " ".join(faults_of(answer))
    for key, value in typed.items():
        assert form[key] == value or value == " "
    model.refresh_from_db()
    assert model.current.sha256 == before


def test_minutes_ten_times_as_many_are_looked_at_again(client, model):
    answer, _form = looked_at(client, model, "minutes", "chain/oil", {"minutes": "25"})
    assert "25 min in place of 2 min. Is the point where it belongs?" in words_of(answer)
    answer, _form = looked_at(client, model, "minutes", "chain/oil", {"minutes": "15"})
    assert "Look again." not in words_of(answer)


def test_words_lists_and_cautions_of_a_step(client, model):
    saved(client, model, "words", "chain/oil", {"does": "Inner side\r\n\r\nWipe the rest off"})
    assert book_of(model).jobs["chain"].operations["oil"].does == [
        "Inner side",
        "Wipe the rest off",
    ]
    saved(client, model, "cautions", "chain/oil", {"new": "Fingers clear of the sprocket"})
    (name,) = book_of(model).jobs["chain"].operations["oil"].cautions
    assert name == "fingers_clear_of_the_sprocket"
    typed = {"text": "Fingers clear: engine off"}
    looked, _form = looked_at(client, model, "caution", "chain/oil", typed, name)
    assert "called: Fingers clear of the sprocket; then: Fingers clear: engine off" in words_of(
        looked
    )
    assert "block says" not in words_of(looked)
    answer = saved(client, model, "caution", "chain/oil", typed, name)
    assert answer.headers["Location"].endswith("/jobs/chain/steps/oil/")
    book = book_of(model)
    assert book.cautions[name].text == "Fingers clear: engine off"


def test_a_rule_of_the_trade_that_is_no_longer_kept_is_told_before_it_is_saved(client, model):
    """Common practice, no source: the usual caution where hot oil runs out."""
    answer, form = looked_at(client, model, "cautions", "engine_oil/drain", {"cautions": None})
    assert "A rule of the trade is no longer kept: Where work can hurt" in words_of(answer)
    assert client.post(f"/books/{model.pk}/change/cautions/", form).status_code == 303
    assert "Rules of the trade" in words_of(client.get(f"/books/{model.pk}/"))


def test_a_reading_with_limits_is_a_reading_and_two_figures_with_their_source(client, model):
    typed = {"text": "Stiff links", "quantity": "length", "unit": "mm", "low": "1 mm", "high": "2,5 mm",
             "source": "manual, page 7", "instrument": "Steel rule"}  # fmt: skip
    saved(client, model, "reading", "chain/oil", typed)
    book = book_of(model)
    reading = book.readings["stiff_links"]
    assert book.jobs["chain"].operations["oil"].readings == ["stiff_links"]
    assert (book.figures[reading.low].value, book.figures[reading.high].source) == (
        "1 mm",
        "manual, page 7",
    )

    saved(client, model, "reading", "chain/oil", {"low": "", "high": "3 mm"}, "stiff_links")
    reading = book_of(model).readings["stiff_links"]
    assert (reading.low, book_of(model).figures[reading.high].value) == (None, "3 mm")


def test_a_limit_of_the_block_is_the_figure_it_names(client, model):
    name = book_of(model).jobs["chain"].operations["read"].readings[0]
    low = book_of(model).readings[name].low
    saved(
        client, model, "reading", "chain/read", {"low": "20 mm", "source": "manual, page 9"}, name
    )
    book = book_of(model)
    assert (book.readings[name].low, book.figures[low].value) == (low, "20 mm")


def test_a_fastener_of_its_own_is_opened_and_made_tight_with_its_figure(client, model):
    typed = {"new": "Guard screw", "does": ["loosens", "tightens"], "count": "2", "torque": "9 Nm"}
    saved(client, model, "fasteners", "chain/oil", typed)
    book = book_of(model)
    screw = book.fasteners["guard_screw"]
    assert (screw.count, book.figures[screw.figure].value) == (2, "9 Nm")
    assert book.jobs["chain"].operations["oil"].tightens == ["guard_screw"]


# ---------------------------------------------------------------- order, steps, jobs


def of_step(stored, step, key):
    job, _slash, name = step.partition("/")
    return getattr(book_of(stored).jobs[job].operations[name], key)


WORK = {  # what, step, key, typed, what it then says (what it said, with these; None: without)
    "a tool ticked off": ("tools", "front_pads/renew", "tools",
        {"tools": ["ratchet", "vernier"]}, ["ratchet", "vernier"]),
    "parts": ("parts", "front_pads/renew", "parts",
        {"of_front_pad_clip": "4", "of_rag": ""}, {"front_pad_clip": 4.0, "rag": None}),
    "needs": ("needs", "engine_oil/drain", "needs",
        {"of_engine": ["cold", "warm"], "of_oil_plug": None, "of_gear": ["neutral"]},
        {"engine": ["cold", "warm"], "oil_plug": None, "gear": ["neutral"]}),
    "closes": ("circuits", "engine_oil/fill_first", "closes",
        {"closes": ["engine_oil/filled", "exhaust/gas_tight"]}, {"exhaust": ["gas_tight"]}),
    "opens a part": ("circuits", "engine_oil/drain", "opens",
        {"opens": ["engine_oil/level", "engine_oil/filled"]}, {"engine_oil": ["filled", "level"]}),
}  # fmt: skip


@pytest.mark.parametrize(("what", "step", "key", "typed", "then"), WORK.values(), ids=WORK)
def test_what_a_step_works_with_is_changed_and_goes_back_to_the_block(
    client, model, what, step, key, typed, then
):
    before, text = of_step(model, step, key), model.text
    answer = saved(client, model, what, step, typed)
    assert answer.status_code == 303
    wanted = then
    if isinstance(then, dict):
        wanted = {k: v for k, v in {**before, **then}.items() if v is not None}
    assert of_step(model, step, key) == wanted
    job, _slash, name = step.partition("/")
    page = words_of(client.get(f"/books/{model.pk}/jobs/{job}/steps/{name}/"))
    assert "the block says" in page
    saved(client, model, "back", f"jobs/{job}/operations/{name}/{key}", {})
    assert (of_step(model, step, key), model.text) == (before, text)


def test_new_tools_and_parts_are_of_the_book_and_taken_away_again(client, model):
    saved(client, model, "tools", "chain/oil", {"new": "Chain brush"})
    saved(
        client,
        model,
        "parts",
        "chain/oil",
        {"new": "Brush head", "new_count": "0,5", "consumable": "on"},
    )
    book = book_of(model)
    assert (of_step(model, "chain/oil", "tools"), book.tools["chain_brush"].text) == (
        ["chain_brush"],
        "Chain brush",
    )
    assert (of_step(model, "chain/oil", "parts"), book.parts["brush_head"].consumable) == (
        {"brush_head": 0.5},
        True,
    )
    saved(client, model, "parts", "chain/oil", {"of_brush_head": ""})
    assert of_step(model, "chain/oil", "parts") == {}


def test_an_interval_is_a_figure_shared_by_jobs_or_of_this_one_alone(client, model):
    page = client.get(at(model, "intervals", "engine_oil"))
    assert "Else it changes as well for: " in words_of(page)
    own = {"every_distance": "5000 km", "every_time": "", "source": "manual, page 3", "alone": "on"}
    saved(client, model, "intervals", "engine_oil", own)
    book = book_of(model)
    mine = book.jobs["engine_oil"].every_distance
    assert mine == "engine_oil_every_distance"
    assert (book.figures[mine].value, book.figures[mine].source) == ("5000 km", "manual, page 3")
    assert book.jobs["engine_oil"].every_time == "service_time", (
        "left as it was: it was not changed"
    )
    saved(
        client, model, "intervals", "tyres", {"every_distance": "6000 km", "every_time": "1 year"}
    )
    book = book_of(model)
    assert (book.figures["service_distance"].value, book.figures["service_time"].value) == (
        "6000 km",
        "1 year",
    )
    assert book.figures[mine].value == "5000 km"
    saved(client, model, "intervals", "engine_oil", {"every_time": ""})
    assert book_of(model).jobs["engine_oil"].every_time is None
    assert book_of(model).jobs["tyres"].every_time == "service_time"


def test_a_step_is_moved_by_buttons_and_what_another_job_forbids_is_told(client, model):
    path = f"/books/{model.pk}/change/order/"
    page = client.get(at(model, "order", "chain"))
    shown = in_turn(book_of(model), "chain")
    form = form_of(page.content.decode(), "order")
    moved = client.post(path, form | {"move": f"up:{shown[4]}"})
    form = form_of(moved.content.decode(), "order")
    assert form["order"].split(",") == [*shown[:3], shown[4], shown[3]]
    looked = client.post(path, form)
    assert "comes after" in words_of(looked)
    client.post(path, form_of(looked.content.decode(), "looked"))
    assert in_turn(book_of(model), "chain") == form["order"].split(",")

    form = form_of(client.get(at(model, "order", "chain")).content.decode(), "order")
    form["order"] = ",".join(sorted(form["order"].split(","), key="guide".__ne__))
    answer = client.post(path, form)
    assert answer.status_code == 422
    assert "Each waits for the next" in " ".join(faults_of(answer))
    form["order"] = "oil,oil"
    assert "not every step of the job" in " ".join(faults_of(client.post(path, form)))


def test_a_step_that_another_needs_cannot_be_left_out_alone_and_one_that_none_needs_can(
    client, model
):
    steps = list(book_of(model).jobs["chain"].operations)
    answer, _form = looked_at(
        client, model, "steps", "chain", {"steps": [s for s in steps if s != "read_again"]}
    )
    assert answer.status_code == 422
    told = " ".join(faults_of(answer))
    assert "Chain: clean, slack, oil, Set the slack" in told
    assert "nothing closes it" in told

    saved(client, model, "steps", "chain", {"steps": [s for s in steps if s != "guide"]})
    assert "guide" not in book_of(model).jobs["chain"].operations
    assert "Left out here:" in words_of(client.get(f"/books/{model.pk}/jobs/chain/"))
    saved(client, model, "steps", "chain", {"steps": steps})
    assert model.text == sheet_of_a_model() or book_of(model).jobs["chain"].operations.keys() == {
        *steps
    }
    none, _form = looked_at(client, model, "steps", "chain", {"steps": None})
    assert "A job has a step at least." in " ".join(faults_of(none))


def test_a_job_left_out_is_found_again_and_taken_in(client, model):
    answer = saved(client, model, "leave-out", "look_over", {})
    assert answer.headers["Location"] == f"/books/{model.pk}/"
    assert "look_over" not in book_of(model).jobs
    assert (
        f"/books/{model.pk}/jobs/look_over/" in client.get(f"/books/{model.pk}/").content.decode()
    )
    assert "Left out of this book." in words_of(client.get(f"/books/{model.pk}/jobs/look_over/"))
    answer = saved(client, model, "back", "jobs/look_over", {})
    assert answer.headers["Location"] == f"/books/{model.pk}/jobs/look_over/"
    book_of(model)
    assert model.text == sheet_of_a_model()


def test_a_job_after_the_pattern_of_another_has_its_steps_and_is_then_its_own(client, model):
    answer = saved(client, model, "own-job", "chain", {"text": "Chain, the long way", "why": "Mud"})
    assert answer.headers["Location"] == f"/books/{model.pk}/jobs/chain_the_long_way/"
    book = book_of(model)
    own = book.jobs["chain_the_long_way"]
    assert own.operations.keys() == book.jobs["chain"].operations.keys()
    assert book.jobs["chain"] == load_book_text(sheet_of_a_model()).jobs["chain"]
    answer = saved(
        client, model, "new-step", "chain_the_long_way/read", {"text": "Brush it", "minutes": "9"}
    )
    assert answer.status_code == 303
    own = book_of(model).jobs["chain_the_long_way"].operations
    assert (own["brush_it"].after, own["adjust"].after[0]) == (["read"], "brush_it")
    again, _form = looked_at(client, model, "own-job", "chain", {"text": "Chain, the long way"})
    assert "There is a job of that name" in " ".join(faults_of(again))
    back, _form = looked_at(client, model, "back", "jobs/chain_the_long_way", {})
    assert "of this book alone" in " ".join(faults_of(back))
    saved(client, model, "leave-out", "chain_the_long_way", {})
    book_of(model)
    assert model.text == sheet_of_a_model()


# ---------------------------------------------------------------- others, and old pages


def test_what_somebody_else_changed_meanwhile_stays_and_is_said(
    client, model, colleague, client_of
):
    other = client_of(colleague)
    cautions = sorted(book_of(model).cautions)[:2]
    _answer, form = looked_at(client, model, "cautions", "chain/oil", {"cautions": [cautions[0]]})
    saved(other, model, "cautions", "chain/oil", {"cautions": [cautions[1]]})
    path = f"/books/{model.pk}/change/cautions/"
    again = client.post(path, form)
    assert again.status_code == 200
    assert "Somebody changed this book meanwhile." in words_of(again)
    client.post(path, form_of(again.content.decode(), "looked"))
    assert book_of(model).jobs["chain"].operations["oil"].cautions == cautions[::-1]

    old = form_of(client.get(at(model, "minutes", "chain/guide")).content.decode(), "minutes")
    steps = [one for one in book_of(model).jobs["chain"].operations if one != "guide"]
    saved(other, model, "steps", "chain", {"steps": steps})
    answer = client.post(f"/books/{model.pk}/change/minutes/", old | {"minutes": "7"})
    assert answer.status_code == 422
    assert "Somebody left this out of the book meanwhile." in " ".join(faults_of(answer))
    assert form_of(answer.content.decode(), "minutes")["minutes"] == "7"


def test_a_helper_may_read_a_job_and_change_nothing(client, model, helper, client_of):
    hands = client_of(helper)
    for page in ("jobs/chain/", "jobs/chain/steps/oil/"):
        answer = hands.get(f"/books/{model.pk}/{page}")
        assert (answer.status_code, "/change/" in answer.content.decode()) == (200, False)
    form = form_of(client.get(at(model, "minutes", "chain/oil")).content.decode(), "minutes")
    before = BookRevision.objects.count()
    answers = [
        hands.get(at(model, "minutes", "chain/oil")),
        hands.post(f"/books/{model.pk}/change/minutes/", form | {"minutes": "9"}),
    ]
    assert [one.status_code for one in answers] == [403, 403]
    assert BookRevision.objects.count() == before


NO_SUCH = [
    "jobs/chian/", "jobs/chain/steps/oli/", "change/minutes/?of=chian/oil", "change/minutes/?of=",
    "change/mintes/?of=chain/oil", "change/caution/?of=chain/oil&thing=no", "change/back/?of=jobs",
    "change/back/?of=figures/chain_lubricant", "change/order/?of=no",
]  # fmt: skip


@pytest.mark.parametrize("path", NO_SUCH)
def test_what_a_book_does_not_have_is_no_address(client, model, path):
    answer = client.get(f"/books/{model.pk}/{path}")
    assert answer.status_code == 404
    assert 'href="/' in answer.content.decode()


def test_a_book_written_as_a_whole_is_changed_in_its_own_words(client, small_book):
    saved(client, small_book, "minutes", "tyre/swap", {"minutes": "25"})
    assert "# A book small enough to read" in book_of(small_book).name + small_book.text
    assert "minutes = 25\n" in small_book.text
    assert "there is no block to go back to" in words_of(
        client.get(f"/books/{small_book.pk}/jobs/tyre/")
    )


def test_a_visit_keeps_what_it_pinned_and_says_what_is_said_otherwise(client, desk, model):
    machine = new_machine(model.shop, "77-QX-01", "Ines Calder", model)
    visit, pinned = store.open_visit(desk, machine), model.current.sha256
    store.record_all(desk, visit, store.Ticket(str(new_id())), [
        ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id), "keys": 1, "complaint": ""}),
        ("odometer", {"km": 1000.0, "text": "1000 km"}),
        ("book_pinned", {"revision": pinned}),
        ("job_taken", {"job": "chain"}),
    ])  # fmt: skip
    page = f"/visits/{visit.pk}/needs/"
    assert "changed since" not in words_of(client.get(page))
    answer, form = looked_at(client, model, "minutes", "chain/oil", {"minutes": "4"})
    assert "keeps the revision it pinned" in words_of(answer)
    client.post(f"/books/{model.pk}/change/minutes/", form)
    assert store.state(visit).book == pinned
    words = words_of(client.get(page))
    assert "Its book was changed since; this visit keeps the one it pinned." in words
    assert "Chain: clean, slack, oil, Oil the chain, minutes: 2; then: 4" in words


def test_the_changes_name_what_was_changed(client, model):
    saved(client, model, "minutes", "chain/oil", {"minutes": "4"})
    assert "Oil the chain, minutes" in words_of(client.get(reverse("changes")))


# ---------------------------------------------------------------- in a real browser


@pytest.mark.browser
@either_size
def test_from_the_book_to_other_minutes_and_back(
    page, live_server, technician, sign_in, model, size
):
    page.set_viewport_size(SIZES[size])
    sign_in(page, technician)
    page.goto(f"{live_server.url}/books/{model.pk}/")
    page.get_by_role("link", name="Chain: clean, slack, oil").click()
    page.wait_for_url("**/jobs/chain/")
    assert page.evaluate(OFF_SCREEN, {"heading": "h1", "action": ".act", "first": ".line a"}) == []
    assert faults(page) == []
    page.get_by_role("link", name="Oil the chain").click()
    page.wait_for_url("**/steps/oil/")
    assert page.evaluate(OFF_SCREEN, {"heading": "h1", "first": ".line a"}) == []
    assert faults(page) == []
    page.get_by_role("link", name="Minutes").click()
    page.get_by_label("Somebody works on it for").fill("7")
    page.get_by_role("button", name="Show what changes").click()
    expect(page.locator(".differs")).to_contain_text("minutes: 2; then: 7")
    expect(page.locator("#plans")).to_contain_text("least attended")
    assert (
        page.evaluate(OFF_SCREEN, {"heading": "h1", "action": ".act", "first": ".differs h2"}) == []
    )
    assert faults(page) == []
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_role("link", name="As the block says").click()
    page.get_by_role("button", name="Show what changes").click()
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_text("Otherwise than the block")).to_have_count(0)
    page.get_by_role("link", name="All steps of the job").click()
    page.get_by_role("link", name="Change the order").click()
    page.get_by_role("button", name="Later: Oil").or_(
        page.get_by_role("button", name="Earlier: Oil")
    ).first.click()
    page.wait_for_load_state()
    assert faults(page) == []
