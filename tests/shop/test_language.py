"""What an owner holds is in the owner's language, whole."""

from pathlib import Path

import pytest

from catalogue import catalogues, compiled, missing, read
from tests.shop.marked import marked_catalogue, unmarked, with_marks
from witnessmark.book import archetypes, load_book
from witnessmark.book.translate import texts
from witnessmark.shop import scenario
from witnessmark.shop.models import Member, Visit

DEMO = Path(str(scenario.FILES)) / "books"
BOOKS = [*archetypes().values(), *sorted(DEMO.glob("*.toml"))]


def test_every_text_of_the_papers_is_translated_and_compiled():
    """In every catalogue; the .mo is the .po's, so that nothing has to be compiled where it is installed."""
    paths = list(catalogues())
    assert [path.parts[-3] for path in paths] == ["de"]
    for path in paths:
        assert missing(path) == [], "python scripts/catalogue.py lists them"
        assert path.with_suffix(".mo").read_bytes() == compiled(read(path))


@pytest.mark.parametrize("path", BOOKS, ids=lambda path: path.stem)
def test_every_text_of_a_shipped_book_that_an_owner_reads_is_in_german(path):
    book = load_book(path)
    assert [text for text in texts(book) if text and text not in book.translations["de"]] == []


def test_no_text_escapes_on_the_papers_of_the_demo(
    database, shop_settings, settings, tmp_path, client_of, monkeypatch
):
    """Printed in a language that marks every translated word, the papers have no unmarked one that nobody typed."""
    marked_catalogue(settings, tmp_path / "locale")
    monkeypatch.setattr(scenario, "load_book", lambda path: with_marks(load_book(path)))
    scenario.build()
    client = client_of(Member.objects.filter(role="head").first())
    found = {str(visit): unmarked(client, visit) for visit in Visit.objects.all()}
    assert {visit: words for visit, words in found.items() if words} == {}
    for visit in Visit.objects.filter(entry_rows__kind="plan_taken").distinct():
        assert client.get(f"/visits/{visit.pk}/papers/job-card.pdf").status_code == 200
