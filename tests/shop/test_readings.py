"""A reading is judged where it is typed, in words, with its limit and what says so."""

import pytest
from playwright.sync_api import expect

from screenshots import SIZES, faults
from tests.shop.day import Person
from witnessmark.shop import store

SWAP = "tyre/swap"
MANUAL = "Brannock T9 workshop manual (invented), page 30"


def read_on_the_bench(client, visit, typed):
    """The page after a tread depth was typed on the card of the tyre."""
    bench = f"/visits/{visit.pk}/bench/"
    form = Person(client).form(f"{bench}?card={SWAP}", f"{bench}confirm/")
    form |= {"reading-tread-1": typed}
    return client.post(f"{bench}confirm/", form, follow=True).content.decode()


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("1.6", f"Depth of tread: 1.6 mm measured with ±0.1 mm: at the limit of 1.6 mm ({MANUAL})."),
        ("1.2 mm", "Depth of tread: 1.2 mm measured with ±0.1 mm: below the limit of 1.6 mm"),
        ("1/32 in", "Depth of tread: 0.794 mm measured with ±0.1 mm: below the limit of 1.6 mm"),
    ],
)  # fmt: skip
def test_a_reading_at_or_past_its_limit_is_told_at_once(client_of, technician, visit, typed, words):
    """And it is still told where the step is looked at again."""
    client = client_of(technician)
    assert words in read_on_the_bench(client, visit, typed)
    again = client.get(f"/visits/{visit.pk}/bench/?card={SWAP}").content.decode()
    assert words.partition(": ")[2].rstrip(".") in again


def test_a_reading_within_its_limits_takes_no_words(client_of, technician, visit):
    assert "Depth of tread: 4.2 mm measured" not in read_on_the_bench(
        client_of(technician), visit, "4.2 mm"
    )


def test_the_words_and_the_ledger_agree_which_side_a_reading_is_on(client_of, technician, visit):
    """Past the limit by less than the gauge tells apart: said so, and still open as outside."""
    said = read_on_the_bench(client_of(technician), visit, "1.5 mm")
    assert "at the limit of 1.6 mm" in said
    assert "on its wrong side by no more than the instrument tells apart" in said
    assert [i for i in store.state(visit).items if i.startswith("outside/tread")] != []


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("1.6", f"1.6 mm measured with ±0.1 mm: at the limit of 1.6 mm ({MANUAL})."),
        ("1,7 mm", "1.7 mm measured with ±0.1 mm: at the limit"),
        ("3", "3 mm measured with ±0.1 mm: within limits."),
        ("1.6 bar", "“1.6 bar” is a pressure, not a length; write for instance 0.1 mm"),
        ("", ""),
    ],
)
def test_the_verdict_is_told_as_one_types_and_nothing_is_written(
    client_of, technician, visit, typed, words
):
    before = len(store.entries(visit))
    address = f"/visits/{visit.pk}/bench/read/tread/"
    answer = client_of(technician).get(address, {"reading-tread-1": typed})
    assert words in answer.content.decode()
    assert bool(answer.content.strip()) == bool(words)
    assert len(store.entries(visit)) == before


@pytest.mark.browser
def test_a_person_sees_the_verdict_before_the_card_is_done(
    page, live_server, sign_in, technician, visit
):
    page.set_viewport_size(SIZES["phone"])
    sign_in(page, technician)
    page.goto(f"{live_server.url}/visits/{visit.pk}/bench/?card={SWAP}")
    page.get_by_label("Depth of tread").press_sequentially("1.6")
    expect(page.get_by_text("measured with ±0.1 mm: at the limit of 1.6 mm")).to_be_visible()
    assert faults(page) == []
