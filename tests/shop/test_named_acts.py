"""A form says what it does: to the step, fastener and round it names, or in words what happened since its page."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connections

from tests.fixtures.tour import put
from tests.shop.day import Person, form_to, text_of, words
from tests.shop.test_papers import offer
from witnessmark.shop import store
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import Receipt
from witnessmark.shop.scope import Desk
from witnessmark.shop.work.visit import read

pytestmark = pytest.mark.postgres  # and on SQLite, as everything

OFF, ON, SWAP = "wheel_off", "wheel_on", "tyre/swap"


@pytest.fixture
def tomas(helper, client_of) -> Person:
    return Person(client_of(helper))


@pytest.fixture
def nunos_desk(colleague) -> Desk:
    return Desk(colleague, new_id())


def bench(visit, act: str = "") -> str:
    return f"/visits/{visit.pk}/bench/{act}"


def at(visit, card: str) -> str:
    return f"{bench(visit)}?card={card}"


def card_form(person: Person, visit, card: str, **typed) -> dict:
    """The form of a card as its page has it now."""
    return person.form(at(visit, card), bench(visit, "confirm/")) | typed


def said(visit) -> list[tuple[str, str]]:
    """Kind, and step or fastener, of everything since the machine came in."""
    return [
        (one.kind, one.body.get("step") or one.body.get("fastener", ""))
        for one in store.entries(visit)[5:]
    ]


# ---------------------------------------------------------------- what a form means


def test_a_form_that_names_no_card_is_refused_in_words(mara, visit):
    form = card_form(mara, visit, OFF, done="1")
    for act in ("confirm/", "skip/", "wont/", "found/", "note/"):
        for card in (None, "no_such_step"):
            answer = mara.post(bench(visit, act), form | {"card": card})
            assert answer.status_code == 400, (act, card)
            assert "This form does not name its card. Nothing was recorded." in text_of(answer)
    assert said(visit) == []


FOREIGN = [
    *(("confirm/", "tight", value) for value in (
        "wheel_bolts/0/0", "wheel_bolts/3/0", "wheel_bolts/99999/0", "wheel_bolts/1/7", "wheel_bolts/1",
        "no_such/1/0", "wheel_bolts/²/0", f"wheel_bolts/{'9' * 5000}/0", "wheel_bolts/-1/0")),
    *(("judge/", "tight", value) for value in (
        "wheel_bolts/0", "wheel_bolts/99999", f"wheel_bolts/{'9' * 5000}", "no_such/1", "wheel_bolts/x", "")),
    ("confirm/", "along", "tyre/swap"), ("confirm/", "along", "no_such"),
    ("settle/", "entry", "no_such"), ("undo/", "entry", "no_such"),
    ("owner/", "add", "no_such"), ("owner/", "answer", "yes/no_such"), ("owner/", "answer", "perhaps/tyre"),
]  # fmt: skip


def test_what_the_visit_does_not_have_is_refused_in_words(mara, visit):
    form = card_form(mara, visit, ON)
    for act, field, value in FOREIGN:
        answer = mara.post(bench(visit, act), form | {field: value})
        assert answer.status_code == 400, (act, field, value[:40])
        assert "Nothing was recorded" in text_of(answer)
    assert said(visit) == []


DEVICE = "01890a5d-ac96-774b-bcce-b302099a8057"
NO_TICKETS = [
    *(("seen", value) for value in (
        "", "[]", "null", "3", '"x"', '{"x":1}', "[" * 100_000, "[" * 5_000, '{"a":' * 3000, " " * 30_000, None)),
    *(("seen", f'{{"{DEVICE}":{number}}}') for number in (
        "1e400", "Infinity", "-Infinity", "NaN", "-1", "1.0", "true", "null", '"1"', "[1]", "9" * 5000, "9" * 400)),
    *(("entry_id", value) for value in (
        "", "x", "9" * 40, "[" * 100_000, "6fa459ea-ee8a-4ca4-894e-db77e160355e", None)),
]  # fmt: skip


def test_a_ticket_that_no_page_made_is_refused_in_words(mara, visit):
    form = mara.form(at(visit, OFF), bench(visit, "note/")) | {"note-text": "x"}
    for field, value in NO_TICKETS:
        answer = mara.post(bench(visit, "note/"), form | {field: value})
        assert answer.status_code == 400, (field, str(value)[:40])
        assert "This form came without its ticket. Nothing was recorded." in text_of(answer)
    assert said(visit) == []
    assert mara.post(bench(visit, "note/"), form).status_code == 303


def test_what_is_written_belongs_to_the_card_it_was_written_on(mara, visit):
    """The page was opened before its card was done; by now another card would be in hand."""
    written = {
        act: mara.form(at(visit, OFF), bench(visit, act)) for act in ("note/", "found/", "wont/")
    }
    mara.do(at(visit, OFF), bench(visit, "confirm/"), done="1")
    mara.post(bench(visit, "note/"), written["note/"] | {"note-text": "bolt 2 was loose"})
    mara.post(bench(visit, "found/"), written["found/"] | {"found-text": "rim is bent"})

    assert said(visit) == [("done", OFF), ("noted", OFF), ("found", OFF)]


def test_a_card_closes_along_what_its_form_showed_and_nothing_else(mara, visit):
    form = card_form(mara, visit, SWAP, done="1", along=[OFF], **{"reading-tread-1": "5 mm"})
    mara.post(bench(visit, "confirm/"), form)

    (done,) = [one for one in store.entries(visit) if one.kind == "done"]
    assert (done.body["step"], done.body["along"]) == (SWAP, [OFF])
    assert read(visit).state.history[-1].words == (
        "done: Change the tyre; along with it: Take the rear wheel off"
    )


@pytest.mark.parametrize("act", ["note", "found", "wont"])
def test_a_picture_that_is_none_is_refused_beside_its_field_and_the_words_stay(mara, visit, act):
    typed = {
        "note-text": "see the rim",
        "found-text": "rim is bent",
        "wont-what": "stuck",
        "wont-safe_now": "x",
    }
    form = mara.form(at(visit, OFF), bench(visit, f"{act}/"))
    form |= {name: text for name, text in typed.items() if name.startswith(act)}
    file = SimpleUploadedFile("rim.jpg", b"no picture at all", "image/jpeg")
    answer = mara.post(bench(visit, f"{act}/"), form | {f"{act}-photo": file})
    assert answer.status_code == 422
    assert "is not a photo this shop can read" in text_of(answer).lower()
    assert all(
        text in answer.content.decode() for name, text in form.items() if name.startswith(act)
    )
    assert said(visit) == []


# ---------------------------------------------------------------- what happened meanwhile


def test_the_second_tap_on_a_card_is_told_of_the_first_and_nothing_is_recorded(mara, tomas, visit):
    """It names what, who and when, and offers the same act again; what is not ready any more is seen first."""
    mine, his = card_form(mara, visit, OFF, done="1"), card_form(tomas, visit, OFF, done="1")
    assert mara.post(bench(visit, "confirm/"), mine).status_code == 303
    told = tomas.post(bench(visit, "confirm/"), his)

    assert told.status_code == 409
    assert (
        "Nothing was recorded yet Since your page was made: done: Take the rear wheel off (Mara, "
        in text_of(told)
    )
    assert said(visit) == [("done", OFF)]

    again = form_to(told.content.decode(), "", bench(visit, "confirm/"))
    warned = tomas.post(bench(visit, "confirm/"), again)
    assert "Rear wheel: off; this needs fitted" in text_of(warned)
    assert said(visit) == [("done", OFF)]
    again = form_to(warned.content.decode(), "", bench(visit, "confirm/")) | {"done": "1"}
    assert tomas.post(bench(visit, "confirm/"), again).status_code == 303
    assert said(visit) == [("done", OFF), ("done", OFF)]


def test_a_page_of_yesterday_on_the_same_tablet_records_nothing_twice(mara, visit):
    old = card_form(mara, visit, OFF, done="1")
    mara.do(at(visit, OFF), bench(visit, "confirm/"), done="1")
    assert mara.post(bench(visit, "confirm/"), old).status_code == 409
    assert said(visit) == [("done", OFF)]


def test_two_people_on_one_wheel_are_stored_bolt_by_bolt_and_no_bolt_twice(mara, tomas, visit):
    mine = card_form(mara, visit, ON, tight="wheel_bolts/1/0")
    his = card_form(tomas, visit, ON, tight="wheel_bolts/2/0")
    same = card_form(tomas, visit, ON, tight="wheel_bolts/1/0")
    assert [
        person.post(bench(visit, "confirm/"), form).status_code
        for person, form in ((mara, mine), (tomas, his), (tomas, same))
    ] == [303, 303, 409]
    assert [one.body["index"] for one in store.entries(visit) if one.kind == "tightened"] == [1, 2]


TREAD = {"reading": "tread", "step": SWAP, "value": 4.0, "text": "4 mm"}
BOLT = {
    "fastener": "wheel_bolts",
    "index": 1,
    "step": ON,
    "figure": "wheel_bolts",
    "value_nm": 60.0,
}
FIGURE = {"figure": "wheel_bolts", "value": "95 N·m", "source": "manual, page 12"}


@pytest.mark.parametrize(
    ("card", "act", "typed", "meanwhile"),
    [
        (OFF, "confirm/", {"done": "1"}, [("done", {"step": SWAP, "along": [OFF]})]),
        (SWAP, "confirm/", {"done": "1"}, [("skipped", {"step": SWAP, "reason": "no tyre here"})]),
        (SWAP, "confirm/", {"done": "1"}, [("wont", {"step": SWAP, "what": "stuck", "safe_now": "x"})]),
        (SWAP, "confirm/", {"done": "1"}, [("job_left", {"job": "tyre"})]),
        (OFF, "confirm/", {"done": "1"}, [("returned", {})]),
        (SWAP, "confirm/", {"reading-tread-1": "5 mm"}, [("read", TREAD)]),
        (ON, "confirm/", {"tight": "wheel_bolts/1/0"}, [("tightened", BOLT)]),
        (ON, "confirm/", {"tight": "wheel_bolts/1/0"}, [("done", {"step": OFF})]),
        (ON, "confirm/", {"tight": "wheel_bolts/1/0"}, [("figure_set", FIGURE)]),
        (SWAP, "skip/", {"skip-reason": "late"}, [("done", {"step": SWAP})]),
        (SWAP, "wont/", {"wont-what": "stuck", "wont-safe_now": "x"}, [("done", {"step": SWAP})]),
        (SWAP, "note/", {"note-text": "still here"}, None),
    ],
)  # fmt: skip
def test_what_bears_on_an_act_is_told_and_what_does_not_is_no_hindrance(
    mara, desk, nunos_desk, visit, card, act, typed, meanwhile
):
    """Done, left out, stuck, read, tightened, loosened, corrected, declined, handed back: since the page was made."""
    form = mara.form(at(visit, card), bench(visit, act), 'name="card"') | typed
    put(nunos_desk, visit, *(meanwhile or [("done", {"step": SWAP}), ("returned", {})]))
    before = len(store.entries(visit))
    answer = mara.post(bench(visit, act), form)

    if meanwhile is None:
        assert answer.status_code == 303
    else:
        assert answer.status_code == 409
        assert read(visit).state.history[-1].words in text_of(answer)
        assert "Nuno" in text_of(answer)
    assert len(store.entries(visit)) == before + (meanwhile is None)


def test_a_step_that_other_work_needs_is_not_left_out(mara, visit):
    """It was stored, and the order asked for the same step again, without a word."""
    page = mara.client.get(at(visit, OFF)).content.decode()
    assert bench(visit, "wont/") in page
    assert bench(visit, "skip/") not in page
    form = mara.form(at(visit, SWAP), bench(visit, "skip/")) | {"card": OFF, "skip-reason": "late"}
    before = len(store.entries(visit))
    answer = mara.post(bench(visit, "skip/"), form)
    assert answer.status_code == 422
    assert "Other work needs this step" in text_of(answer)
    assert len(store.entries(visit)) == before


def test_a_finding_answered_meanwhile_is_not_answered_twice(mara, nunos_desk, visit):
    (found,) = put(nunos_desk, visit, ("found", {"text": "rim is bent"}))
    form = mara.form(at(visit, OFF), bench(visit, "settle/")) | {"settle-how": "put right"}
    put(nunos_desk, visit, ("settled", {"entry": found.entry.id, "how": "nothing wrong"}))
    told = mara.post(bench(visit, "settle/"), form)

    assert told.status_code == 409
    assert "found: rim is bent: answered: nothing wrong (Nuno" in text_of(told)
    assert read(visit).state.findings[0].settled == "nothing wrong"


def test_what_a_page_did_not_warn_of_is_shown_before_the_card_is_done(mara, nunos_desk, visit):
    """The wheel was off when the page was made; it is on by now."""
    put(nunos_desk, visit, ("done", {"step": OFF}))
    form = card_form(mara, visit, SWAP, done="1", **{"reading-tread-1": "5 mm"})
    bolts = [("tightened", BOLT | {"index": index}) for index in (1, 2)]
    put(nunos_desk, visit, *bolts, ("done", {"step": ON}))
    told = mara.post(bench(visit, "confirm/"), form)

    assert told.status_code == 422
    assert "Since this page was made: Rear wheel: fitted; this needs off" in text_of(told)
    assert 'value="5 mm"' in told.content.decode()
    assert said(visit) == [("done", OFF), *[("tightened", ON)] * 2, ("done", ON)]
    again = form_to(told.content.decode(), "", bench(visit, "confirm/")) | {"done": "1"}
    assert mara.post(bench(visit, "confirm/"), again).status_code == 303


def test_a_line_answered_meanwhile_is_not_answered_twice(mara, nuno, desk, visit):
    """The owner rings one and stands before the other: who was first is told, on both pages that ask."""
    offer(desk, visit)
    price = f"/visits/{visit.pk}/price/"
    at_the_bench = nuno.form(bench(visit, "owner/")) | {"answer": "no/tyre"}
    at_the_desk = nuno.form(price, f"{price}answers/") | {"answer-tyre": "yes"}
    mara.do(bench(visit, "owner/"), answer="yes/tyre")
    for path, form in ((bench(visit, "owner/"), at_the_bench), (f"{price}answers/", at_the_desk)):
        told = nuno.post(path, form)
        assert told.status_code == 409
        assert "owner says yes to Change the rear tyre, by telephone (Mara, " in text_of(told)
    assert [kind for kind, _ in said(visit)] == ["offered", "answered"]


def test_an_order_is_taken_as_it_was_shown_or_not_at_all(mara, tomas, nunos_desk, visit):
    """Somebody took it first; then a job was left, and what was shown is the order no more."""
    forms = [tomas.form(bench(visit), bench(visit, "order/")) for _ in range(2)]
    mara.do(bench(visit), bench(visit, "order/"))
    told = tomas.post(bench(visit, "order/"), forms[0])
    assert (told.status_code, "order of work taken (Mara, " in text_of(told)) == (409, True)

    put(nunos_desk, visit, ("job_left", {"job": "tyre"}))
    told = tomas.post(bench(visit, "order/"), forms[1])
    assert told.status_code == 422
    assert "The order has changed since this page was made: look again." in text_of(told)
    assert [kind for kind, _ in said(visit)] == ["plan_taken", "job_left"]


# ---------------------------------------------------------------- taken back


def test_one_tap_is_taken_back_as_one_and_says_what_it_takes_back(mara, visit):
    """The reading typed with the card goes with it; twice, and from an old page, it is told who did it."""
    mara.do(at(visit, SWAP), bench(visit, "confirm/"), done="1", reading__tread__1="5 mm")
    old = mara.form(bench(visit), bench(visit, "undo/"))
    assert "Depth of tread: 5 mm; done: Change the tyre Take back" in text_of(
        mara.client.get(bench(visit))
    )

    back = mara.do(bench(visit), bench(visit, "undo/"))
    assert words(back) == ["Taken back: Depth of tread: 5 mm; done: Change the tyre."]
    state = read(visit).state
    assert (state.readings, state.done, SWAP in state.steps) == ((), (), False)

    fresh = {"entry_id": store.ledger.new_entry_id()}
    told = mara.post(bench(visit, "undo/"), old | fresh)
    assert told.status_code == 409
    assert "taken back: done: Change the tyre (Mara, " in text_of(told)
    assert "Record it anyway" not in text_of(told)
    part = old | fresh | {"entry": old["entry"][:1]}
    assert mara.post(bench(visit, "undo/"), part).status_code == 409
    assert [kind for kind, _ in said(visit)] == ["read", "done", "corrected", "corrected"]


def test_the_last_bolt_and_its_card_are_taken_back_together(mara, visit):
    for place in (1, 2):
        mara.do(at(visit, ON), bench(visit, "confirm/"), tight=f"wheel_bolts/{place}/0")
    assert read(visit).state.steps[ON].status == "done"
    mara.do(bench(visit), bench(visit, "undo/"))

    state = read(visit).state
    assert ON not in state.steps
    assert state.tallies["wheel_bolts"].tight == (1,)


def test_a_part_of_one_tap_is_not_taken_back(mara, visit):
    mara.do(at(visit, SWAP), bench(visit, "confirm/"), done="1", reading__tread__1="5 mm")
    form = mara.form(bench(visit), bench(visit, "undo/"))
    answer = mara.post(bench(visit, "undo/"), form | {"entry": form["entry"][1]})
    assert answer.status_code == 400
    assert read(visit).state.done == (SWAP,)


def test_how_a_machine_came_in_is_not_taken_back_at_the_bench(mara, visit):
    first = store.entries(visit)[0]
    assert "Take back" not in text_of(mara.client.get(bench(visit)))
    form = mara.form(at(visit, OFF), bench(visit, "note/"))
    every = [entry.id for entry in store.entries(visit)]
    answer = mara.post(bench(visit, "undo/"), form | {"entry": every})
    assert (answer.status_code, first.kind) == (403, "arrived")
    assert said(visit) == []


# ---------------------------------------------------------------- at once


def test_one_form_sent_by_eight_at_once_is_stored_once_and_answered_eight_times(
    mara, visit, transactional_db
):
    form = card_form(mara, visit, SWAP, done="1", **{"reading-tread-1": "1.2 mm"})
    told = "Depth of tread: 1.2 mm measured with ±0.1 mm: below the limit of 1.6 mm"

    def post(_: int):
        answer = mara.client.post(bench(visit, "confirm/"), form)
        connections.close_all()
        return (
            answer.status_code,
            answer.headers.get("Location"),
            words(answer)[0].partition(" (")[0],
        )

    with ThreadPoolExecutor(8) as pool:
        answers = set(pool.map(post, range(8)))
    assert answers == {(303, bench(visit), told)}
    assert said(visit) == [("read", SWAP), ("done", SWAP)]
    (receipt,) = Receipt.objects.all()
    assert receipt.entries == [one.id for one in store.entries(visit)[5:]]
