"""A figure from one value to another, as manuals print it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.units import QuantityError, Span, ends, read_span, unit_written


@pytest.mark.parametrize(
    ("typed", "low", "high", "understood"),
    [
        ("45–55 Nm", 45, 55, "45 to 55 N·m"),
        ("45-55 N-m", 45, 55, "45 to 55 N·m"),
        ("45 to 55 Nm", 45, 55, "45 to 55 N·m"),
        ("45 Nm to 55 Nm", 45, 55, "45 to 55 N·m"),
        ("45 Nm - 55", 45, 55, "45 to 55 N·m"),
        ("from 45 to 55 N m", 45, 55, "45 to 55 N·m"),
        ("between 45 and 55 Nm", 45, 55, "45 to 55 N·m"),
        ("45...55 Nm", 45, 55, "45 to 55 N·m"),
        ("45 — 55 Nm", 45, 55, "45 to 55 N·m"),
        ("4,5 bis 5,5 kgm", 44.13, 53.94, "4.5 to 5.5 kgf·m"),
        ("4,5–5,5 kgf·m", 44.13, 53.94, "4.5 to 5.5 kgf·m"),
        ("50 ± 5 Nm", 45, 55, "45 to 55 N·m"),
        ("50 Nm ±10 %", 45, 55, "45 to 55 N·m"),
        ("50 Nm +/- 5 Nm", 45, 55, "45 to 55 N·m"),
        ("33-40 lbf-ft", 44.74, 54.23, "33 to 40 lbf·ft"),
        ("33 lbf-ft - 40 lbf-ft", 44.74, 54.23, "33 to 40 lbf·ft"),
    ],
)
def test_a_range_is_read_with_its_middle(typed, low, high, understood):
    """lbf·ft and kgf·m by NIST SP 811 (2008) App. B.8."""
    found = read_span(typed, "torque")
    assert isinstance(found, Span)
    assert [end.value for end in ends(found)] == pytest.approx([low, high], abs=0.01)
    assert found.value == pytest.approx((low + high) / 2, abs=0.01)
    assert found.understood == understood
    assert unit_written(found) == unit_written(found.high)


@pytest.mark.parametrize("typed", ["50 Nm", "50 N-m", "33 ft-lb", "4 1/2 kgf·m"])
def test_one_value_stays_one(typed):
    found = read_span(typed, "torque")
    assert not isinstance(found, Span)
    assert ends(found) == (found,)


def test_a_unit_beside_the_field_goes_for_both_ends():
    assert read_span("45-55", "torque", unit="N·m").understood == "45 to 55 N·m"
    assert read_span("50 ± 5", "torque", unit="N·m").understood == "45 to 55 N·m"


@pytest.mark.parametrize(
    ("typed", "problem", "expected"),
    [
        ("45–55", "has no unit", "60 N·m"),
        ("55–45 Nm", "is no range", "smaller value first"),
        ("45-45 Nm", "is no range", "smaller value first"),
        ("-45 to 55 Nm", "more than one number", ""),
        ("45 -", "more than one number", ""),
        ("45 Nm - 55 bar", "is a pressure, not a torque", ""),
        ("5 ± 10 Nm", "less than nothing", ""),
        ("45-50-55 Nm", "more than one number", ""),
        ("45/55 Nm", "a range or a fraction", "45 to 55"),
        ("8/10 Nm", "a range or a fraction", "8 to 10"),
        ("45 Nm + 90°", "more than one number", ""),
    ],
)
def test_what_is_no_range_is_told(typed, problem, expected):
    with pytest.raises(QuantityError) as refused:
        read_span(typed, "torque", place="torque")
    assert refused.value.place == "torque"
    assert problem in refused.value.problem
    assert expected in refused.value.expected


@given(st.text(st.sampled_from("0123456789.,-–±% toandNm/'"), max_size=24))
def test_whatever_is_typed_is_one_value_or_two_in_order_or_refused(typed):
    try:
        found = read_span(typed, "torque")
    except QuantityError:
        return
    values = [end.value for end in ends(found)]
    assert values == sorted(values)
    assert values[0] <= found.value <= values[-1]
