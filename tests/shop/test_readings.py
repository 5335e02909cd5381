"""A reading is judged where it is typed, in words, with its limit and what says so."""

import pytest

from witnessmark.shop import store
from witnessmark.shop.ids import new_id

SWAP = "tyre/swap"
MANUAL = "Brannock T9 workshop manual (invented), page 30"


def read_on_the_bench(client, visit, typed):
    """The page after a tread depth was typed on the card of the tyre."""
    form = {"card": SWAP, "reading-tread-1": typed, "entry_id": str(new_id()), "seen": "{}"}
    return client.post(f"/visits/{visit.pk}/bench/confirm/", form, follow=True).content.decode()


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
    assert "Depth of tread: 4.2" not in read_on_the_bench(client_of(technician), visit, "4.2 mm")


def test_the_words_and_the_ledger_agree_which_side_a_reading_is_on(client_of, technician, visit):
    """Past the limit by less than the gauge tells apart: said so, and still open as outside."""
    said = read_on_the_bench(client_of(technician), visit, "1.5 mm")
    assert "at the limit of 1.6 mm" in said
    assert "on its wrong side by no more than the instrument tells apart" in said
    assert [i for i in store.state(visit).items if i.startswith("outside/tread")] != []
