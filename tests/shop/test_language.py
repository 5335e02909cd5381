"""What an owner holds is in the owner's language, whole."""

from io import BytesIO
from pathlib import Path

import pypdf
import pytest

from catalogue import catalogues, compiled, missing, read
from tests.shop.filled import send
from tests.shop.marked import marked_catalogue, unmarked, with_marks
from tests.shop.test_arrival import NEW
from witnessmark.book import archetypes, load_book
from witnessmark.book.translate import texts
from witnessmark.shop import scenario
from witnessmark.shop.models import Machine, Member, Visit

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
    client.cookies["units"] = "us"
    for visit in Visit.objects.all():
        assert pages(client, visit, "service-record") <= 2, (
            "both units, and the longer words of the marks' kind"
        )
        planned = visit.entry_rows.filter(kind="plan_taken").exists()
        assert bool(pages(client, visit, "job-card")) == planned


def test_the_language_of_papers_is_chosen_at_the_door_and_on_the_owners_page(
    technician, client_of, shop
):
    """English unless it is chosen."""
    client = client_of(technician)
    for plate, language, kept in (("1", "de", "de"), ("2", None, "en")):
        came = NEW | {
            "machine-plate": plate,
            "machine-identification": "",
            "owner-language": language,
            "odometer": "32000",
        }
        assert send(client, "/arrive/?book=none", came, to="/arrive/").status_code == 303
        owner = Machine.objects.get(plate=plate).owner
        assert owner.language == kept
    assert send(client, f"/owners/{owner.pk}/edit/", {"language": "de"}).status_code == 303
    owner.refresh_from_db()
    assert owner.language == "de"


def pages(client, visit, slug: str) -> int:
    """How many pages a paper has; none where there is no such paper."""
    answer = client.get(f"/visits/{visit.pk}/papers/{slug}.pdf")
    return len(pypdf.PdfReader(BytesIO(answer.content)).pages) if answer.status_code == 200 else 0
