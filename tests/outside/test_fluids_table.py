"""Fluids against published limits, grades, curves and worked sums.

`data/fluids.csv` names the source of each row and how it was come by: S a text was read, L computed
or confirmed with a general library, M from memory. A row with M alone says so in its test's name.
Rows of kind `known_error` are published mistakes, `superseded` figures of an older edition: ours
must give neither.
"""

import re

import pytest

from tests.outside.tables import is_as_printed, rows_of
from witnessmark.fluids import (
    FluidError,
    brake,
    clutch,
    coolant,
    grades,
    mixing,
    viscosity,
)
from witnessmark.units import convert, read

ROWS = rows_of("fluids")


def key(row):
    return " | ".join(
        row[name] for name in ("kind", "item", "condition", "quantity", "value") if row[name]
    )


BY_MASS = "by mass: bottles are mixed by volume, and nothing of ours takes a mass"
NO_BASIS = (
    "its maker's coolant, basis not stated: 28.4 % at −10 °C is no mix of glycol and water alone"
)
NOT_FORECAST = "how fast fluid takes up water is not forecast: the sources contradict each other"
OIL_LIMITS = "what a fresh oil must pass in its maker's laboratory decides nothing here"
GREASE = "grease is chosen by name: no grade of it is worked out"
IN_SERVICE = "how hot brake fluid gets in use decides nothing here"
LEFT_OUT = {
    **{key(r): BY_MASS for r in ROWS if r["kind"] == "glycol_freeze" and "by mass" in r["condition"]},
    **{
        key(r): NO_BASIS
        for r in ROWS
        if "basis not stated" in r["condition"] and float(r["condition"].split()[0]) <= 60
    },
    **{key(r): NOT_FORECAST for r in ROWS if r["kind"] == "water_uptake" and r["item"] != "fluid age as predictor"},
    **{key(r): IN_SERVICE for r in ROWS if r["kind"] == "temperature"},
    **{key(r): OIL_LIMITS for r in ROWS if r["kind"] == "engine_oil_limit"},
    **{key(r): GREASE for r in ROWS if r["kind"] == "grease_grade" or "NLGI" in r["item"]},
}  # fmt: skip
TESTED = [row for row in ROWS if key(row) not in LEFT_OUT]


def test_every_row_is_tested_or_left_out_for_a_reason():
    assert len({key(row) for row in ROWS}) == len(ROWS)
    assert (len(ROWS), len(TESTED), len(LEFT_OUT)) == (251, 213, 38)


@pytest.mark.parametrize(
    "row", TESTED, ids=lambda row: key(row) + (" (from memory)" if row["how"] == "M" else "")
)
def test_ours_agrees_with_the_row(row):
    TESTERS[row["kind"]](row)


# ---------------------------------------------------------------- how each kind is held against ours


def brake_fluid_limit(row):
    limits = brake.CLASSES[row["item"]]
    if row["quantity"] == "pH":
        assert (float(row["value"]), float(row["value_max"])) == brake.PH
    elif row["quantity"] == "ERBP":
        ours = limits.dry_c if "dry" in row["condition"] else limits.wet_c
        assert is_as_printed(
            row, ours if row["unit"] == "degC" else convert(ours, "temperature", "°F")
        )
    else:
        cold = "-40" in row["condition"]
        assert float(row["value"]) == (limits.most_at_minus_40 if cold else limits.least_at_100)


def water_vs_boiling(row):
    """One of the two published curves each; ours gives the range of both."""
    found = brake.boils_at(float(row["condition"].split()[0]))
    ours = (found.low_c, found.high_c)
    assert min(abs(float(row["value"]) - end) for end in ours) < 1e-9


def water_uptake(row):
    """No forecast by age, and the page says so."""
    assert row["value"] == "no"
    assert "Age alone predicts little" in brake.AGE_SAYS_LITTLE


def engine_oil_grade(row):
    name, value = row["item"].partition(" ")[0], float(row["value"])
    if name.endswith("W"):
        cold = grades.J300_COLD[name]
        if row["quantity"] == "kinematic_viscosity":
            assert value == cold.least_100
        else:
            limit = cold.cranking if "cranking" in row["condition"] else cold.pumping
            at = int(re.search(r"at (-\d+) degC", row["condition"])[1])
            assert limit == (at, value)
    elif row["quantity"] == "dynamic_viscosity":
        before = re.search(r"\((\d+W)", row["item"])
        grade = grades.Grade("SAE J300", before[1] if before else "", name)
        assert grade.hths == value
    else:
        assert grades.Grade("SAE J300", "", name).range_100 == (value, float(row["value_max"]))
        edges(row, "SAE J300", name)


def gear_oil_grade(row):
    name, value = row["item"], float(row["value"])
    if row["quantity"] == "temperature":
        assert grades.J306_COLD[name].warmest_150_000 == value
    elif name.endswith("W"):
        assert grades.J306_COLD[name].least_100 == value
    else:
        most = float(row["value_max"]) if row["value_max"] else None
        assert grades.Grade("SAE J306", "", name).range_100 == (value, most)
        edges(row, "SAE J306", name)


def edges(row, standard, name):
    """The lower limit belongs to the grade, the upper does not."""
    grade = grades.Grade(standard, "", name)
    assert grade in grades.grade_of(float(row["value"]))
    if row["value_max"]:
        assert grade not in grades.grade_of(float(row["value_max"]))


def clutch_index(row):
    if row["quantity"] == "rule":
        mixed = clutch.classify(1.9, 1.5, 1.9)
        assert mixed == "MA"
    elif row["quantity"] == "class":
        indices = [
            float(number) for number in re.findall(r"[DSF]?[FT]I (\d\.\d+)", row["condition"])
        ]
        assert clutch.classify(*indices) == row["value"]
    else:
        band = clutch.BANDS[row["item"]][clutch.INDICES.index(row["quantity"])]
        assert (band.least, band.most) == (float(row["value"]), float(row["value_max"]))
        assert band.holds(band.most) is ("at most" in row["condition"])


def iso_vg(row):
    """The item is the grade's name: the midpoint as a whole number."""
    named = float(row["item"].removeprefix("VG "))
    midpoint = next(mid for mid in viscosity.ISO_VG if round(mid) == named)
    if row["value_max"]:
        ends = float(row["value"]), float(row["value_max"])
        assert viscosity.iso_range(midpoint) == ends
        assert [viscosity.iso_grade(end) for end in ends] == [midpoint, midpoint]
        assert viscosity.iso_grade(ends[1] * 1.001) is None
    else:
        assert midpoint == float(row["value"])


def viscosity_index(row):
    at_40, at_100 = (float(x) for x in re.findall(r"v\d+ ([\d.]+)", row["item"]))
    assert round(viscosity.viscosity_index(at_40, at_100)) == int(row["value"])


def viscosity_temperature(row):
    """A and B of the printed sheet rest on 273, ours on 273.15; the note gives them recomputed so."""
    if row["item"].startswith("v 32"):
        line = viscosity.walther((40, 32.0), (100, 5.4))
        if row["quantity"] == "kinematic_viscosity":
            assert is_as_printed(row, line.at(80))
        else:
            recomputed = float(re.search(r"273\.15 it is ([\d.]+)", row["note"])[1])
            assert {"A": line.a, "B": line.b}[row["quantity"]] == pytest.approx(
                recomputed, abs=5e-7
            )
        return
    at_40, at_100 = (float(x) for x in re.findall(r"v\d+ ([\d.]+)", row["item"]))
    at = float(re.search(r"at (\d+) degC", row["condition"])[1])
    assert is_as_printed(row, viscosity.walther((40, at_40), (100, at_100)).at(at))


def thermal_expansion(row):
    if row["quantity"] == "volume_increase":
        volume, warmer = (float(x) for x in re.findall(r"[\d.]+", row["item"]))
        assert is_as_printed(row, mixing.expansion_ml(volume * 1000, warmer) / 1000)
    elif row["value_max"]:
        assert (float(row["value"]), float(row["value_max"])) == mixing.OIL_PER_KELVIN_RANGE
    else:
        assert float(row["value"]) == mixing.OIL_PER_KELVIN


def trapped_oil(row):
    """90 psi per °F, says the page's text: 11 bar per °C, as printed."""
    assert mixing.trapped_rise_bar(1) == float(row["value"])
    assert 90 * 1.8 * read("1 psi", "pressure").value / 100 == pytest.approx(11, abs=0.5)


def glycol_freeze(row):
    """Lange's digits are ours; CoolProp fits the tables we have from memory, to 0.3 K."""
    percent = float(row["condition"].split()[0])
    if percent > coolant.MOST_PERCENT:  # past the end of the tables kept, nothing is said
        with pytest.raises(FluidError):
            coolant.freeze_point(row["item"], percent)
        return
    by = dict(coolant.freeze_point(row["item"], percent).by)
    if row["source"].startswith("Lange"):
        assert by["Lange's Handbook"] == float(row["value"])
    else:
        assert by["the ASHRAE Handbook"] == pytest.approx(float(row["value"]), abs=0.3)


# Freezing points by volume every 5 %, computed with CoolProp 8.0.0, incompressible fluids AEG and APG.
COOLPROP = {
    "ethylene glycol": (-3.62, -6.15, -8.98, -12.12, -15.70, -19.88, -24.80, -30.54, -37.11, -44.37, -52.02),
    "propylene glycol": (-3.43, -5.25, -7.38, -9.97, -13.11, -16.91, -21.51, -27.03, -33.66, -41.59, -51.06),
}  # fmt: skip


@pytest.mark.parametrize("glycol", COOLPROP)
def test_between_two_rows_it_never_promises_more_than_a_library(glycol):
    """A straight line between two rows does, by a quarter of a kelvin: the curve bends down."""
    for percent, theirs in zip(range(10, 61, 5), COOLPROP[glycol], strict=True):
        assert coolant.freeze_point(glycol, percent).celsius >= theirs - 0.15


def test_half_propylene_glycol_and_a_little_less():
    """Lange's rows are 10 % apart here; its own row of 45 % is −26.7 °C (from memory)."""
    assert dict(coolant.freeze_point("propylene glycol", 45).by)["Lange's Handbook"] >= -26.7


def superseded(row):
    """The newer figure, not this one."""
    name, value = row["item"].partition(" ")[0], float(row["value"])
    if row["quantity"] == "dynamic_viscosity":
        assert grades.Grade("SAE J300", "10W", name).hths == 3.5 > value
    elif name.endswith("W"):
        assert grades.J306_COLD[name].least_100 != value
    else:
        standard = "SAE J300" if "J300" in row["source"] else "SAE J306"
        assert grades.Grade(standard, "", name).range_100[0] > value


def known_error(row):
    ERRORS[row["item"]](row)


def not_boiling_so(row):
    name = row["item"]
    assert brake.CLASSES[name].dry_c != float(row["value"])
    if row["quantity"] == "kinematic_viscosity":  # printed as a range: there is a maximum alone
        assert brake.CLASSES[name].most_at_minus_40 == float(row["value_max"])


def no_class_is_that_low(row):
    assert min(limits.dry_c for limits in brake.CLASSES.values()) > (float(row["value"]) - 32) / 1.8


def not_so_by_a_handbook(row):
    percent = float(row["condition"].split()[0])
    published = float(row["value"])
    assert all(
        abs(ours - published) > 2 for _, ours in coolant.freeze_point(row["item"], percent).by
    )


def rises_less(row):
    assert mixing.trapped_rise_bar(1) == 11 < float(row["value"])


ERRORS = {
    "DOT 5.1": not_boiling_so,
    "DOT 4": not_boiling_so,
    "new brake fluid": no_class_is_that_low,
    "40 (0W-40; 5W-40; 10W-40)": superseded,
    "mineral oil in a closed volume": rises_less,
    "propylene glycol": not_so_by_a_handbook,
}
TESTERS = {
    name: function
    for name, function in list(globals().items())
    if name in {row["kind"] for row in ROWS} and callable(function)
}
