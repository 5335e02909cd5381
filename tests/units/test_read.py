"""What people write on paper, on tools and in manuals, and what is taken from it."""

import contextlib
import math
from typing import get_args

import pytest
from babel.numbers import format_decimal
from hypothesis import example, given
from hypothesis import strategies as st

from witnessmark.units import (
    BASE,
    BOUNDS,
    QUANTITIES,
    Amount,
    QuantityError,
    System,
    read,
    read_any,
    read_difference,
    read_number,
    read_ratio,
    show,
    shown_in,
    with_unit,
)

NM_PER_LBF_FT = 4.4482216152605 * 0.3048  # NIST SP 811 (2008) App. B.8, exact by definition
ML_PER_US_QT = 946.352946  # NIST Handbook 44 App. C

SPELLINGS = [
    ("60 Nm", "torque", 60.0),
    ("60 N·m", "torque", 60.0),
    ("60 N m", "torque", 60.0),
    ("60 N*m", "torque", 60.0),
    ("60nm", "torque", 60.0),
    ("60 N-m", "torque", 60.0),
    ("44 lbf·ft", "torque", 44 * NM_PER_LBF_FT),
    ("44 lbf ft", "torque", 44 * NM_PER_LBF_FT),
    ("44 ft-lb", "torque", 44 * NM_PER_LBF_FT),
    ("44 ft. lbs.", "torque", 44 * NM_PER_LBF_FT),
    ("44 lb-ft", "torque", 44 * NM_PER_LBF_FT),
    ("528 in-lb", "torque", 44 * NM_PER_LBF_FT),
    ("6 kgf·m", "torque", 58.8399),
    ("6 kg-m", "torque", 58.8399),
    ("600 kgf·cm", "torque", 58.8399),
    ("6 daNm", "torque", 60.0),
    ("44 ft/lbs", "torque", 44 * NM_PER_LBF_FT),
    ("44 lb/ft", "torque", 44 * NM_PER_LBF_FT),
    ("5000 1/min", "rotation", 5000.0),
    ("5000 U/min", "rotation", 5000.0),
    ("4.5 L", "volume", 4500.0),
    ("3/4 L", "volume", 750.0),
    ("4,5 l", "volume", 4500.0),
    ("4½ l", "volume", 4500.0),
    ("180 ml", "volume", 180.0),
    ("180 cc", "volume", 180.0),
    ("180 cm³", "volume", 180.0),
    ("4 3/4 US qt", "volume", 4.75 * ML_PER_US_QT),
    ("4-3/4 US quarts", "volume", 4.75 * ML_PER_US_QT),
    ("4¾ us qt", "volume", 4.75 * ML_PER_US_QT),
    ("4 imp pt", "volume", 4 * 568.26125),  # an eighth of 4.54609 L
    ("2.5 bar", "pressure", 250.0),
    ("36 psi", "pressure", 36 * 6.894757293168361),
    ("250 kPa", "pressure", 250.0),
    ("2.5 kgf/cm²", "pressure", 245.16625),
    ("0 bar", "pressure", 0.0),
    ("18,000 mi", "distance", 28968.192),
    ("18 000 km", "distance", 18000.0),
    ("18\u00a0000 km", "distance", 18000.0),
    ("18\u2009000\u202fkm", "distance", 18000.0),
    ("18'000 km", "distance", 18000.0),
    ("18.000 km", "distance", 18000.0),
    ("1,234,567 km", "distance", 1234567.0),
    ("1.234,5 km", "distance", 1234.5),
    ("0 km", "distance", 0.0),
    ("1/4 in", "length", 6.35),
    ('1/4"', "length", 6.35),
    ('3/32"', "length", 2.38125),
    ("8/100 mm", "length", 0.08),
    ("1/10 V", "voltage", 0.1),
    ("0.1 mm", "length", 0.1),
    ("2.350 mm", "length", 2.35),
    ("0,125 mm", "length", 0.125),
    ("6 thou", "length", 0.1524),
    ("24 months", "duration", 24.0),
    ("2 years", "duration", 24.0),
    ("1 year", "duration", 12.0),
    ("12.6 V", "voltage", 12.6),
    ("12,6V", "voltage", 12.6),
    ("90°", "angle", 90.0),
    ("90º", "angle", 90.0),
    ("20 ˚C", "temperature", 20.0),
    ("1 1/2 turns", "angle", 540.0),
    ("−5 °C", "temperature", -5.0),
    ("68 °F", "temperature", 20.0),
    ("250 g", "mass", 250.0),
    ("4", "count", 4.0),
    ("44 foot lbs", "torque", 44 * NM_PER_LBF_FT),
    ("44 lb feet", "torque", 44 * NM_PER_LBF_FT),
    ("44 lbs. foot", "torque", 44 * NM_PER_LBF_FT),
    ("528 inch pounds", "torque", 44 * NM_PER_LBF_FT),
    ("60. Nm", "torque", 60.0),
    ("60 (Nm)", "torque", 60.0),
    ("1 UK gallon", "volume", 4546.09),  # UK Weights and Measures Act 1985
    ("1 quart US", "volume", ML_PER_US_QT),
    ("1 gal (US)", "volume", 4 * ML_PER_US_QT),
    ("1 U.S. gallon", "volume", 4 * ML_PER_US_QT),
    ("1 pint imperial", "volume", 568.26125),
    ("12 oz (US)", "volume", 12 * ML_PER_US_QT / 32),
    ("61,250 km", "distance", 61250.0),
    ("6 weeks", "duration", 6 * 7 / (365.25 / 12)),
    ("90 days", "duration", 90 / (365.25 / 12)),
    ("4 pcs", "count", 4.0),
    ("60 mph", "speed", 96.56064),
    ("90 kph", "speed", 90.0),
    ("95 PS", "power", 95 * 0.73549875),  # 75 kgf·m/s
    ("95 hp (metric)", "power", 95 * 0.73549875),
    ("95 bhp", "power", 95 * 550 * 0.3048 * 4.4482216152605 / 1000),
    ("95 mechanical hp", "power", 95 * 550 * 0.3048 * 4.4482216152605 / 1000),
    ("5,6 l/100 km", "consumption", 5.6),
    ("20 km/l", "consumption", 5.0),
    ("45 mpg (US)", "consumption", 100 * 3.785411784 / 1.609344 / 45),
    ("54 UK mpg", "consumption", 100 * 4.54609 / 1.609344 / 54),
]


@pytest.mark.parametrize(("text", "quantity", "value"), SPELLINGS)
def test_a_spelling_people_use_is_read(text, quantity, value):
    amount = read(text, quantity)
    assert amount.value == pytest.approx(value, rel=1e-15)
    assert (amount.unit, amount.text, amount.quantity) == (BASE[quantity], text, quantity)


@pytest.mark.parametrize(
    ("text", "quantity", "problem"),
    [
        ("12", "torque", "“12” has no unit"),
        ("12 lbf·ft", "volume", "“12 lbf·ft” is a torque, not a volume"),
        ("12 Nm", "volume", "“12 Nm” is a torque, not a volume"),
        ("44 lb", "torque", "“44 lb” is a mass, not a torque"),
        ("60 J", "torque", "“60 J”: “J” is no unit of torque"),
        ("1,234 km", "distance", "“1,234” may be 1.234 km or 1234 km"),
        ("1.234 km", "distance", "“1.234” may be 1.234 km or 1234 km"),
        ("1,234 mm", "length", "“1,234” may be 1.234 mm or 1234 mm"),
        ("5 qt", "volume", "“qt” is one thing in the United States and another in Britain"),
        ("-5 Nm", "torque", "−5 N·m is less than nothing"),
        ("0 Nm", "torque", "0 N·m is no torque"),
        ("60,000 Nmm", "torque", "“60,000 Nmm”: “Nmm” is no unit of torque"),
        ("6000 Nm", "torque", "6000 N·m is more than anything here can be"),
        ("60/55 W", "power", "“60/55” may be a range or a fraction, or two values"),
        ("21/5 W", "power", "“21/5” may be a range or a fraction, or two values"),
        ("72/80 psi", "pressure", "“72/80” may be a range or a fraction, or two values"),
        ("11/12 bar", "pressure", "“11/12” may be a range or a fraction, or two values"),
        ("52/53 V", "voltage", "“52/53” may be a range or a fraction, or two values"),
        ("3/2 mm", "length", "“3/2” may be a range or a fraction, or two values"),
        ("2/3 mm", "length", "“2/3” may be a range or a fraction, or two values"),
        ("25/30 mm", "length", "“25/30” may be a range or a fraction, or two values"),
        ("22/5°", "angle", "“22/5” may be a range or a fraction, or two values"),
        ("nan Nm", "torque", "“nan Nm” does not start with a number"),
        ("inf km", "distance", "“inf km” does not start with a number"),
        ("20-25 Nm", "torque", "“20 -25 Nm” is more than one number"),
        ("20 ± 2 Nm", "torque", "“20 ± 2 Nm” is more than one number"),
        ("60 Nm (44 lbf·ft)", "torque", "“60 Nm (44 lbf·ft)” is more than one number"),
        ("1/0 in", "length", "“1/0” in “1/0 in” is not a number"),
        ("1.2.3 mm", "length", "“1.2.3” in “1.2.3 mm” is not a number"),
        ("90 hours", "duration", "“90 hours”: “hours” is no unit of duration"),
        ("12 oz", "volume", "“oz” is one thing in the United States and another in Britain"),
        (
            "95 hp",
            "power",
            "“hp” is 745.7 W in Britain and the United States, often 735.5 W elsewhere",
        ),
        ("50 mpg", "consumption", "“mpg” is one thing in the United States and another in Britain"),
        ("0 US mpg", "consumption", "0 US mpg is no consumption"),
        ("0.10 mm-", "length", "“0.10 mm-”: “mm-” is no unit of length"),
        ("60 ·Nm", "torque", "“60 ·Nm”: “·Nm” is no unit of torque"),
        ("60 (Nm", "torque", "“60 (Nm”: “(Nm” is no unit of torque"),
        (">0.10 mm", "length", "“>0.10 mm” does not start with a number"),
        ("2.5", "count", "2.5 is not a whole number"),
        ("", "volume", "“” does not start with a number"),
        ("  ", "words", "nothing is written"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_the_reason(text, quantity, problem):
    with pytest.raises(QuantityError) as refused:
        read(text, quantity)
    assert (refused.value.place, refused.value.problem) == (quantity, problem)
    assert refused.value.expected


def test_an_error_names_the_field_it_was_given():
    with pytest.raises(QuantityError) as refused:
        read("12", "torque", place="book.toml:12 figures.axle.value")
    assert refused.value.place == "book.toml:12 figures.axle.value"


@pytest.mark.parametrize(
    ("text", "quantity", "understood"),
    [
        ("44 ft-lb", "torque", "44 lbf·ft"),
        ("4 3/4 US qt", "volume", "4.75 US qt"),
        ("18,000 mi", "distance", "18\u202f000 mi"),
        ("4,500 l", "volume", "4.5 L"),
        ("  SAE   80W-90 ", "words", "SAE 80W-90"),
    ],
)
def test_what_was_understood_is_told(text, quantity, understood):
    """A comma is never taken silently: what was made of the text stands beside it."""
    assert read(text, quantity).understood == understood


@pytest.mark.parametrize(
    ("text", "quantity", "advice"),
    [("1,234 km", "distance", ("1234 km", "1.2340 km")), ("1,234 mm", "length", ("1234 mm", "1.2340 mm"))],
)  # fmt: skip
def test_both_ways_out_of_an_ambiguous_comma_are_read(text, quantity, advice):
    """The advice itself must not be ambiguous."""
    grouped, decimal = (read(way, quantity).value for way in advice)
    assert grouped == 1000 * decimal
    with pytest.raises(QuantityError) as refused:
        read(text, quantity)
    assert refused.value.expected == "write 1234 without a separator, or 1.2340"


NUMBERISH = st.text(st.sampled_from("0123456789.,'/ -+½¼¾\u00a0\u2009−eE"), max_size=12)
UNITISH = st.sampled_from(
    ["", "Nm", "N·m", "lbf ft", "l", "ml", "qt", "km", "mi", "mm", '"', "°C", "bar", "J", "%", "²"]
)


ANY_TEXT = st.one_of(st.text(max_size=300), st.tuples(NUMBERISH, UNITISH).map("".join))


@given(ANY_TEXT, st.sampled_from(QUANTITIES))
@example("²  Nm", "torque")
@example("٣ km", "distance")
@example("1" * 30 + " km", "distance")
@example("4⅓⅓ l", "volume")
@example("\ud800 km", "distance")
def test_any_text_gives_an_amount_within_bounds_or_a_quantity_error(text, quantity):
    try:
        amount = read(text, quantity)
    except QuantityError:
        return
    assert isinstance(amount, Amount)
    if quantity == "words":
        assert math.isnan(amount.value)
    else:
        assert BOUNDS[quantity].low <= amount.value <= BOUNDS[quantity].high


# ---------------------------------------------------------------- other ways of writing numbers


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("٦٠ Nm", "“٦٠ Nm” has digits other than 0 to 9"),
        ("६० Nm", "“६० Nm” has digits other than 0 to 9"),
        ("六十 Nm", "“六十 Nm” has digits other than 0 to 9"),
        ("②5 Nm", "“②5 Nm” has digits other than 0 to 9"),
        ("6² Nm", "“6 ² Nm” is more than one number"),
        ("1e3 km", "“1 e3 km” is more than one number"),
        ("1 8 km", "“1 8 km” is more than one number"),
    ],
)
def test_digits_that_are_not_plain_ones_are_never_guessed_at(text, problem):
    quantity = "torque" if "Nm" in text else "distance"
    with pytest.raises(QuantityError) as refused:
        read(text, quantity)
    assert refused.value.problem == problem


LOCALES = ["en", "de", "fr", "de_CH", "sv", "en_IN", "pt", "es", "pl", "it_CH"]


@pytest.mark.parametrize("locale", LOCALES)
@pytest.mark.parametrize("km", [1_234_567, 234_500.5, 12_000])
def test_a_distance_is_read_as_any_of_these_locales_writes_it(locale, km):
    """Written by the common locale data: dots, commas, blanks of three kinds, apostrophes, lakhs."""
    assert read(f"{format_decimal(km, locale=locale)} km", "distance").value == km


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("12.5", "", 12.5),
        ("3 1/2", "", 3.5),
        ("-4", "", -4),
        ("10 %", "%", 10),
        ("15 mA", "mA", 15),
        ("30 cSt", "mm²/s", 30),
        ("30 mm2/s", "mm²/s", 30),
        ("50/50", "%", 50),
        ("3 per cent", "%", 3),
    ],
)
def test_a_bare_number_is_read_with_its_own_unit_or_none(text, unit, value):
    assert read_number(text, unit=unit) == value


@pytest.mark.parametrize(
    ("text", "unit"), [("12/48", "°"), ("3/4", "mm²"), ("15/45", ""), ("3/2", "")]
)
def test_two_bare_numbers_with_a_slash_are_no_fraction(text, unit):
    with pytest.raises(QuantityError, match="may be a range or a fraction, or two values"):
        read_number(text, unit=unit)


@pytest.mark.parametrize("text", ["1,234", "1.234"])
def test_a_bare_number_with_one_separator_before_three_digits_is_asked_about(text):
    with pytest.raises(QuantityError, match=r"may be 1.234 or 1234"):
        read_number(text)


@given(st.one_of(st.text(max_size=300), NUMBERISH))
def test_any_text_is_a_finite_number_or_a_quantity_error(text):
    with contextlib.suppress(QuantityError):
        assert math.isfinite(read_number(text, unit="%"))


@given(ANY_TEXT)
def test_any_text_is_a_quantity_of_some_kind_or_an_error_at_its_field(text):
    try:
        amount = read_any(text, place="here")
    except QuantityError as error:
        told = (error.place, bool(error.problem), bool(error.expected))
    else:
        assert BOUNDS[amount.quantity].low <= amount.value <= BOUNDS[amount.quantity].high
        return
    assert told == ("here", True, True)


@pytest.mark.parametrize("text", ["60/40", "1/2", "50/51 %", "2 1/2 %"])
def test_a_fraction_of_per_cent_is_asked_about(text):
    with pytest.raises(QuantityError, match="may be a mix or a fraction"):
        read_number(text, unit="%")


@pytest.mark.parametrize(
    "text",
    [
        "50",
        "1:50",
        "50:1",
        "1 : 50",
        "1/50",
        "50/1",
        "1 to 50",
        "1 in 50",
        "1-50",
        "2 %",
        "2%",
        "1:50,0",
    ],
)
def test_a_ratio_is_read_as_people_write_it(text):
    """The answer itself prints "1 : 50" and "2 %"."""
    assert read_ratio(text) == 50


@pytest.mark.parametrize(
    "text", ["", "1:", ":50", "1:50:2", "2:100", "0 %", "1:50 mL", "1--50", "one to fifty", "1:>50"]
)
def test_what_is_no_ratio_is_refused_in_words(text):
    with pytest.raises(QuantityError) as refused:
        read_ratio(text, place="here")
    assert (refused.value.place, bool(refused.value.expected)) == ("here", True)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("61,250", "km", 61250),
        ("18'000", "km", 18000),
        ("60.", "km", 60),
        ("11,000 mi", "km", 11000 * 1.609344),
    ],
)
def test_a_field_with_a_unit_of_its_own_takes_a_bare_number(text, unit, value):
    assert read(with_unit(text, unit), "distance").value == pytest.approx(value)


def test_an_interval_of_days_or_weeks_is_shown_in_days():
    assert show(read("90 days", "duration").value, "duration") == "90 days"
    assert show(read("6 weeks", "duration").value, "duration") == "42 days"
    assert show(read("18 months", "duration").value, "duration") == "18 months"


def test_an_ounce_is_asked_about_where_either_kind_may_stand():
    with pytest.raises(QuantityError, match="“oz” is a unit of mass and of volume"):
        read_any("12 oz")
    assert read_any("12 oz", kind="mass").quantity == "mass"


def test_a_unit_of_two_kinds_is_asked_about():
    with pytest.raises(QuantityError, match="“m” is a unit of length and of distance"):
        read_any("1 m")
    assert read_any("1 m", kind="length").value == 1000


@pytest.mark.parametrize(("text", "size"), [("2 °C", 2), ("9 °F", 5), ("1/2 °C", 0.5)])
def test_a_difference_of_temperatures_has_no_offset(text, size):
    assert read_difference(text, "temperature") == pytest.approx(size, rel=1e-12)


@pytest.mark.parametrize("system", get_args(System))
def test_the_range_of_a_consumption_is_told_in_any_system(system):
    """Nothing used has no miles per gallon."""
    with shown_in(system), pytest.raises(QuantityError) as refused:
        read("-2 imp mpg", "consumption", place="mark")
    assert (refused.value.place, refused.value.expected[:23]) == ("mark", "give more than 0 L/100 ")
