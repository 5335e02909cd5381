"""The figures a visit asks for: one at a time, kept for good, taken over with their source, confirmed by another."""

import re
import tomllib
from io import BytesIO
from itertools import chain, combinations
from typing import get_args
from urllib.parse import quote

import pytest

from tests.fixtures.shop import new_machine
from tests.fixtures.tour import put
from tests.shop.day import Person, form_to, text_of, words
from tests.shop.filled import faults_of
from tests.shop.test_papers import text_of as paper_of
from tests.shop.test_photos import picture
from witnessmark.book import load_book_text
from witnessmark.book.figures import figure_state
from witnessmark.ledger.bodies import FigureSet
from witnessmark.shop import content_store, store
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import StoredBook, Visit
from witnessmark.shop.pages.figures import acts
from witnessmark.shop.scope import Desk
from witnessmark.shop.work.figure_from_manual import figure_set
from witnessmark.shop.work.figures_wanted import figures_wanted
from witnessmark.shop.work.visit import read
from witnessmark.units import UNITS, Quantity, QuantityError

pytestmark = pytest.mark.postgres_long

MODEL = """\
format = 1
name = "orlo_{n}"
title = "Orlo {n}"
extends = "shaft_drive_tourer"
invented = true

[machine]
maker = "Orlo"
model = "{n}"
"""
SAID = '\n[figures.{name}]\nvalue = "{value}"\nsource = "{source}"\n'
VALUES = {  # invented
    "oil_plug_torque": ("2.5", "kgf·m"),
    "oil_filter_torque": ("1.7", "kgf·m"),
    "engine_oil_grade": ("SAE 5W-40", ""),
    "engine_oil_volume": ("4.1", "L"),
    "engine_oil_level_how": ("upright, after a minute", ""),
    "brake_fluid_grade": ("DOT 4", ""),
    "front_caliper_torque": ("3.0", "kgf·m"),
    "front_pad_pin_torque": ("1.8", "kgf·m"),
    "front_pad_least": ("1.5", "mm"),
    "service_distance": ("10000", "km"),
    "service_time": ("12", "months"),
}
MANUAL = {"document": "Workshop manual", "page": "12"}


def kept(shop, n: int, **figures: tuple[str, str]) -> StoredBook:
    """A model of one maker, with these figures and their sources."""
    text = MODEL.format(n=n) + "".join(
        SAID.format(name=name, value=value, source=source)
        for name, (value, source) in figures.items()
    )
    return content_store.keep_book(shop, load_book_text(text), text)


def taken_in(desk: Desk, book: StoredBook, *jobs: str, plate: str = "90-OR-12") -> Visit:
    machine = new_machine(desk.shop, plate, "Ines Calder", book)
    visit = store.open_visit(desk, machine)
    put(desk, visit,
        ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id), "keys": 1}),
        ("book_pinned", {"revision": book.current.sha256}),
        *(("job_taken", {"job": job}) for job in jobs))  # fmt: skip
    return visit


@pytest.fixture
def model(shop) -> StoredBook:
    return kept(shop, 90)


@pytest.fixture
def visit(desk, model) -> Visit:
    """An oil change and front pads, of a model without a single figure."""
    return taken_in(desk, model, "engine_oil", "front_pads")


def at(visit: Visit, figure: str = "", act: str = "") -> str:
    return "/".join(filter(None, (f"/visits/{visit.pk}/figures", figure, act))) + "/"


def typed(person: Person, visit: Visit, figure: str, query: str = "", **fields):
    """One figure typed and sent, as a browser without scripts does."""
    page, to = at(visit, figure), at(visit, figure, "set") + query
    form = form_to(person.client.get(page + query).content.decode(), page, to)
    return person.post(to, form | MANUAL | fields)


def book_now(stored: StoredBook):
    stored.refresh_from_db()
    return content_store.book_of(stored.shop, stored.current.sha256)


# ---------------------------------------------------------------- one after the other


def test_one_after_the_other_and_back_where_it_began(mara, visit, model):
    """Those of the cards, then the intervals; unit and document are there after the first; the last one leads back.

    The model has them for good, and what's due counts the same ones.
    """
    back = f"?back=%2Fvisits%2F{visit.pk}%2Fprice%2F"
    names = [use.id for use in figures_wanted(read(visit))]
    assert sorted(names) == sorted(VALUES)
    page = mara.client.get(at(visit) + back).content.decode()
    assert f'href="{at(visit, names[0])}{back}"' in page
    assert "Figures: 11 of 11 to read in the manual" in page
    assert "11 figures missing" in text_of(mara.client.get(f"/visits/{visit.pk}/needs/"))
    typed_in = set()
    for place, name in enumerate(names, 1):
        value, unit = VALUES[name]
        page = mara.client.get(at(visit, name) + back).content.decode()
        assert f"{place} of 11: " in page
        if place > 1:
            assert 'value="Workshop manual"' in page
        if unit and unit in typed_in:
            assert f'<option value="{unit}" selected>' in page
        typed_in.add(unit)
        answer = typed(mara, visit, name, back, value=value, **({"unit": unit} if unit else {}))
        assert answer.status_code == 303, text_of(answer)
        following = at(visit, names[place]) + back if place < 11 else f"/visits/{visit.pk}/price/"
        assert answer.url == following

    assert [figure_state(book_now(model).figures[name]) for name in names] == ["proven"] * 11
    assert book_now(model).figures["oil_filter_torque"].value == "1.7 kgf·m"
    assert book_now(model).figures["oil_filter_torque"].entered.by == "Mara"
    text = tomllib.loads(model.text)
    assert text["figures"]["engine_oil_volume"]["source"] == "Workshop manual, page 12"
    assert read(visit).state.book != model.current.sha256, "the visit keeps the revision it pinned"
    assert "Figures: all 11 with their source" in text_of(mara.client.get(at(visit)))


def test_what_is_not_at_hand_is_skipped_and_stays_to_come(mara, visit):
    names = [use.id for use in figures_wanted(read(visit))]
    page = mara.client.get(at(visit, names[0])).content.decode()
    assert f'<a class="btn" href="{at(visit, names[1])}">Not at hand now</a>' in page
    last = mara.client.get(at(visit, names[-1])).content.decode()
    assert f'<a class="btn" href="{at(visit)}">Not at hand now</a>' in last
    answer = typed(mara, visit, names[-1], value="12 months")
    assert answer.url == at(visit), "eight are still to come"


def test_a_fluid_of_unknown_volume_asks_for_its_volume_and_not_for_a_price(mara, desk, model):
    visit = taken_in(desk, model, "engine_oil")
    price = f"/visits/{visit.pk}/price/"
    page = mara.client.get(f"{price}?now=1").content.decode()
    assert "Engine oil: not known yet how much goes in" in page
    assert (
        f'href="{at(visit, "engine_oil_volume")}?only=1&amp;back={quote(price, safe="")}"' in page
    )
    typed(mara, visit, "engine_oil_volume", value="4.1", unit="L")
    page = mara.client.get(f"{price}?now=1").content.decode()
    assert "not known yet" not in page
    assert (
        f"/shop/packs/new/?holds={quote('engine oil/engine_oil', safe='').replace('%20', '+')}"
        in page
    )


def test_a_range_is_asked_for_where_the_book_wants_both_ends(mara, desk, shop):
    """Limits of one reading, both ends of one figure: the ends in order, in the unit of the select."""
    both = '\n[readings.front_pads]\nlow = "front_pad_least"\nhigh = "front_pad_least"\n'
    text = MODEL.format(n=70) + both
    book = content_store.keep_book(shop, load_book_text(text), text)
    visit = taken_in(desk, book, "front_pads")
    wrong = typed(mara, visit, "front_pad_least", low="5", high="1.5", unit="mm")
    assert (wrong.status_code, len(faults_of(wrong))) == (422, 1)
    assert typed(mara, visit, "front_pad_least", low="1.5", high="5", unit="mm").status_code == 303
    assert read(visit).book.figures["front_pad_least"].written == "1.5 mm to 5 mm"
    assert book_now(book).figures["front_pad_least"].low == "1.5 mm"


def test_one_end_of_a_range_is_told_at_the_other_and_one_value_alone_is_taken(mara, desk, shop):
    both = '\n[readings.front_pads]\nlow = "front_pad_least"\nhigh = "front_pad_least"\n'
    text = MODEL.format(n=71) + both
    book = content_store.keep_book(shop, load_book_text(text), text)
    visit = taken_in(desk, book, "front_pads")
    answer = typed(mara, visit, "front_pad_least", low="1.5", high="", unit="mm")
    assert (answer.status_code, len(faults_of(answer))) == (422, 1)
    assert 'value="1.5"' in answer.content.decode()
    assert typed(mara, visit, "front_pad_least", value="1.5", unit="mm").status_code == 303
    assert read(visit).book.figures["front_pad_least"].written == "1.5 mm"


@pytest.mark.parametrize("quantity", get_args(Quantity))
def test_of_every_quantity_whatever_is_left_empty_is_told_or_an_entry(quantity):
    about = f'[figures.it]\ntext = "It"\nquantity = "{quantity}"\n'
    book = load_book_text(MODEL.format(n=72) + "\n" + about)
    unit = next(iter(UNITS[quantity]), "")
    keys, told = ("value", "low", "high", "tolerance"), []
    for given in chain.from_iterable(combinations(keys, n) for n in range(1, 5)):
        every = dict.fromkeys(given, f"2 {unit}".strip())
        try:
            _kind, body = figure_set(book, "it", every, "Manual", vouched="so it is")
        except QuantityError as error:
            told.append(error.place)
        else:
            FigureSet.model_validate(body)
    assert {*told} <= {*keys}
    assert {"low", "high"} <= {*told}


# ---------------------------------------------------------------- what is typed wrong


def test_from_a_page_that_broke_a_link_leads_to_one_that_opens(mara, visit, monkeypatch):
    """Sent from a form that came back with a fault: its address takes no GET."""

    def broken(*_args: object) -> None:
        raise RuntimeError

    monkeypatch.setattr(acts, "onward", broken)
    mara.client.raise_request_exception = False
    to = at(visit, "oil_plug_torque", "set")
    form = mara.form(at(visit, "oil_plug_torque"), to)
    fields = form | MANUAL | {"value": "25", "unit": "N·m"}
    answer = mara.client.post(to, fields, headers={"referer": f"http://testserver{to}?only=1"})
    assert answer.status_code == 500
    assert f'href="{at(visit, "oil_plug_torque")}?only=1"' in answer.content.decode()


def test_a_value_that_looks_wrong_is_told_before_it_is_kept_and_kept_on_ones_word(
    mara, visit, model
):
    """4.1 L typed as 41: the slip is named, what was typed and the photo stay; vouched for, the word stays with it."""
    photo = picture(40, 30)
    photo.name = "page.jpg"
    answer = typed(mara, visit, "engine_oil_volume", value="41", unit="L", photo=photo)
    said = answer.content.decode()
    assert answer.status_code == 422
    assert "far too high" in said
    assert 'value="41"' in said
    assert "The photo of the page is kept" in said
    assert not read(visit).state.figures

    to = at(visit, "engine_oil_volume", "set")
    again = form_to(said, at(visit, "engine_oil_volume"), to)
    assert mara.post(to, again | {"vouched": "a tanker"}).status_code == 303
    figure = book_now(model).figures["engine_oil_volume"]
    assert (figure.value, figure.vouched, len(figure.photo)) == ("41 L", "a tanker", 64)


@pytest.mark.parametrize(
    ("fields", "fault"),
    [
        ({"value": ""}, "Write what the manual says"),
        ({"value": "25 bar"}, "torque"),
        ({"value": "much"}, "number"),
        ({"value": "25", "document": ""}, "Write it here"),
        ({"value": "25", "tolerance": "lots"}, "number"),
        ({"value": "25", "unit": "furlong"}, "furlong"),
    ],
)
def test_what_is_no_figure_is_refused_beside_its_field_and_stays_typed(mara, visit, fields, fault):
    answer = typed(mara, visit, "oil_plug_torque", **{"unit": "N·m"} | fields)
    assert answer.status_code == 422
    assert any(fault in one for one in faults_of(answer)), faults_of(answer)
    assert f'value="{fields["value"]}"' in answer.content.decode() or not fields["value"]
    assert not read(visit).state.figures


def test_a_file_that_is_no_photo_is_refused_and_the_value_stays(mara, visit):
    text = BytesIO(b"no picture")
    text.name = "page.jpg"
    answer = typed(mara, visit, "oil_plug_torque", value="25", photo=text)
    assert answer.status_code == 422
    assert 'value="25"' in answer.content.decode()
    assert not read(visit).state.figures


# ---------------------------------------------------------------- twice, late, by another


def test_sent_twice_counts_once(mara, visit):
    first = typed(mara, visit, "oil_plug_torque", value="25")
    again = mara.client.post(mara.sent[0].path, mara.sent[0].fields)
    assert (again.status_code, again.url) == (303, first.url)
    assert [e.kind for e in read(visit).entries].count("figure_set") == 1


def test_what_somebody_else_entered_meanwhile_is_shown_and_not_overwritten(
    mara, nuno, visit, model
):
    page, to = at(visit, "oil_plug_torque"), at(visit, "oil_plug_torque", "set")
    old = mara.form(page, to) | MANUAL | {"value": "27"}
    typed(nuno, visit, "oil_plug_torque", value="25")
    answer = mara.post(to, old)
    assert answer.status_code == 409
    assert "25 N·m" in text_of(answer)
    assert read(visit).book.figures["oil_plug_torque"].value == "25 N·m"
    assert book_now(model).figures["oil_plug_torque"].value == "25 N·m"


def test_a_helper_sees_the_figures_and_enters_none(visit, helper, client_of):
    client = client_of(helper)
    page = client.get(at(visit, "oil_plug_torque"))
    assert "A technician enters figures." in text_of(page)
    assert 'name="value"' not in page.content.decode()
    assert client.post(at(visit, "oil_plug_torque", "set"), {"value": "25"}).status_code == 403


def test_after_hand_back_the_visit_takes_none_and_says_where(mara, desk, visit):
    put(desk, visit, ("returned", {"keys": 1, "fobs": 0, "ridden_away": True, "text": ""}))
    page = mara.client.get(at(visit, "oil_plug_torque"))
    assert "The machine was handed back." in text_of(page)
    assert "figures/oil_plug_torque/set" not in page.content.decode()
    ticket = {"entry_id": str(new_id()), "seen": store.write_seen(store.heads(visit))}
    answer = mara.client.post(
        at(visit, "oil_plug_torque", "set"), ticket | MANUAL | {"value": "25"}
    )
    assert answer.status_code == 422
    assert "Write it into the service book" in text_of(answer)
    assert not read(visit).state.figures


def test_no_book_no_jobs_no_figures_and_no_such_figure_each_have_words_and_a_way_on(
    mara, desk, shop, model
):
    nothing = taken_in(desk, model)
    page = mara.client.get(at(nothing))
    assert "Nothing is booked yet." in text_of(page)
    assert f'class="act" href="/visits/{nothing.pk}/needs/"' in page.content.decode()
    ride = taken_in(desk, model, "ride_after", plate="91-OR-12")
    assert "These jobs ask for no figure." in text_of(mara.client.get(at(ride)))
    machine = new_machine(shop, "92-OR-12", "Ines Calder")
    bookless = store.open_visit(desk, machine)
    put(
        desk,
        bookless,
        ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id), "keys": 1}),
    )
    assert "No service book is pinned" in text_of(mara.client.get(at(bookless)))
    assert mara.client.get(at(nothing, "no_such_figure")).status_code == 404


# ---------------------------------------------------------------- for good, and the same as another


def test_the_book_keeps_a_source_it_got_elsewhere_meanwhile_and_that_is_offered(
    mara, desk, shop, visit
):
    """Another visit of the model typed it first: here it is offered; another value is this visit's alone."""
    other = taken_in(desk, StoredBook.objects.get(name="orlo_90"), "engine_oil", plate="93-OR-12")
    typed(mara, other, "oil_plug_torque", value="25")
    page = mara.client.get(at(visit, "oil_plug_torque")).content.decode()
    assert "Same as Orlo 90: 25 N·m" in page

    answer = typed(mara, visit, "oil_plug_torque", value="27")
    assert "For this visit alone: the service book has 25 N·m" in words(answer)[0]
    assert read(visit).book.figures["oil_plug_torque"].value == "27 N·m"
    assert (
        book_now(StoredBook.objects.get(name="orlo_90")).figures["oil_plug_torque"].value
        == "25 N·m"
    )


def test_a_slip_taken_back_is_taken_out_of_the_book_too(mara, visit, model):
    """What this visit typed before stands again; then nothing, as when it came in; typed again it is kept."""
    bench = f"/visits/{visit.pk}/bench/"

    def in_book() -> str | None:
        return book_now(model).figures["oil_plug_torque"].value

    for value in ("25", "52"):
        typed(mara, visit, "oil_plug_torque", value=value)
    for left in ("25 N·m", None):
        mara.do(bench, f"{bench}undo/")
        assert in_book() == left
    assert book_now(model).figures["oil_plug_torque"].entered is None
    typed(mara, visit, "oil_plug_torque", value="25")
    assert in_book() == "25 N·m"


def test_a_confirmation_taken_back_is_taken_out_of_the_book_too(mara, nuno, visit, model):
    name, bench = "front_caliper_torque", f"/visits/{visit.pk}/bench/"
    typed(mara, visit, name, value="30")
    nuno.do(at(visit, name), at(visit, name, "confirm"))
    nuno.do(bench, f"{bench}undo/")
    assert book_now(model).figures[name].seen_twice is None
    assert "Not confirmed yet" in text_of(mara.client.get(at(visit, name)))


def test_the_same_as_another_model_is_copied_with_its_source_and_unproven(mara, shop, visit, model):
    kept(shop, 80, oil_plug_torque=("24 N·m", "Manual of the 80, page 7"))
    kept(shop, 60, oil_plug_torque=("23 N·m", "from memory"))  # nothing to look up
    page, to = at(visit, "oil_plug_torque"), at(visit, "oil_plug_torque", "same")
    shown = mara.client.get(page)
    assert "Same as Orlo 80: 24 N·m Manual of the 80, page 7" in text_of(shown)
    assert "Orlo 60" not in text_of(shown)
    names = [use.id for use in figures_wanted(read(visit))]
    answer = mara.do(page, to, **{"from": StoredBook.objects.get(name="orlo_80").current.sha256})
    assert answer.url == at(visit, names[names.index("oil_plug_torque") + 1])
    for figure in (read(visit).book, book_now(model)):
        one = figure.figures["oil_plug_torque"]
        assert (one.value, one.source) == ("24 N·m", "same as Orlo 80, Manual of the 80, page 7")
        assert figure_state(one) == "unproven"
    assert "Unproven: same as Orlo 80" in text_of(mara.client.get(at(visit)))

    typed(mara, visit, "oil_plug_torque", value="24")  # looked up
    assert figure_state(book_now(model).figures["oil_plug_torque"]) == "proven"


def test_an_offer_of_a_book_changed_meanwhile_is_not_taken(mara, shop, visit):
    kept(shop, 80, oil_plug_torque=("24 N·m", "Manual of the 80, page 7"))
    page, to = at(visit, "oil_plug_torque"), at(visit, "oil_plug_torque", "same")
    form = mara.form(page, to) | {"from": StoredBook.objects.get(name="orlo_80").current.sha256}
    kept(shop, 80, oil_plug_torque=("34 N·m", "Manual of the 80, page 8"))
    answer = mara.post(to, form)
    assert answer.status_code == 422
    assert "that book was changed" in text_of(answer)
    assert not read(visit).state.figures


# ---------------------------------------------------------------- a second pair of eyes


def test_who_typed_a_figure_may_not_confirm_it_and_a_changed_one_is_confirmed_anew(
    mara, nuno, visit, model
):
    """Calipers hold lives; oil does not. The name stays with the value, in book and record."""
    name = "front_caliper_torque"
    page, to = at(visit, name), at(visit, name, "confirm")
    typed(mara, visit, name, value="30")
    assert f'action="{to}"' not in mara.client.get(page).content.decode()
    form = nuno.form(page, to)
    assert "Typed by Mara." in text_of(nuno.client.get(page))
    refused = mara.post(to, form)
    assert (refused.status_code, "You typed it yourself" in text_of(refused)) == (422, True)

    nuno.do(page, to)
    assert "Confirmed by Nuno" in text_of(mara.client.get(page))
    kept_in = book_now(model).figures[name]
    assert (kept_in.seen_twice.by, kept_in.seen_twice.of) == ("Nuno", "30 N·m")
    record = paper_of(nuno.client, visit, "service-record")
    assert re.search(
        r"Front caliper bolts: 30\sN·m, Workshop manual, page 12; confirmed by Nuno", record
    )

    typed(mara, visit, name, value="33")
    assert book_now(model).figures[name].seen_twice is None
    assert read(visit).state.figures_seen_twice == {}
    assert "Not confirmed yet" in text_of(mara.client.get(page))
    stale = nuno.post(to, form | {"entry_id": str(new_id())})
    assert stale.status_code == 422
    assert "It was changed meanwhile" in text_of(stale)


def test_another_visit_has_the_confirmation_and_the_typist_is_known_from_the_book(
    mara, nuno, desk, visit, model, shop
):
    name = "front_caliper_torque"
    typed(mara, visit, name, value="30")
    model.refresh_from_db()
    later = taken_in(desk, model, "front_pads", plate="94-OR-12")
    assert "Not confirmed yet" in text_of(mara.client.get(at(later, name)))
    nuno.do(at(later, name), at(later, name, "confirm"))
    model.refresh_from_db()
    last = taken_in(desk, model, "front_pads", plate="95-OR-12")
    assert "Confirmed by Nuno" in text_of(mara.client.get(at(last, name)))
    assert "confirmed by Nuno" in text_of(mara.client.get(f"/books/{model.pk}/"))


# ---------------------------------------------------------------- the photo


def test_the_photo_of_the_page_is_shown_beside_the_figure_in_visit_and_book(mara, visit, model):
    photo = picture(40, 30)
    photo.name = "page.jpg"
    typed(mara, visit, "oil_plug_torque", value="25", photo=photo)
    for page in (at(visit, "oil_plug_torque"), f"/books/{model.pk}/"):
        shown = mara.client.get(page).content.decode()
        (address,) = {
            part.split('"')[0] for part in shown.split('href="') if part.startswith("/photos/")
        }
        answer = mara.client.get(address)
        assert answer.status_code == 200
        assert b"".join(answer.streaming_content).startswith(b"\xff\xd8"), "a JPEG"
    assert [e.kind for e in read(visit).entries][-2:] == ["figure_set", "photo"]
    assert "photo of the page kept" in paper_of(mara.client, visit, "service-record")
    typed(mara, visit, "oil_plug_torque", value="27")
    assert "/photos/" not in mara.client.get(f"/books/{model.pk}/").content.decode(), (
        "of another value"
    )
