"""The book is not the world: a machine without one, things opened that none lists, own lines, the complaint."""

from io import BytesIO
from typing import Any

import pypdf
import pytest

from tests.fixtures.tour import put
from tests.shop.day import form_to
from tests.shop.filled import Forms, faults_of, send
from tests.shop.test_arrival import NEW
from tests.shop.test_scope import ADDRESSES
from witnessmark.ledger.gates import gate
from witnessmark.shop import store
from witnessmark.shop.models import Visit
from witnessmark.shop.work.visit import read

pytestmark = pytest.mark.postgres_long


@pytest.fixture
def tab(technician, client_of):
    return client_of(technician)


@pytest.fixture
def helpers_tab(helper, client_of):
    return client_of(helper)


@pytest.fixture
def bookless(tab) -> Visit:
    """Taken in at the door without a service book, with a complaint."""
    send(
        tab, "/arrive/?book=none", NEW | {"odometer": "32000", "complaint": "Front brake squeals."}
    )
    return Visit.objects.get()


def at(visit: Visit, page: str) -> str:
    return f"/visits/{visit.pk}/{page}"


def seen(tab, visit: Visit, page: str) -> str:
    answer = tab.get(at(visit, page), follow=True)
    assert answer.status_code == 200
    return answer.content.decode()


def card_done(tab, visit: Visit, card: str, **typed: str):
    to = at(visit, "bench/confirm/")
    form = form_to(seen(tab, visit, f"bench/?card={card}"), "", to, "card-form")
    return tab.post(to, form | {"done": "1"} | typed)


def agree(tab, visit: Visit) -> None:
    """Offer what stands, and have the owner's yes to all of it."""
    page = seen(tab, visit, "price/")
    offer = next(form for names, form in Forms(page).found if "estimate" in names)
    tab.post(at(visit, "price/offer/"), dict(offer))
    page = seen(tab, visit, "price/?mode=answer")
    answers = next(form for names, form in Forms(page).found if "by" in names)
    tab.post(at(visit, "price/answers/"), dict(answers) | {"all": "yes", "how": "in person"})


def printed(tab, visit: Visit, paper: str) -> str:
    answer = tab.get(at(visit, f"papers/{paper}.pdf"))
    assert answer.status_code == 200
    pages = pypdf.PdfReader(BytesIO(answer.content)).pages
    return " ".join(" ".join(page.extract_text().split()) for page in pages)


def items(visit: Visit) -> dict[str, str]:
    return {key: item.words for key, item in read(visit).state.items.items()}


LINE = {"words": "New brake hose, front", "minutes": "40", "where": "front",
        "part_1": "Brake hose", "quantity_1": "2", "each_1": "31.50"}  # fmt: skip


# ---------------------------------------------------------------- without a book


def test_a_machine_without_a_book_is_worked_on_from_the_door_to_its_record(tab, shop, bookless):
    """Own line, own thing opened, complaint: priced, agreed, done by cards, and printed."""
    shop.labour_per_hour = 60
    shop.save()
    visit = bookless
    assert "No service book is pinned" in seen(tab, visit, "needs/")
    send(tab, at(visit, "line/"), LINE)
    agree(tab, visit)
    state = read(visit).state
    (line,) = state.lines
    assert state.agreed == (line,)
    assert items(visit)[f"job/{line}"] == "New brake hose, front: agreed, not yet done"
    assert "Brake hose × 2" in seen(tab, visit, "order/")
    assert "Make ready Parts Brake hose × 2" in printed(tab, visit, "job-card")
    assert "New brake hose, front" in seen(tab, visit, "bench/")

    send(tab, at(visit, "opened/"), {"what": "cover", "words": "radiator grille", "count": "1"})
    (added,) = read(visit).state.added
    send(tab, at(visit, "complaint/"), {"how": "put right", "line": line, "text": ""})
    assert "to be put right by New brake hose, front" in items(visit)["complaint"]
    card_done(tab, visit, f"{line}/work")
    assert set(items(visit)) == {f"circuit/{added}/refitted", "walk round"}
    assert "Refit: radiator grille" in seen(tab, visit, "bench/")
    card_done(tab, visit, f"{added}/refit")
    assert "No card is left" in seen(tab, visit, "bench/")

    walk = seen(tab, visit, "handback/")
    tab.post(at(visit, "handback/walk/"), _ticket(walk))
    form = next(f for names, f in Forms(seen(tab, visit, "handback/")).found if "leaves" in names)
    back = {"keys": "0", "odometer": "32010 km", "old_parts": "no", "leaves": "ridden away"}
    tab.post(at(visit, "handback/return/"), form | back)
    assert read(visit).closed
    record = printed(tab, visit, "service-record")
    for words in (
        "Front brake squeals.", "put right by New brake hose, front", "New brake hose, front",
        "Fitted: Brake hose × 2", "radiator grille", "closed", "103.00",
    ):  # fmt: skip
        assert words in record
    assert "own_" not in record
    assert "New brake hose, front" in printed(tab, visit, "job-card")
    assert "New brake hose, front" in printed(tab, visit, "estimate")


@pytest.mark.parametrize("filled", [False, True], ids=["nothing yet", "with lines and things"])
def test_no_page_of_a_visit_without_a_book_is_missing(tab, desk, bookless, filled):
    """Each says in words that there is no book, or does not need one; none is a 404 or a fault."""
    if filled:
        send(tab, at(bookless, "line/"), LINE)
        send(
            tab, at(bookless, "opened/"), {"what": "circuit", "words": "clutch line", "bleed": "on"}
        )
    pages = [
        str(one.pattern).removeprefix("visits/<uuid:visit>/")
        for one in ADDRESSES
        if str(one.pattern).startswith("visits/<uuid:visit>/") and "<" not in str(one.pattern)[20:]
    ]
    there_is_none = {"shims/"}  # nothing leads there without shims
    assert {"needs/", "price/", "order/", "bench/", "handback/", "papers/", "line/"} <= {*pages}
    codes = {page: tab.get(at(bookless, page), follow=True).status_code for page in pages}

    assert {page for page, code in codes.items() if code not in (200, 405)} == there_is_none
    for page in ("needs/", "price/", "order/", "bench/", "handback/"):
        text = seen(tab, bookless, page)
        assert "No service book is pinned to this visit" in text
        assert at(bookless, "arrival/#book") in text
    assert "no list of what is due" in tab.get("/arrive/?book=none").content.decode()


def test_a_book_pinned_later_leaves_what_was_opened_before_open(tab, desk, bookless, small_book):
    send(tab, at(bookless, "opened/"), {"what": "pipe", "words": "breather", "count": "2"})
    before = set(items(bookless))
    put(desk, bookless, ("book_pinned", {"revision": small_book.current.sha256}))

    assert before <= set(items(bookless))
    assert read(bookless).book.jobs


# ---------------------------------------------------------------- what no book lists


def test_a_bolt_that_no_book_lists_holds_the_ride_until_each_one_is_proven(
    tab, helpers_tab, desk, worked_on, wrench
):
    """One by one with figure and wrench; then a second look; opened again, all of it anew."""
    visit = worked_on
    bolt = {"what": "fastener", "words": "crash bar bolt", "count": "2", "grade": "proven",
            "torque": "40 Nm", "source": "manual p. 3", "safety": "on"}  # fmt: skip
    send(tab, at(visit, "opened/?card=brake/pump"), bolt)
    (name,) = read(visit).state.added
    card = f"{name}/tighten"
    assert [i for i in items(visit) if name in i] == [f"fastener/{name}/1", f"fastener/{name}/2"]
    assert "crash bar bolt, 1, 2 of 2" in " ".join(gate("road test", read(visit).state).words)
    assert "manual p. 3" in seen(tab, visit, f"bench/?card={card}")

    for place in (1, 2):
        to = at(visit, "bench/confirm/")
        form = form_to(seen(tab, visit, f"bench/?card={card}"), "", to, "card-form")
        tab.post(to, form | {"tight": f"{name}/{place}/0"})
    assert [i for i in items(visit) if name in i] == [f"second look/fastener/{name}"]
    mark = read(visit).state.tallies[name].marks[0]
    assert (mark.status, mark.set_nm) == ("tight", 40.0)
    look = f"second look/fastener/{name}"
    sent = _ticket(seen(helpers_tab, visit, "handback/")) | {"look": [look]}
    helpers_tab.post(at(visit, "handback/look/"), sent)
    assert [i for i in items(visit) if name in i] == []

    assert "Opened again: crash bar bolt" in seen(tab, visit, "bench/")
    card_done(tab, visit, f"{name}/open")
    assert [i for i in items(visit) if name in i] == [f"fastener/{name}/1", f"fastener/{name}/2"]
    assert "Make tight: crash bar bolt" in seen(tab, visit, "bench/")
    assert "crash bar bolt × 2" in printed(tab, visit, "service-record")
    assert "crash bar bolt" in printed(tab, visit, "job-card")


def test_a_circuit_that_no_book_lists_is_closed_bled_and_looked_at_one_after_the_other(
    tab, desk, visit
):
    send(tab, at(visit, "opened/"), {"what": "circuit", "words": "clutch line", "bleed": "on"})
    (name,) = read(visit).state.added
    for step in ("close", "bleed", "leaks"):
        assert f"circuit/{name}/{step}" in items(visit)
        card_done(tab, visit, f"{name}/{step}")
        assert f"circuit/{name}/{step}" not in items(visit)

    entry = store.entries(visit)[-4]
    assert entry.kind == "added"
    put(desk, visit, *[("corrected", {"entry": e.id}) for e in store.entries(visit)[-4:]])
    assert "clutch line" not in seen(tab, visit, "bench/")
    assert "walk round" not in items(visit)


def test_what_cannot_be_opened_so_is_said_beside_its_field_with_all_that_was_typed(tab, visit):
    problem = {"what": "pipe", "words": "breather", "torque": "9 Nm", "bleed": "on", "count": "0"}
    answer = send(tab, at(visit, "opened/"), problem)
    assert answer.status_code == 422
    said = " ".join(faults_of(answer))
    assert "A pipe has no torque" in said
    assert "A pipe is not bled" in said
    assert 'value="breather"' in answer.content.decode()
    bolt = {"what": "fastener", "words": "bolt", "torque": "24"}
    answer = send(tab, at(visit, "opened/"), bolt)
    said = " ".join(faults_of(answer))
    assert "Say how it is made tight" in said
    assert "unit" in said
    assert read(visit).state.own == {}


def test_a_thing_opened_after_hand_back_calls_the_machine_back(tab, desk, bookless):
    nothing = {"complaint": "Front brake squeals.", "how": "nothing found", "text": "ridden"}
    put(desk, bookless, ("complaint_answered", nothing), ("gate_passed", {"gate": "hand-back"}),
        ("returned", {}))  # fmt: skip
    assert "calls it back" in seen(tab, bookless, "opened/")
    send(tab, at(bookless, "opened/"), {"what": "cover", "words": "seat"})
    assert [one.words for one in read(bookless).state.recalls]
    assert "This came in after hand-back." in seen(tab, bookless, "handback/")


# ---------------------------------------------------------------- own lines


def test_an_own_line_is_a_card_only_with_the_owners_yes(tab, desk, worked_on):
    """Written at the bench it is before the owner at once; declined it is none; agreed it can be left out."""
    visit = worked_on
    send(tab, at(visit, "line/?back=bench"), LINE | {"safety": "on"})
    (line,) = read(visit).state.lines
    assert "New brake hose" in seen(tab, visit, "bench/owner/")
    assert f"card={line}" not in seen(tab, visit, "bench/")

    offer = read(visit).state.offers[-1]
    says = {"estimate": offer.estimate, "line": line, "by": str(visit.machine.owner_id),
            "how": "in person"}  # fmt: skip
    put(desk, visit, ("answered", says | {"verdict": "no"}))
    assert f"job/{line}" not in items(visit)
    assert "declined" in printed(tab, visit, "service-record")
    put(desk, visit, ("answered", says | {"verdict": "yes"}))
    assert not gate("road test", read(visit).state).passes
    assert f"card={line}%2Fwork" in seen(tab, visit, "bench/") or line in seen(tab, visit, "bench/")
    put(desk, visit, ("skipped", {"step": f"{line}/work", "reason": "hose not delivered"}))
    assert f"job/{line}" not in items(visit)
    record = printed(tab, visit, "service-record")
    assert "not done" in record
    assert "hose not delivered" in record


def test_an_own_line_that_would_not_go_waits_and_can_be_done_after_all(tab, desk, worked_on):
    visit = worked_on
    send(tab, at(visit, "line/?back=bench"), LINE)
    (line,) = read(visit).state.lines
    offer = read(visit).state.offers[-1]
    yes = {"estimate": offer.estimate, "line": line, "verdict": "yes",
           "by": str(visit.machine.owner_id), "how": "in person"}  # fmt: skip
    put(desk, visit, ("answered", yes))
    stuck = {"step": f"{line}/work", "what": "stuck", "safe_now": "line is closed"}
    (report,) = put(desk, visit, ("wont", stuck))
    assert {i.partition("/")[0] for i in items(visit)} >= {"job", "wont"}
    card_done(tab, visit, f"{line}/work", **{"after-all": report.entry.id})
    assert not {i.partition("/")[0] for i in items(visit)} & {"job", "wont"}
    entry = store.entries(visit)[-1]
    put(desk, visit, ("corrected", {"entry": entry.id}))
    assert f"job/{line}" in items(visit)


def test_a_line_is_struck_out_before_it_is_agreed_and_not_after(tab, bookless):
    visit = bookless
    for words in ("one", "two"):
        send(tab, at(visit, "line/"), LINE | {"words": words})
    page = seen(tab, visit, "price/")
    strikes = [dict(form) for names, form in Forms(page).found if "line" in names]
    tab.post(at(visit, "line/strike/"), strikes[0])
    assert [one.words for one in read(visit).state.lines.values()] == ["two"]
    agree(tab, visit)
    answer = tab.post(at(visit, "line/strike/"), strikes[1], follow=True)
    assert "is agreed meanwhile" in answer.content.decode()
    assert len(read(visit).state.agreed) == 1


def test_what_was_found_and_written_as_a_line_at_the_bench_gets_its_card(tab, desk, worked_on):
    visit = worked_on
    page = seen(tab, visit, "bench/?card=brake/pump")
    form = next(form for names, form in Forms(page).found if "found-text" in names)
    typed = {"found-text": "hose chafed", "found-line": "Hose renewed", "found-minutes": "20"}
    tab.post(at(visit, "bench/found/"), dict(form) | typed)
    state = read(visit).state
    (line,) = state.lines
    assert (state.findings[-1].line, state.offers[-1].lines) == (line, (line,))
    assert state.lines[line].minutes == 20


def test_a_line_with_half_a_part_or_no_price_is_asked_about(tab, bookless):
    answer = send(tab, at(bookless, "line/"), {"words": "x", "part_1": "hose", "each_2": "3"})
    said = " ".join(faults_of(answer))
    assert answer.status_code == 422
    assert "What does it cost?" in said
    assert "Which part is it?" in said
    assert "How long, or at which price?" in said
    fixed = {"words": "Wash", "fixed": "25"}
    send(tab, at(bookless, "line/"), fixed)
    agree(tab, bookless)
    assert read(bookless).state.agreed
    assert "25.00" in printed(tab, bookless, "estimate")


# ---------------------------------------------------------------- the complaint


@pytest.mark.parametrize(
    ("page", "typed"),
    [
        ("opened/", {"what": "cover", "words": "seat"}),
        ("line/", LINE),
        ("line/?back=bench", LINE),
        ("complaint/", {"how": "nothing found", "text": "ridden"}),
    ],
    ids=["opened", "line", "line at the bench", "complaint"],
)
def test_a_form_sent_twice_is_stored_once(tab, bookless, page, typed):
    field = next(iter(typed))
    forms = Forms(seen(tab, bookless, page)).found
    sent = next(dict(form) for names, form in forms if field in {*names, *form}) | typed
    path = at(bookless, page.partition("?")[0])
    first = tab.post(path, sent)
    stored = store.entries(bookless)
    again = tab.post(path, sent)
    assert (first.status_code, again.status_code, first.url) == (303, 303, again.url)
    assert store.entries(bookless) == stored
    assert not store.clashes(bookless).exists()


def test_the_complaint_is_open_until_it_is_answered_and_both_are_printed(tab, bookless):
    visit = bookless
    assert items(visit) == {"complaint": "complaint “Front brake squeals.”: no answer yet"}
    assert "Front brake squeals." in seen(tab, visit, "bench/")
    answer = send(tab, at(visit, "complaint/"), {"how": "nothing found"})
    assert "What was tried?" in " ".join(faults_of(answer))
    send(tab, at(visit, "complaint/"), {"how": "nothing found", "text": "ridden hot and cold"})
    assert items(visit) == {}
    for text in (printed(tab, visit, "service-record"), seen(tab, visit, "handback/")):
        assert "Front brake squeals." in text
        assert "ridden hot and cold" in text
    put_back = store.entries(visit)[-1]
    assert put_back.kind == "complaint_answered"


def test_an_answer_from_an_old_page_is_not_given_to_other_words_or_over_another_answer(
    tab, colleague, client_of, bookless
):
    visit = bookless
    page = seen(tab, visit, "complaint/")
    old = next(dict(form) for names, form in Forms(page).found if "complaint" in names)
    old |= {"how": "left for later", "text": "told at the desk"}
    send(tab, at(visit, "arrival/"), {"complaint": "Front brake squeals when cold."})
    answer = tab.post(at(visit, "complaint/"), old)
    assert answer.status_code == 422
    assert "was changed since this page" in answer.content.decode()
    assert "told at the desk" in answer.content.decode()

    page = seen(tab, visit, "complaint/")
    second = next(dict(form) for names, form in Forms(page).found if "complaint" in names)
    first = {"how": "nothing found", "text": "ridden cold"}
    send(client_of(colleague), at(visit, "complaint/"), first)
    answer = tab.post(at(visit, "complaint/"), second | {"how": "put right", "text": "greased"})
    assert answer.status_code == 422
    assert "answered since this page" in answer.content.decode()
    assert items(visit) == {}


def test_a_complaint_of_several_lines_is_answered_as_any_other(tab, desk, bookless):
    """A browser ends the lines of a field in its own way; the words are the same."""
    machine = {"machine": str(bookless.machine_id), "owner": str(bookless.machine.owner_id)}
    said = "Brake squeals.\nChain clatters."
    put(desk, bookless, ("arrived", machine | {"complaint": said}))
    page = seen(tab, bookless, "complaint/")
    form = next(dict(form) for names, form in Forms(page).found if "complaint" in names)
    form |= {"complaint": said.replace("\n", "\r\n"), "how": "nothing found", "text": "ridden"}
    tab.post(at(bookless, "complaint/"), form)
    assert items(bookless) == {}


def test_a_complaint_written_down_later_is_open_from_then_on(tab, desk, bookless):
    visit = bookless
    nothing = {"complaint": "Front brake squeals.", "how": "nothing found", "text": "ridden"}
    put(desk, visit, ("complaint_answered", nothing))
    send(tab, at(visit, "arrival/"), {"luggage": "one bag"})
    assert items(visit) == {}  # the same words: the answer stands
    send(tab, at(visit, "arrival/"), {"complaint": ""})
    assert "No complaint was entered." in seen(tab, visit, "complaint/")
    send(tab, at(visit, "arrival/"), {"complaint": "Chain clatters."})
    assert "complaint" in items(visit)


def _ticket(page: str) -> dict[str, Any]:
    form = next(form for names, form in Forms(page).found if "entry_id" in names)
    return {name: form[name] for name in ("entry_id", "seen")}
