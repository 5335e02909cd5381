"""Service books in the browser: a new model by its figures sheet only, text with its lines, revisions."""

import tomllib
from datetime import date
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

import witnessmark.demo
from tests.shipped_books.planned import archetype
from tests.shop.filled import faults_of, form_of, send
from witnessmark.book import archetypes, load_book, load_book_text
from witnessmark.book.figures import figure_state, figures_missing
from witnessmark.book.figures_form import figures_sheet
from witnessmark.book.figures_written import with_figures
from witnessmark.book.model import Checked
from witnessmark.shop import content_store, store
from witnessmark.shop.models import BookRevision, StoredBook

TOURER = Path(witnessmark.demo.__file__).parent / "books" / "quandle_t9.toml"
MODEL = {"maker": "Orlo", "model": "200"}
EXAMPLES = {
    "torque": "24 Nm", "volume": "1.2 L", "length": "0.4 mm", "pressure": "2.5 bar",
    "distance": "6000 km", "duration": "12 months", "voltage": "12.5 V", "angle": "90°",
    "temperature": "20 °C", "mass": "200 g", "count": "4",
    "current": "0.8 mA", "charge": "12 Ah", "resistance": "4.5 Ω", "rotation": "1100 rpm", "force": "12 kN",
    "words": "as the manual says",
}  # fmt: skip
LIKE = {
    "runout": "0.4 mm",  # before the disc: of a disc, too
    "slack": "25 mm",
    "fork_oil_gap": "110 mm",
    "tread": "2 mm",
    "chain_wear": "320 mm",
    "disc": "4 mm",
    "compression": "9 bar",
}


def example(name: str, quantity: str) -> str:
    """A value that nothing speaks against."""
    like = LIKE if quantity in ("length", "pressure") else {}
    return next((text for word, text in like.items() if word in name), EXAMPLES[quantity])


@pytest.fixture
def client(technician, client_of):
    return client_of(technician)


@pytest.fixture
def tourer(shop) -> StoredBook:
    return content_store.keep_book(shop, load_book(TOURER), TOURER.read_text())


def now(stored: StoredBook):
    """The book as it stands."""
    stored.refresh_from_db()
    return content_store.book_of(stored.shop, stored.current.sha256)


def test_a_new_model_is_made_from_an_archetype_by_filling_its_figures_sheet_only(client, shop):
    """Every figure is missing at first; filled in with document and page, every one is proven and planned with."""
    send(client, "/books/new/?begin=enduro_single", MODEL)
    stored = StoredBook.objects.get(name="orlo_200")
    book = now(stored)
    assert len(figures_missing(book, book.jobs)) == len(book.figures)

    path = f"/books/{stored.pk}/figures/"
    page = form_of(client.get(path).content.decode(), "document")
    typed = {"document": "Orlo 200 workshop manual (invented)", "by": "Mara"}
    for name, figure in book.figures.items():
        for key in ("value", "low", "high"):
            if page.get(f"{key}-{name}") == "" and not (
                key != "value" and f"value-{name}" in typed
            ):
                typed[f"{key}-{name}"] = example(name, figure.quantity) if key == "value" else ""
        typed[f"source-{name}"] = "p. 12"
        typed[f"checked-{name}"] = "on"
    answer = send(client, path, typed)

    assert faults_of(answer) == []
    assert answer.status_code == 303
    book = now(stored)
    assert {figure_state(figure) for figure in book.figures.values()} == {"proven"}
    torque = book.figures["rear_axle_torque"]
    assert torque.source == "Orlo 200 workshop manual (invented), page 12"
    assert torque.checked is not None
    assert torque.checked.by == "Mara"
    assert load_book_text(stored.text) == book


def test_a_figure_that_cannot_be_is_refused_beside_its_field_and_nothing_is_lost(client, tourer):
    before = tourer.current.sha256
    answer = send(client, f"/books/{tourer.pk}/figures/", {
        "value-wheel_bolts_torque": "12 ml", "source-rear_pad_pin_torque": "page 99"})  # fmt: skip

    page = form_of(answer.content.decode(), "document")
    assert answer.status_code == 422
    assert ["volume, not a torque" in fault for fault in faults_of(answer)] == [True]
    assert (page["value-wheel_bolts_torque"], page["source-rear_pad_pin_torque"]) == (
        "12 ml",
        "page 99",
    )
    tourer.refresh_from_db()
    assert tourer.current.sha256 == before


def test_a_check_speaks_of_the_value_it_was_made_for(client, tourer):
    """A new value under an old tick is compared by whoever keeps it, today; without a tick by nobody."""
    path = f"/books/{tourer.pk}/figures/"
    old = now(tourer).figures["wheel_bolts_torque"].checked
    send(client, path, {"value-wheel_bolts_torque": "62 Nm", "by": "Tomas"})
    checked = now(tourer).figures["wheel_bolts_torque"].checked
    assert (old.by, checked.by, checked.on > old.on) == ("M. Orlan", "Tomas", True)

    send(client, path, {"value-wheel_bolts_torque": "63 Nm", "checked-wheel_bolts_torque": None})
    assert now(tourer).figures["wheel_bolts_torque"].checked is None


def test_two_people_who_fill_in_two_figures_both_keep_theirs(client, tourer, colleague, client_of):
    path = f"/books/{tourer.pk}/figures/"
    other = client_of(colleague)
    first = form_of(client.get(path).content.decode(), "document") | {
        "value-oil_plug_torque": "33 Nm"
    }
    second = form_of(other.get(path).content.decode(), "document") | {
        "value-oil_filter_torque": "12 Nm"
    }

    assert [client.post(path, first).status_code, other.post(path, second).status_code] == [
        303,
        303,
    ]
    figures = now(tourer).figures
    assert (figures["oil_plug_torque"].value, figures["oil_filter_torque"].value) == (
        "33 Nm",
        "12 Nm",
    )


def test_a_visit_keeps_the_revision_it_pinned(client, visit, small_book):
    pinned = small_book.current.sha256
    send(client, f"/books/{small_book.pk}/figures/", {"value-wheel_bolts": "65 N·m"})

    small_book.refresh_from_db()
    assert small_book.current.sha256 != pinned
    assert store.state(visit).book == pinned
    assert store.reading(visit).pinned.figures["wheel_bolts"].value == "60 N·m"
    page = client.get(f"/books/{small_book.pk}/").content.decode()
    assert "keeps the revision it pinned" in page


def test_faults_of_a_text_are_told_with_their_lines_and_the_text_stays(client, tourer):
    text = (
        TOURER.read_text().replace('"60 Nm"', '"60 ml"').replace("[figures]", "[figurs]\n[figures]")
    )
    answer = send(client, f"/books/{tourer.pk}/text/", {"text": text})

    page = answer.content.decode()
    line = next(n for n, row in enumerate(text.splitlines(), 1) if "60 ml" in row)
    assert answer.status_code == 422
    assert f"line {line}: “60 ml” is a volume" in page
    assert "did you mean" in page
    assert form_of(page, "text")["text"].split() == text.split()
    assert BookRevision.objects.count() == 1


def test_a_book_comes_in_as_a_file_and_a_second_of_its_name_only_on_purpose(client, shop):
    def file(text: str) -> SimpleUploadedFile:
        return SimpleUploadedFile("t9.toml", text.encode())

    assert client.post("/books/add/", {"file": file(TOURER.read_text())}).status_code == 303
    again = client.post(
        "/books/add/", {"file": file(TOURER.read_text().replace('"60 Nm"', '"61 Nm"'))}
    )
    assert "is here already" in " ".join(faults_of(again))
    form = form_of(again.content.decode(), "text")
    assert "61 Nm" in form["text"]
    assert client.post("/books/add/", form | {"replace": "on"}).status_code == 303
    assert now(StoredBook.objects.get()).figures["wheel_bolts_torque"].value == "61 Nm"
    assert (
        client.post(
            "/books/add/", {"file": SimpleUploadedFile("x.toml", b"\xff\xfe\x00")}
        ).status_code
        == 422
    )


def test_a_text_changed_by_somebody_else_meanwhile_is_not_written_over_unseen(
    client, tourer, colleague, client_of
):
    path = f"/books/{tourer.pk}/text/"
    mine = form_of(client.get(path).content.decode(), "text")
    send(client_of(colleague), path, {"text": TOURER.read_text().replace('"32 Nm"', '"33 Nm"')})
    answer = client.post(path, mine)

    assert answer.status_code == 422
    assert "changed this book meanwhile" in " ".join(faults_of(answer))
    assert now(tourer).figures["oil_plug_torque"].value == "33 Nm"
    assert client.post(path, form_of(answer.content.decode(), "text")).status_code == 303
    assert now(tourer).figures["oil_plug_torque"].value == "32 Nm"


@pytest.mark.parametrize("base", sorted(archetypes()))
def test_writing_a_figure_changes_that_figure_alone(base):
    """Of every archetype's sheet: comments and all other entries are as before."""
    book = archetype(base)
    text = figures_sheet(book, name="new_model", maker="Orlo", model="200")
    name = next(iter(book.figures))
    written = with_figures(text, {name: {
        "source": "page 4", "tolerance": "10 %", "checked": Checked(by="Mara", on=date(2026, 1, 31))}})  # fmt: skip

    before, after = tomllib.loads(text), tomllib.loads(written)
    assert after["figures"].pop(name) == before["figures"].pop(name) | {
        "source": "page 4", "tolerance": "10 %", "checked": {"by": "Mara", "on": date(2026, 1, 31)}}  # fmt: skip
    assert after == before
    comments = [line for line in text.splitlines() if line.startswith("#")]
    assert [line for line in written.splitlines() if line.startswith("#")] == comments
