"""The figures that cards ask for, in their order; which hold lives; what is the same as another model's."""

from datetime import date
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.book import archetypes, load_book_text, steps
from witnessmark.book.figures import figure_state, figures_in_order, holds_lives
from witnessmark.book.figures_written import with_figures
from witnessmark.book.model import Checked, Confirmed, Figure
from witnessmark.book.same_as import same_as

MODEL = """\
format = 1
name = "{name}"
title = "{maker} {name}"
extends = "{base}"
invented = true

[machine]
maker = "{maker}"
model = "{name}"
"""


def model(name="m1", maker="Orlo", base="shaft_drive_tourer", **figures):
    """A model; each figure with its value and source, where one is given."""
    said = {
        figure: dict(zip(("value", "source"), entries, strict=False))
        for figure, entries in figures.items()
    }
    return load_book_text(with_figures(MODEL.format(name=name, maker=maker, base=base), said))


@cache
def of_archetype(name):
    book = model(base=name)
    return book, book.model_dump(), sorted(steps(book))


def used_by(said, step):
    """The figures a card works by, read from the tables of the book alone."""
    found = [*step["figures"]]
    for fastener in (said["fasteners"][name] for name in step["tightens"]):
        found += [*fastener["stages"], fastener["figure"], fastener["turn"]]
    for fluid, use in step["fluids"].items():
        found += [use["figure"], said["fluids"][fluid]["grade"]]
    found += [said["shims"][name]["target"] for name in step["shims"]]
    for reading in (said["readings"][name] for name in step["readings"]):
        found += [reading["low"], reading["high"]]
    return {one for one in found if one}


@given(st.data())
def test_asked_are_exactly_the_figures_of_the_cards_each_once_in_their_order(data):
    """For any order of any cards of any archetype; a step that the book does not have asks for none."""
    book, said, every = of_archetype(data.draw(st.sampled_from(sorted(archetypes()))))
    order = data.draw(st.lists(st.sampled_from([*every, "own_1/do"]), max_size=30))
    cards = {
        name: used_by(said, step)
        for name in {*order} & {*every}
        for job, _slash, operation in [name.partition("/")]
        for step in [
            said["jobs"][job]["operations"][operation] if operation else said["access"][job]
        ]
    }
    asked = figures_in_order(book, order)
    names = [use.id for use in asked]

    assert len(names) == len(set(names))
    assert set(names) == set().union(*cards.values())
    first = {
        name: next(n for n, card in enumerate(order) if name in cards.get(card, ()))
        for name in names
    }
    assert [first[name] for name in names] == sorted(first.values())
    assert all({*use.where} == {c for c in cards if use.id in cards[c]} for use in asked)


def test_what_is_marked_safety_in_the_book_holds_lives():
    book = model()
    grave = {name for name in book.figures if holds_lives(book, name)}
    assert {
        "wheel_bolts_torque",
        "front_caliper_torque",
        "front_pad_least",
        "brake_fluid_grade",
    } <= grave
    assert grave.isdisjoint({"engine_oil_volume", "service_distance", "battery_age"})


def test_a_confirmation_speaks_of_the_figure_as_it_was():
    seen = Confirmed(by="Nuno", on=date(2026, 1, 31), of="25 N·m ± 10 %")
    one = Figure(
        text="x", quantity="torque", value="25 N·m", tolerance="10 %", source="p. 1", confirmed=seen
    )
    assert one.seen_twice == seen
    assert one.model_copy(update={"tolerance": "5 %"}).seen_twice is None
    assert one.model_copy(update={"value": "26 N·m"}).seen_twice is None


def test_who_and_when_are_written_into_the_text_and_out_of_it():
    me, seen = (
        Checked(by="Mara", on=date(2026, 1, 30)),
        Confirmed(by="Nuno", on=date(2026, 1, 31), of="25 N·m"),
    )
    given_now = {
        "value": "25 N·m",
        "source": "p. 1",
        "entered": me,
        "checked": me,
        "confirmed": seen,
    }
    text = with_figures(MODEL.format(name="m1", maker="Orlo", base="shaft_drive_tourer"),
                        {"oil_plug_torque": given_now})  # fmt: skip
    one = load_book_text(text).figures["oil_plug_torque"]
    assert (one.entered, one.checked, one.seen_twice) == (me, me, seen)
    cleared = with_figures(
        text, {"oil_plug_torque": {"confirmed": None, "entered": None, "photo": ""}}
    )
    one = load_book_text(cleared).figures["oil_plug_torque"]
    assert (one.entered, one.checked, one.confirmed, one.photo) == (None, me, None, None)


# ---------------------------------------------------------------- the same as another

PLUGS = "oil_plug_torque"
THREAD = '\n[fasteners.oil_plug]\nthread = "{}"\n'


def offered(book, *others, figure=PLUGS):
    return [(one.book.name, one.source) for one in same_as(book, figure, others)]


def with_thread(book_text, thread):
    return load_book_text(book_text + THREAD.format(thread))


def text_of_model(name, maker, value=""):
    said = {PLUGS: {"value": value, "source": "manual, page 7"}} if value else {}
    return with_figures(MODEL.format(name=name, maker=maker, base="shaft_drive_tourer"), said)


def test_a_sibling_of_the_maker_is_offered_with_its_source_and_unproven_once_taken():
    book, sibling = (
        model(),
        model("m2", maker="ORLO", oil_plug_torque=("24 N·m", "manual, page 7")),
    )
    assert offered(book, book, sibling) == [("m2", "same as ORLO m2, manual, page 7")]
    taken = Figure(
        text="x", quantity="torque", value="24 N·m", source="same as ORLO m2, manual, page 7"
    )
    assert figure_state(taken) == "unproven"


@pytest.mark.parametrize(
    "given_there",
    [(), ("24 N·m",), ("24 N·m", "from memory"), ("24 N·m", "same as Orlo m3, page 2")],
)
def test_what_nobody_looked_up_there_is_not_offered(given_there):
    figures = {PLUGS: given_there} if given_there else {}
    assert offered(model(), model("m2", **figures)) == []


def test_never_across_different_fasteners():
    """Another thread under the same id is another plug, of the same maker too; of another maker both must say it."""
    said = text_of_model("m2", "Orlo", "24 N·m")
    ours = text_of_model("m1", "Orlo")
    assert offered(with_thread(ours, "M14x1.5"), with_thread(said, "M14x1.5"))
    assert not offered(with_thread(ours, "M14x1.5"), with_thread(said, "M12x1.5"))
    assert not offered(with_thread(ours, "M14x1.5"), load_book_text(said))


def test_of_another_maker_only_what_is_built_of_the_same_block():
    """Both with oil in the sump and the thread of the plug named; another lubrication is another block."""
    said = {"oil_plug_torque": {"value": "24 N·m", "source": "manual, page 7"}}
    thread = '\n[fasteners.oil_plug]\nthread = "M14x1.5"\n'
    ours = MODEL.format(name="m1", maker="Orlo", base="naked_four")
    theirs = with_figures(MODEL.format(name="m2", maker="Brannock", base="naked_four"), said)
    names = load_book_text(ours + thread), load_book_text(theirs + thread)
    assert offered(*names, figure="oil_plug_torque") == [
        ("m2", "same as Brannock m2, manual, page 7")
    ]
    assert not offered(load_book_text(ours), load_book_text(theirs), figure="oil_plug_torque")
    dry = load_book_text(theirs + '\n[build]\nlubrication = "dry_sump"\n' + thread)
    assert not offered(names[0], dry, figure="oil_plug_torque")
