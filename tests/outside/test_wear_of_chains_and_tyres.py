"""Chain sizes, chain wear and tyre pressure against published tables, exercises and arithmetic.

`data/wear.csv` names the source of each row; where its `how` has no S, it is from memory (M) or arithmetic (L).
The other kinds of that table are tested beside the code they belong to.
"""

import re

import pytest

from tests.outside.tables import is_as_printed, rows_of
from witnessmark import decode
from witnessmark.calculators import CALCULATORS, CalculationErrors, evaluate
from witnessmark.decode.chains import pitch_by_rule, width_by_rule
from witnessmark.units import convert, read

KINDS = [
    "chain_size",
    "chain_limit",
    "chain_length",
    "chain_formula",
    "chain_elongation",
    "tyre_pressure",
    "common_value",
]
WRONG = [
    "1.5 percent elongation",
    "30 psi gauge at 10 degC heated to 40 degC",
    "30 psi gauge at 11 degC heated to 54 degC",
]
ROWS = [
    row
    for row in rows_of("wear")
    if row["kind"] in KINDS or (row["kind"] == "known_error" and row["item"] in WRONG)
]
LEFT_OUT = {
    (
        "chain_limit",
        "motorcycle chain",
    ): "practice of a forum; we take no limit but the manual's or ANSI's",
    (
        "chain_formula",
        "caliper method",
    ): "a way of measuring; the mean of two lengths is put in as the length",
    (
        "common_value",
        "rim run-out radial",
    ): "never a specification for a machine: no code of ours has it",
    (
        "common_value",
        "rim run-out axial",
    ): "never a specification for a machine: no code of ours has it",
    ("common_value", "axle bend"): "never a specification for a machine: no code of ours has it",
    (
        "common_value",
        "spark plug gap",
    ): "never a specification for a machine: no code of ours has it",
}


def _key(row):
    return row["kind"], row["item"]


TESTED = [row for row in ROWS if _key(row) not in LEFT_OUT]


def test_every_row_is_tested_or_left_out_with_a_reason():
    assert (len(TESTED), len(LEFT_OUT), len(ROWS)) == (90, 6, 96)


# ---------------------------------------------------------------- chains


def _size(row):
    if row["item"] == "number rule":
        numbers = ["420", "520", "525", "530", "630"]
        if row["quantity"] == "pitch":
            assert pitch_by_rule("520") == float(row["value"])
        else:
            widths = [width_by_rule(number) for number in ("520", "525", "530")]
            assert widths == pytest.approx([float(x) for x in row["value"].split(";")])
        assert [decode.CHAINS[n].pitch_mm for n in numbers] == pytest.approx(
            list(map(pitch_by_rule, numbers))
        )
        assert width_by_rule("428") is width_by_rule("532") is None
        return
    chain = decode.read_chain(re.sub(r" \(ANSI \d+\)", "", row["item"])).chain
    field = {"pitch": "pitch_mm", "roller_diameter": "roller_mm", "inner_width": "inner_mm"}
    assert getattr(chain, field[row["quantity"]]) == float(row["value"])


def _limit(row):
    if row["item"].startswith("N = "):
        assert is_as_printed(row, decode.published_limit(int(row["item"].removeprefix("N = "))))
    elif row["value"] == "3":
        assert decode.published_limit(40) == 3
    else:
        assert decode.published_limit(80) == 200 / 80


def _length(row):
    pitch = float(row["item"].removeprefix("pitch "))
    links = int(row["condition"].split(" ")[0])
    percent = re.search(r"([\d.]+) percent", row["condition"])
    ours = decode.length_at(float(percent[1]) if percent else 0.0, links, pitch)
    assert is_as_printed(row, ours)


def _formula(row):
    """percent = (M − S·P) / (S·P) · 100."""
    assert decode.elongation_percent(320.7, 20, 15.875) == (320.7 - 317.5) / 317.5 * 100


def _elongation(row):
    if "grown by" in row["condition"]:  # 12 in of half-inch chain: 24 links
        assert is_as_printed(row, decode.elongation_percent(12.1 * 25.4, 24, 12.7))
        return
    if row["item"].startswith("one link too many"):
        ours = decode.elongation_percent(336.0, 20, 15.875)
        assert "count the links again" in decode.wear_words(ours, 2.0)
    else:
        links, _, pitch = row["item"].partition(" links of ")
        measured = float(re.search(r"[\d.]+", row["condition"])[0])
        ours = decode.elongation_percent(measured, int(links), float(pitch))
        if ours < 0:
            assert "nothing of the life left" in decode.wear_words(ours, 2.0)
    assert is_as_printed(row, ours)


# ---------------------------------------------------------------- tyre pressure

_UNIT = {"kPa": "kPa", "Pa": "kPa", "bar": "bar", "psi": "psi", "atm": "atm"}
_KPA_PER_ATM = 101.325


def _pressure(row):
    """Each exercise with its own constants: where it calculates kelvin + 273 the temperatures are shifted to it."""
    said = re.match(
        r"([\d.]+) (kPa|psi|atm|bar) (gauge|absolute) at (-?[\d.]+) deg([CF]) "
        r"(?:heated |cooled )?to (-?[\d.]+) deg[CF](?:; volume (.*))?",
        row["item"],
    )
    pressure, unit, kind, at, scale, to, volume = said.groups()
    air, shift = _air(row, unit), _shift(row["condition"])
    celsius = [_celsius(float(value), scale) + shift for value in (at, to)]
    gauge = _kpa(float(pressure), unit) - (air if kind == "absolute" else 0)
    then = decode.pressure_at(gauge, *celsius, atmosphere_kpa=air, volume_ratio=_volume(volume))
    if row["quantity"] == "absolute_pressure":
        then += air
    ours = {
        "kPa": then,
        "Pa": then * 1000,
        "bar": then / 100,
        "psi": convert(then, "pressure", "psi"),
    }
    value = ours.get(row["unit"], then / _KPA_PER_ATM)
    if "cuts instead of rounding" in row["note"]:
        assert int(value * 1000) == int(float(row["value"]) * 1000)
    else:
        assert is_as_printed(row, value)


def _kpa(value, unit):
    return value * _KPA_PER_ATM if unit == "atm" else read(f"{value} {unit}", "pressure").value


def _air(row, unit):
    said = row["condition"]
    for pattern, factor in ((r"([\d.]+) kPa", 1), (r"([\d.]+) Pa", 0.001), (r"([\d.]+) bar", 100)):
        if found := re.search(pattern, said):
            return float(found[1]) * factor
    if found := re.search(r"([\d.]+) psi", said):
        return read(f"{found[1]} psi", "pressure").value
    return _KPA_PER_ATM


def _celsius(value, scale):
    return (value - 32) / 1.8 if scale == "F" else value


def _shift(condition):
    """273 for 273.15, 460 for 459.67."""
    if "kelvin + 273" in condition:
        return -0.15
    return 0.33 / 1.8 if "Rankine + 460" in condition else 0.0


def _volume(said):
    if said is None:
        return 1.0
    if found := re.search(r"\+(\d+) percent", said):
        return 1 + int(found[1]) / 100
    before, after = (float(x) for x in re.findall(r"[\d.]+e-\d", said))
    return after / before


# ---------------------------------------------------------------- mistakes in print


def _known_error(row):
    """Published mistakes: we give another value."""
    problem = float(row["value"])
    if row["unit"] == "inch":  # growth of one foot
        assert decode.length_at(1.5, 24, 12.7) / 25.4 - 12 == pytest.approx(0.18)
        assert problem != pytest.approx(0.18)
        return
    at, to = (int(x) for x in re.findall(r"(\d+) degC", row["item"]))
    then = decode.pressure_at(read("30 psi", "pressure").value, at, to)
    ours = then * 1000 if row["unit"] == "Pa" else convert(then, "pressure", "psi")
    assert abs(ours - problem) > 50 if row["unit"] == "Pa" else abs(ours - problem) > 1


TESTERS = {
    "chain_size": _size, "chain_limit": _limit, "chain_length": _length, "chain_formula": _formula,
    "chain_elongation": _elongation, "tyre_pressure": _pressure, "known_error": _known_error,
}  # fmt: skip


def _id(row):
    memory = "" if "S" in row["how"] else " (from memory)" if row["how"] == "M" else " (arithmetic)"
    return f"{row['kind']} {row['item']} {row['condition']} {row['quantity']}{memory}"


@pytest.mark.parametrize("row", TESTED, ids=_id)
def test_a_row_of_the_table_holds(row):
    """Each row against our own calculator."""
    TESTERS[row["kind"]](row)


def test_the_calculator_refuses_what_no_tyre_is():
    """Absurd temperatures and pressures are told at their field."""
    with pytest.raises(CalculationErrors) as refused:
        evaluate(
            CALCULATORS["tyre-pressure"], {"pressure": "2.5 bar", "at": "240 °C", "to": "20 °C"}
        )
    assert refused.value.errors[0].place == "at"
