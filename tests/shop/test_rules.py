"""Rules of the trade in the browser and on paper: told where they are not kept, and as answered where they are."""

import pytest

from tests.fixtures.shop import SMALL_BOOK
from tests.fixtures.tour import put
from tests.shop.filled import send
from tests.shop.test_papers import take_order, text_of
from witnessmark.book.rules import RULES
from witnessmark.shop import content_store

ANSWER = '\n[answers.cautioned]\nbecause = "the cautions hang on the wall"\nby = "Mara, head of the shop"\n'


@pytest.fixture
def tab(technician, client_of):
    return client_of(technician)


def test_the_page_of_a_book_says_which_rule_it_breaks_on_which_line_and_how_it_was_answered(
    tab, small_book
):
    """As one edits: saved, the page tells what is left."""
    page = tab.get(f"/books/{small_book.pk}/").content.decode()
    assert RULES["cautioned"].holds in page
    lines = SMALL_BOOK.read_text().splitlines()
    line = lines.index("[access.wheel_off]") + 1
    assert f"line:{line} access.wheel_off.cautions" in page
    assert "[answers.cautioned] with because" in page

    send(tab, f"/books/{small_book.pk}/text/", {"text": SMALL_BOOK.read_text() + ANSWER})
    page = tab.get(f"/books/{small_book.pk}/").content.decode()
    assert "Answered by Mara, head of the shop: the cautions hang on the wall" in page
    assert "[answers.cautioned] with because" not in page


def test_the_job_card_prints_what_the_book_answers_for_the_work_on_it(tab, desk, visit):
    book = content_store.book_of(desk.shop, visit.machine.book.current.sha256)
    assert not book.answers
    take_order(desk, visit)
    title = "Where the service book departs from common practice"
    assert title not in text_of(tab, visit, "job-card")

    send(tab, f"/books/{visit.machine.book.pk}/text/", {"text": SMALL_BOOK.read_text() + ANSWER})
    visit.machine.book.refresh_from_db()
    put(desk, visit, ("book_pinned", {"revision": visit.machine.book.current.sha256}))
    take_order(desk, visit)
    text = text_of(tab, visit, "job-card")
    for words in (
        title,
        RULES["cautioned"].holds,
        "the cautions hang on the wall",
        "Mara, head of the shop",
    ):
        assert words in text
