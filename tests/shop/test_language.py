"""What an owner holds is in the owner's language, whole."""

import re
from pathlib import Path

import pytest

from catalogue import catalogues, compiled, missing, read
from tests.shop.filled import send
from tests.shop.test_arrival import NEW
from witnessmark.book import archetypes, load_book
from witnessmark.book.translate import texts
from witnessmark.shop import scenario
from witnessmark.shop.models import Machine

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


def test_days_and_times_have_one_shape_each_on_pages_and_papers():
    """That of the language; another is written nowhere: `shop/dates.py` for code, plain `date` and `time` in pages."""
    package = Path(str(scenario.FILES)).parent
    allowed = {"DATETIME_FORMAT", "l", "Y-m-d"}  # the day of the week; the last is for addresses
    pages = {file: file.read_text(encoding="utf-8") for file in package.rglob("*.html")}
    code = {file: file.read_text(encoding="utf-8") for file in package.rglob("*.py")}
    assert pages
    assert code
    other = [
        f"{file.name}: {shape}"
        for file, text in pages.items()
        for shape in re.findall(r"\|(?:date|time):[\"']([^\"']*)", text)
        if shape not in allowed
    ]
    other += [
        f"{file.name}: {shape}"
        for file, text in code.items()
        for shape in re.findall(r"strftime|:%[aAbBd][^}]*|\bSHORT_DATE\w+", text)
    ]
    assert other == []
