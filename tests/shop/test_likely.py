"""What readings decided is counted per model, and moves what the book says."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.fixtures.shop import new_member
from tests.fixtures.undecided import taken_in, undecided_book
from witnessmark.planner import compile_undecided, every_unknown
from witnessmark.shop import content_store, store
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import DecidedRow
from witnessmark.shop.scope import Desk
from witnessmark.shop.work.likely import BOOK_COUNTS_AS, Chance, chances, likely

OUTSIDE, BELOW = "tread outside", "tread below tread_least"


def read(desk, visit, value, step="round/tread"):
    body = {"reading": "tread", "step": step, "value": value, "text": f"{value} mm"}
    return store.record(desk, visit, "read", body).entry


@pytest.mark.postgres
def test_readings_of_visits_are_counted_and_a_correction_corrects_the_count(desk, undecided, shop):
    """1.2 and 1.0 mm lie below 1.6 mm, 4 mm does not: two of three; one of them taken back leaves one of two."""
    book = content_store.book_of(shop, undecided.current.sha256)
    assert likely(shop, book) == {}
    assert chances(shop, book)[OUTSIDE].words == "invented figure of the book: 30\u00a0%"
    visits = [taken_in(desk, undecided, plate) for plate in ("A-1", "A-2", "A-3")]
    for visit, value in zip(visits, (1.2, 4.0, 1.0), strict=True):
        mistyped = read(desk, visit, value)
    found = chances(shop, book)
    assert (found[OUTSIDE].asked, found[OUTSIDE].yes) == (3, 2)
    assert found[OUTSIDE].words == "2 of 3 here; the book says 30\u00a0% (invented)"
    assert likely(shop, book) == pytest.approx(dict.fromkeys((OUTSIDE, BELOW), (0.3 * 4 + 2) / 7))
    tree = compile_undecided(book, ["round"], perhaps=["tyre"], likely=likely(shop, book))
    assert tree.problem.unknowns[OUTSIDE].yes == pytest.approx(3.2 / 7)

    store.record(desk, visits[2], "corrected", {"entry": mistyped.id})
    assert (chances(shop, book)[OUTSIDE].asked, chances(shop, book)[OUTSIDE].yes) == (2, 1)
    read(desk, visits[2], 3.0)
    assert (chances(shop, book)[OUTSIDE].asked, chances(shop, book)[OUTSIDE].yes) == (3, 1)


@pytest.mark.postgres
def test_a_rebuild_makes_the_same_counts(desk, undecided, shop):
    read(desk, taken_in(desk, undecided), 1.2)
    before = list(DecidedRow.objects.order_by("pk").values())
    assert [row["yes"] for row in before] == [True, True]
    DecidedRow.objects.all().delete()
    assert [fault.place for _, fault in store.faults(shop)] != []
    list(store.rebuild(shop))
    assert list(DecidedRow.objects.order_by("pk").values()) == before
    assert list(store.faults(shop)) == []


def test_another_shop_and_another_model_count_for_themselves(
    desk, undecided, shop, shop_next_door, tmp_path
):
    book = undecided_book(tmp_path)
    theirs = content_store.keep_book(shop_next_door, book)
    next_door = Desk(new_member(shop_next_door, "ludo", "head"), new_id())
    read(next_door, taken_in(next_door, theirs), 1.0)
    renamed = undecided_book(tmp_path, ('name = "brannock_t9_small"', 'name = "brannock_t8"'))
    other = content_store.keep_book(shop, renamed)
    read(desk, taken_in(desk, other), 1.0)
    assert likely(shop, book) == {}
    assert likely(shop_next_door, book).keys() == likely(shop, renamed).keys() == {OUTSIDE, BELOW}


def test_what_is_read_again_after_it_was_put_right_does_not_count_twice(desk, undecided):
    """The worn tyre is read in the round, the new one after it was changed: the round decides."""
    visit = taken_in(desk, undecided, jobs=("round", "tyre"))
    read(desk, visit, 1.2)
    read(desk, visit, 7.5, "tyre/swap")
    seen = store.reading(visit)
    assert seen.state.answers == {OUTSIDE: True, BELOW: True}
    read(desk, visit, 5.0)  # typed again where it was read first
    seen = store.reading(visit)
    assert seen.state.answers == {OUTSIDE: False, BELOW: False}


def test_of_several_places_one_yes_is_enough_and_a_no_takes_all(desk, shop, tmp_path):
    book = undecided_book(tmp_path, ('low = "tread_least"\n', 'low = "tread_least"\nrepeat = 2\n'))
    visit = taken_in(desk, content_store.keep_book(shop, book))
    for place, value, told in ((1, 4.0, None), (2, 1.0, True), (2, 4.0, False)):
        body = {"reading": "tread", "step": "round/tread", "value": value, "index": place}
        store.record(desk, visit, "read", body)
        seen = store.reading(visit)
        assert seen.state.answers.get(OUTSIDE) is told


def test_what_a_reading_is_only_taken_as_is_an_answer_but_no_count(desk, undecided):
    visit = taken_in(desk, undecided)
    said = {"reading": "tread", "step": "round/tread", "index": 1, "because": "wheel stuck"}
    store.record(desk, visit, "not_read", {**said, "taken_as": {OUTSIDE: True}})
    assert store.reading(visit).state.answers == {OUTSIDE: True}
    assert not DecidedRow.objects.exists()
    read(desk, visit, 4.0)
    assert DecidedRow.objects.get(unknown=OUTSIDE).yes is False


def test_a_limit_that_is_missing_decides_nothing(desk, shop, tmp_path):
    book = undecided_book(tmp_path, ('value = "1.6 mm"\nsource', "source"))
    visit = taken_in(desk, content_store.keep_book(shop, book))
    read(desk, visit, 1.2)
    assert not DecidedRow.objects.exists()


def test_the_books_figures_are_told_by_what_they_decide(tmp_path):
    """`outside = false` at 70 % is the same unknown as the tyre's at 30 %."""
    told = {name: likely for name, (_, likely) in every_unknown(undecided_book(tmp_path)).items()}
    assert told == pytest.approx({OUTSIDE: 0.3, BELOW: 0.3})


@given(st.floats(0, 1), st.integers(0, 500), st.data())
def test_the_books_figure_is_moved_towards_what_was_counted(book, asked, data):
    """Between the two, nearer to the count the more was counted; as exact fractions say it."""
    yes = data.draw(st.integers(0, asked))
    found = Chance(book, asked, yes).likely
    weight = Fraction(asked, asked + BOOK_COUNTS_AS)
    exact = (1 - weight) * Fraction(book) + (weight * Fraction(yes, asked) if asked else 0)
    assert found == pytest.approx(float(exact))
    assert 0 <= found <= 1
