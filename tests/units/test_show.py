"""A quantity in the unit of the tool in hand."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from witnessmark.units import (
    BOUNDS,
    UNITS,
    ShowError,
    convert,
    error_in_words,
    read,
    setting,
    show,
)

NUMBERS = [quantity for quantity in BOUNDS if quantity != "words"]


@pytest.mark.parametrize(
    ("shown", "expected"),
    [
        (show(60, "torque"), "60 N·m"),
        (show(60, "torque", "us"), "44.3 lbf·ft"),
        (show(60, "torque", unit="lbf·ft", step=0.5), "44.5 lbf·ft"),
        (show(8, "torque", "us"), "70.8 lbf·in"),
        (show(112.5, "torque"), "112.5 N·m"),
        (show(4500, "volume"), "4.5 L"),
        (show(180, "volume"), "180 mL"),
        (show(4500, "volume", "us"), "4.76 US qt"),
        (show(60, "volume", "us"), "2 US fl oz"),
        (show(4500, "volume", "imperial"), "7.92 imp pt"),
        (show(18000, "distance"), "18\u202f000 km"),
        (show(28968.192, "distance", "us"), "18\u202f000 mi"),
        (show(250, "pressure"), "2.5 bar"),
        (show(250, "pressure", "us"), "36.3 psi"),
        (show(250, "pressure", unit="kPa"), "250 kPa"),
        (show(24, "duration"), "24 months"),
        (show(1, "duration"), "1 month"),
        (show(24, "duration", unit="years"), "2 years"),
        (show(0.15, "length"), "0.15 mm"),
        (show(0.15, "length", unit="in"), "0.0059 in"),
        (show(12.63, "voltage"), "12.63 V"),
        (show(90, "angle"), "90°"),
        (show(-5, "temperature"), "−5 °C"),
        (show(20, "temperature", "us"), "68 °F"),
        (show(4, "count"), "4"),
    ],
)
def test_a_quantity_is_shown_as_the_tool_reads_it(shown, expected):
    assert shown == expected


@pytest.mark.parametrize(
    ("value", "quantity", "unit"),
    [(math.nan, "torque", None), (math.inf, "volume", None), (1, "words", None), (1, "torque", "mL")],
)  # fmt: skip
def test_what_cannot_be_shown_is_refused(value, quantity, unit):
    with pytest.raises(ShowError):
        show(value, quantity, unit=unit)


@st.composite
def shown_values(draw):
    """A quantity, a unit of it, and a value (in the base unit) that is not nothing in that unit."""
    quantity = draw(st.sampled_from(NUMBERS))
    unit, bounds = draw(st.sampled_from(UNITS[quantity])), BOUNDS[quantity]
    value = float(draw(st.integers(1, 999_999)))
    if quantity != "count":
        value = draw(st.floats(max(bounds.low, 1e-3), bounds.high * 0.99))
    assume(convert(value, quantity, unit) >= 0.006 or not bounds.open_low)
    return quantity, unit, value


@given(shown_values())
def test_what_is_shown_to_a_step_reads_back_within_half_of_it(case):
    """No unit is shown in a spelling that `read` does not know, nor off by more than it rounds."""
    quantity, unit, value = case
    step = 1 if quantity == "count" else 0.01
    again = convert(
        read(show(value, quantity, unit=unit, step=step), quantity).value, quantity, unit
    )
    assert abs(again - convert(value, quantity, unit)) <= step / 2 + 1e-9 * abs(again)


@given(shown_values())
def test_what_is_shown_by_default_is_never_ambiguous(case):
    """The app reads its own writing: three significant digits, or what the tool resolves."""
    quantity, unit, value = case
    assume(convert(value, quantity, unit) >= 1)
    again = convert(read(show(value, quantity, unit=unit), quantity).value, quantity, unit)
    assert again == pytest.approx(convert(value, quantity, unit), rel=0.00501, abs=0.501)


@pytest.mark.parametrize(("quantity", "unit"), [(q, u) for q in NUMBERS for u in UNITS[q]])
def test_every_unit_of_the_table_is_written_read_and_converted(quantity, unit):
    """Each name in UNITS reads as itself, and one of it converts there and back."""
    one = read(f"1 {unit}", quantity)
    assert convert(one.value, quantity, unit) == pytest.approx(1, rel=1e-14)
    assert one.understood.split()[-1].rstrip("s").endswith((unit or "1").rstrip("s").split()[-1])


@pytest.mark.parametrize(
    ("value", "quantity", "unit", "step", "tolerance", "told"),
    [
        (60, "torque", "lbf·ft", 0.5, 6, ("44.5 lbf·ft", "0.25 lbf·ft more than wanted, 6 % of the tolerance")),
        (8, "torque", "lbf·ft", 1, 0.4, ("6 lbf·ft", "0.1 lbf·ft more than wanted, 34 % of the tolerance")),
        (8, "torque", "lbf·in", 1, None, ("71 lbf·in", "0.19 lbf·in more than wanted")),
        (20, "temperature", "°F", 5, 1, ("70 °F", "2 °F more than wanted, 111 % of the tolerance")),
        (5, "consumption", "US mpg", 1, 0.5, ("47 US mpg", "0.043 US mpg less than wanted, 1 % of the tolerance")),
        (60, "torque", "N·m", 1, 6, ("60 N·m", "no rounding: the scale shows it exactly")),
    ],
)  # fmt: skip
def test_what_a_scale_can_be_set_to_is_told_with_its_rounding(
    value, quantity, unit, step, tolerance, told
):
    made = setting(value, quantity, unit, step, tolerance)
    assert (made.shown, error_in_words(made, quantity, unit, tolerance)) == told


def test_a_rounding_matters_from_a_tenth_of_the_tolerance():
    """60 N·m on a scale of half pound-feet: 0.33 N·m too much."""
    shares = [setting(60, "torque", "lbf·ft", 0.5, tolerance) for tolerance in (6, 2, 0.3)]
    assert [(made.matters, made.outside) for made in shares] == [
        (False, False),
        (True, False),
        (True, True),
    ]


@given(shown_values(), st.sampled_from([0.05, 0.1, 0.25, 0.5, 1, 5]))
def test_a_scale_is_never_set_further_off_than_half_its_step(case, step):
    quantity, unit, value = case
    assume(quantity != "consumption" or convert(value, quantity, unit) >= step / 2)
    made = setting(value, quantity, unit, step)
    wanted, got = (convert(one, quantity, unit) for one in (made.value - made.error, made.value))
    assert abs(got - wanted) <= step / 2 * (1 + 1e-9) + 1e-9 * max(abs(wanted), abs(got), 1)


def test_a_scale_too_coarse_for_an_inverse_unit_is_refused():
    """0 miles per gallon would be no end of fuel."""
    with pytest.raises(ShowError, match="coarser than the value"):
        setting(200, "consumption", "US mpg", 5)


@pytest.mark.parametrize("step", [0, -1, math.nan, math.inf])
def test_a_scale_without_a_step_is_refused(step):
    with pytest.raises(ShowError, match="is no step"):
        setting(60, "torque", "N·m", step)
