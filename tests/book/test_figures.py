"""What a figure is worth, what it allows, who uses it, and the sheet on which it is filled in."""

import re
import tomllib

import pytest

from witnessmark.book import BookErrors, load_book, load_book_text, selection
from witnessmark.book.figures import (
    figure_state,
    figures_missing,
    figures_unproven,
    figures_used,
    limits,
    verdict,
)
from witnessmark.book.figures_form import figures_sheet
from witnessmark.book.model import Figure


def figure(quantity="torque", **entries):
    return Figure(text="Under test", quantity=quantity, **entries)


@pytest.mark.parametrize(
    ("entries", "state"),
    [
        ({}, "missing"),
        ({"source": "page 3"}, "missing"),
        ({"value": "20 Nm"}, "unproven"),
        ({"low": "18 Nm"}, "unproven"),
        ({"value": "20 Nm", "source": " "}, "unproven"),
        ({"value": "20 Nm", "source": "page 3"}, "proven"),
        ({"low": "18 Nm", "high": "22 Nm", "source": "page 3"}, "proven"),
    ],
)
def test_a_figure_is_missing_unproven_or_proven(entries, state):
    assert figure_state(figure(**entries)) == state


def test_pound_feet_are_not_newton_metres():
    """12 lbf·ft is 12 x 4.4482216152605 N x 0.3048 m (NIST SP 811 appendix B.8, exact factors)."""
    assert figure(value="12 Nm").in_base("value") == 12
    assert figure(value="12 lbf·ft").in_base("value") == pytest.approx(
        12 * 4.4482216152605 * 0.3048
    )
    assert figure(low="12 Nm", high="13 Nm").in_base("value") is None


def test_a_figure_set_anew_is_read_anew():
    told = figure(value="12 Nm", tolerance="10 %")
    assert told.bounds == pytest.approx((10.8, 13.2))
    assert told.model_copy(update={"value": "20 Nm"}).bounds == pytest.approx((18, 22))


BOUNDED = """
format = 1
name = "bounded"
title = "Bounded"
archetype = true
[figures.f]
text = "F"
quantity = "{quantity}"
{entries}
[readings.both]
text = "Both"
quantity = "{quantity}"
low = "f"
high = "f"
[readings.least]
text = "Least"
quantity = "{quantity}"
low = "f"
"""


@pytest.mark.parametrize(
    ("quantity", "entries", "both", "least"),
    [
        ("length", 'low = "30 mm"\nhigh = "4 cm"', (30, 40), (30, None)),
        ("length", 'value = "1.5 mm"', (1.5, 1.5), (1.5, None)),
        ("length", 'value = "35 mm"\ntolerance = "5 mm"', (30, 40), (30, None)),
        ("torque", 'value = "20 Nm"\ntolerance = "10 %"', (18, 22), (18, None)),
        ("length", 'value = "35 mm"\nlow = "30 mm"\nhigh = "40 mm"', (30, 40), (30, None)),
        ("temperature", 'value = "90 °C"\ntolerance = "9 °F"', (85, 95), (85, None)),
        ("length", "", (None, None), (None, None)),
    ],
)
def test_limits_are_the_ends_of_the_figures_that_bound_a_reading(quantity, entries, both, least):
    book = load_book_text(BOUNDED.format(quantity=quantity, entries=entries))
    assert tuple(limits(book, "both")) == pytest.approx(both)
    assert tuple(limits(book, book.readings["least"])) == pytest.approx(least)


def test_near_a_limit_is_what_the_instrument_of_the_reading_cannot_tell_apart():
    book = load_book_text(
        'format = 1\nname = "mine"\ntitle = "Mine"\nextends = "naked_four"\n[machine]\nmaker = "M"\nmodel = "1"\n'
        '[figures]\nfront_pad_least = { value = "1.5 mm", source = "p. 1" }\n'
        '[readings.front_pads]\nerror = "0.2 mm"\n'
    )
    said = [verdict(book, "front_pads", value).words for value in (1.7, 1.9)]
    assert said == [
        "1.7 mm measured with ±0.3 mm: at the limit of 1.5 mm (p. 1)",
        "1.9 mm measured with ±0.3 mm: within limits",
    ]


def test_figures_are_used_through_access_steps_intervals_fluids_and_limits(shaft):
    """The oil job takes the wheel off and on, so it rests on the torque of the wheel bolts."""
    used = {use.id: use.where for use in figures_used(shaft, ["final_drive_oil"])}
    assert used == {
        "drive_oil_distance": ("final_drive_oil",),
        "drive_oil_grade": ("final_drive_oil/fill",),
        "drive_oil_time": ("final_drive_oil",),
        "drive_oil_volume": ("final_drive_oil/fill",),
        "fill_plug_torque": ("final_drive_oil/fill",),
        "wheel_bolt_torque": ("wheel_on",),
    }
    assert [use.id for use in figures_used(shaft, ["ride"])] == []
    assert {use.id for use in figures_used(shaft, ["rear_tyre", "ride"])} == {
        "tread_least",
        "wheel_bolt_torque",
    }


def test_missing_and_unproven_are_told_apart(t9):
    jobs = selection(t9, ["annual"])
    missing = [use.id for use in figures_missing(t9, jobs)]
    assert missing == ["drive_oil_distance", "drive_oil_grade", "drive_oil_time"]
    assert [use.id for use in figures_unproven(t9, jobs)] == ["fill_plug_torque"]


FILL = {
    "torque": "20 Nm", "volume": "180 ml", "words": "SAE 80W-90", "distance": "10000 km",
    "duration": "24 months", "length": "1.5 mm", "pressure": "2.5 bar", "voltage": "12.6 V",
    "angle": "90°", "temperature": "90 °C", "mass": "10 g", "count": "2",
    "current": "0.8 mA", "charge": "12 Ah", "resistance": "4.5 Ω", "rotation": "1100 rpm", "force": "12 kN",
}  # fmt: skip


def _filled_in(sheet, book):
    """The sheet as somebody fills it in: only what stands between quotes is written."""
    head, *sections = sheet.split("\n[figures.")
    for place, section in enumerate(sections):
        name = section.partition("]")[0]
        written = re.sub(
            r'(value|low|high) = ""', rf'\1 = "{FILL[book.figures[name].quantity]}"', section
        )
        sections[place] = written.replace('source = ""', 'source = "Manual, page 1"')
    return "\n[figures.".join([head, *sections])


def test_a_model_is_made_by_filling_in_its_sheet_alone(chain):
    """Every figure that its base lacks stands on the sheet once; filled in, nothing is missing."""
    base = load_book(chain / "shaft.toml")
    sheet = figures_sheet(base, extends="shaft.toml", name="t10", maker="M", model='"10"')
    assert set(tomllib.loads(sheet)["figures"]) == set(base.figures)
    (chain / "t10.toml").write_text(_filled_in(sheet, base))
    book = load_book(chain / "t10.toml")
    assert {figure_state(f) for f in book.figures.values()} == {"proven"}
    assert (book.name, book.title, book.archetype) == ("t10", 'M "10"', False)


def test_a_sheet_not_yet_filled_in_is_told_what_to_fill_in_first(chain):
    """Figures may stay empty; who made the machine may not."""
    (chain / "new.toml").write_text(
        figures_sheet(load_book(chain / "shaft.toml"), extends="shaft.toml")
    )
    with pytest.raises(BookErrors) as caught:
        load_book(chain / "new.toml")
    fields = [error.place.partition(" ")[2] for error in caught.value.errors]
    assert fields == ["title", "machine.maker", "machine.model"]


def test_a_sheet_shows_figures_the_base_already_has_as_comments(chain):
    sheet = figures_sheet(load_book(chain / "t9.toml"), extends="t9.toml")
    assert '[figures.drive_oil_volume]\n# value = "180 ml"\n# source = "' in sheet
    assert tomllib.loads(sheet)["figures"]["drive_oil_volume"] == {}
