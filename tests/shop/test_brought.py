"""A job that a reading may bring: asked for in advance, done and charged only where the reading asks for it."""

import pytest

from tests.fixtures.undecided import undecided_book
from tests.shop.day import Person, text_of
from tests.shop.test_price_undecided import answered, fields, offer, paper, path, round_of
from witnessmark.shop import content_store, store
from witnessmark.shop.pages.bench.out_of_limits import mends
from witnessmark.shop.work import pricing
from witnessmark.shop.work.visit import read

pytestmark = pytest.mark.postgres_long
TYRE = "Change the rear tyre"


@pytest.fixture
def visit(shop, desk, undecided):
    return round_of(shop, desk, undecided)


@pytest.fixture
def tab(technician, client_of):
    return client_of(technician)


def ask(tab, visit, job="tyre"):
    page = tab.get(path(visit))
    return tab.post(path(visit, rest="brought/"), fields(page) | {"job": job})


def agreed(tab, visit, tyre="yes"):
    """The round agreed, then the tyre asked for, and answered."""
    offer(tab, visit)
    answered(tab, visit, round="yes")
    assert ask(tab, visit).status_code == 303
    assert answered(tab, visit, tyre=tyre).status_code == 303


def tread(desk, visit, value):
    body = {"reading": "tread", "step": "round/tread", "value": value, "text": f"{value} mm"}
    return store.record(desk, visit, "read", body)


def done(desk, visit, *steps):
    for step in steps:
        store.record(desk, visit, "done", {"step": step})


def test_it_is_named_with_its_chance_once_the_rest_was_offered(tab, visit):
    assert "What a reading may bring" not in text_of(tab.get(path(visit)))
    offer(tab, visit)
    said = text_of(tab.get(path(visit)))
    assert f"{TYRE} Depth of tread outside its limits: invented figure of the book: 30 %" in said


def test_a_yes_is_a_ceiling_from_nothing_on_and_no_work_yet(tab, visit):
    """30 for the tyre, 90.00 itself; the wheel is off for the valve anyway: the line shares its 14 minutes."""
    offer(tab, visit)
    answered(tab, visit, round="yes")
    ask(tab, visit)
    said = text_of(tab.get(path(visit)))
    assert "€0.00 to at most €152.40" in said  # 30 + 7 + 90 without tax
    assert "at most if: Depth of tread outside its limits" in said
    answered(tab, visit, tyre="yes")
    state = store.state(visit)
    assert (set(state.agreed), state.taken) == ({"round", "tyre"}, ("round",))
    assert "Everything is answered. At most €195.60 with tax." in text_of(tab.get(path(visit)))
    assert "€0.00 to at most €127.00" in paper(tab, visit)


def test_a_reading_within_its_limits_leaves_it_undone_and_uncharged(tab, desk, visit):
    agreed(tab, visit)
    tread(desk, visit, 4.0)
    done(desk, visit, "round/tread", "round/valve", "round/pump")
    work = read(visit)
    assert "job/tyre" not in work.state.items, "nothing of it holds the machine back"
    assert "At most €43.20 with tax." in text_of(tab.get(path(visit)))
    assert "€40.80" in paper(tab, visit, "service-record")


def test_a_reading_outside_brings_it_at_the_price_agreed_without_asking_again(
    tab, desk, visit, shop
):
    agreed(tab, visit)
    before = pricing.agreed(read(visit))["tyre"].gross_minor
    tread(desk, visit, 1.0)
    shop.labour_per_hour = 90  # dearer since
    shop.save()
    bench = f"/visits/{visit.pk}/bench/"
    form = Person(tab).form(f"{bench}?card=round/tread", f"{bench}mend/")
    said = text_of(tab.get(f"{bench}?card=round/tread"))
    assert f"Do it, agreed in advance: {TYRE}" in said
    assert "Ask the owner" not in said
    assert tab.post(f"{bench}mend/", form | {"job": "tyre"}).status_code == 303
    work = read(visit)
    assert work.state.taken == ("round", "tyre")
    assert not pricing.waiting(work)
    assert not work.state.unanswered
    assert [finding for finding in work.state.findings if not finding.settled] == []
    done(
        desk,
        visit,
        "round/tread",
        "round/valve",
        "round/mark",
        "wheel_off",
        "tyre/swap",
        "wheel_on",
    )
    charged = pricing.charged(read(visit), ["tyre"])
    assert charged.gross_minor == before


def test_of_several_jobs_behind_one_reading_each_is_asked_for_and_done_for_itself(
    tab, desk, shop, tmp_path
):
    text = 'text = "Look at the lights"'
    book = undecided_book(tmp_path, (text, f'{text}\nearly = ["tread"]\nlikely = 0.5'))
    visit = round_of(shop, desk, content_store.keep_book(shop, book))
    offer(tab, visit)
    answered(tab, visit, round="yes")
    assert ask(tab, visit).status_code == 303
    got = ask(tab, visit, "lights")
    assert got.status_code == 303, text_of(got)
    assert answered(tab, visit, tyre="yes", lights="no").status_code == 303
    tread(desk, visit, 1.0)
    (beyond,) = [one for one in mends(read(visit)) if one.reading == "tread"]
    assert ([job for job, _ in beyond.jobs], beyond.agreed) == (["lights", "tyre"], ("tyre",))
    assert read(visit).state.taken == ("round",)


def test_a_no_declines_it_and_leaves_the_rest_alone(tab, visit):
    agreed(tab, visit, tyre="no")
    state = store.state(visit)
    assert (state.agreed, state.declined, state.taken) == (("round",), ("tyre",), ("round",))
    assert TYRE not in [one.text for one in pricing.laid_out(
        read(visit), pricing.priced(read(visit), ["round"]).planned.answer).perhaps]  # fmt: skip


def test_the_answer_changed_to_yes_is_still_no_work_before_the_reading(tab, visit):
    agreed(tab, visit, tyre="no")
    sent = fields(tab.get(path(visit))) | {"how": "by telephone", "answer": "yes/tyre"}
    told = tab.post(path(visit, rest="change/"), sent)
    tab.post(path(visit, rest="change/"), fields(told) | sent | {"told": "1"})
    state = store.state(visit)
    assert (set(state.agreed), state.taken) == ({"round", "tyre"}, ("round",))


def test_asked_twice_after_the_reading_or_for_what_no_reading_brings_it_is_refused(
    tab,
    desk,
    visit,
):
    offer(tab, visit)
    old = fields(tab.get(path(visit))) | {"job": "tyre"}
    assert tab.post(path(visit, rest="brought/"), old).status_code == 303
    assert tab.post(path(visit, rest="brought/"), old).status_code in (303, 422), (
        "sent twice: one offer"
    )
    assert [offer.lines for offer in store.state(visit).offers] == [("round",), ("tyre",)]
    again = ask(tab, visit)
    assert again.status_code == 422
    assert "No reading to come brings this job" in again.content.decode()
    assert ask(tab, visit, "lights").status_code == 422
    assert ask(tab, visit, "no_such_job").status_code == 422


def test_after_the_reading_it_is_no_question_any_more(tab, desk, visit):
    offer(tab, visit)
    tread(desk, visit, 4.0)
    assert "What a reading may bring" not in text_of(tab.get(path(visit)))
    assert ask(tab, visit).status_code == 422
