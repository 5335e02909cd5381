"""Every unit we read, against two general libraries: scipy.constants and pint.

Each unit's size stands here a second time, in terms of scipy.constants (CODATA 2022 and NIST SP 811
as that library holds them) or of a definition, and as an expression for pint, which answers in exact
fractions. The product keeps its own table; a wrong size, name, base or spelling there shows here.
"""

from fractions import Fraction

import pint
import pytest
from scipy import constants as c

from witnessmark.units import BASE, UNITS, convert, read
from witnessmark.units.table import named

US_QT, IMP_QT = c.gallon / 4, c.gallon_imp / 4
# Size of one unit in SI (temperatures have a test of their own), and how pint calls it.
SIZES = {
    ("torque", "N·m"): (1, "N*m"), ("torque", "lbf·ft"): (c.lbf * c.foot, "lbf*ft"),
    ("torque", "lbf·in"): (c.lbf * c.inch, "lbf*inch"), ("torque", "kgf·m"): (c.kgf, "kgf*m"),
    ("torque", "kgf·cm"): (c.kgf * c.centi, "kgf*cm"), ("torque", "daN·m"): (10, "daN*m"),
    ("torque", "N·cm"): (c.centi, "N*cm"),
    ("volume", "mL"): (c.milli * c.liter, "mL"), ("volume", "L"): (c.liter, "L"),
    ("volume", "cL"): (c.centi * c.liter, "cL"), ("volume", "US qt"): (US_QT, "US_liquid_quart"),
    ("volume", "US pt"): (US_QT / 2, "US_pint"), ("volume", "US gal"): (c.gallon, "US_liquid_gallon"),
    ("volume", "US fl oz"): (c.fluid_ounce, "US_fluid_ounce"),
    ("volume", "imp qt"): (IMP_QT, "imperial_quart"), ("volume", "imp pt"): (IMP_QT / 2, "imperial_pint"),
    ("volume", "imp gal"): (c.gallon_imp, "imperial_gallon"),
    ("volume", "imp fl oz"): (c.fluid_ounce_imp, "imperial_fluid_ounce"), ("volume", "in³"): (c.inch**3, "inch**3"),
    ("length", "mm"): (c.milli, "mm"), ("length", "cm"): (c.centi, "cm"), ("length", "m"): (1, "m"),
    ("length", "µm"): (c.micron, "um"), ("length", "in"): (c.inch, "inch"), ("length", "thou"): (c.mil, "thou"),
    ("length", "ft"): (c.foot, "ft"),
    ("pressure", "kPa"): (c.kilo, "kPa"), ("pressure", "bar"): (c.bar, "bar"), ("pressure", "psi"): (c.psi, "psi"),
    ("pressure", "kgf/cm²"): (c.kgf / c.centi**2, "kgf/cm**2"), ("pressure", "MPa"): (c.mega, "MPa"),
    ("pressure", "Pa"): (1, "Pa"),
    ("pressure", "mbar"): (c.bar * c.milli, "mbar"), ("pressure", "mmHg"): (c.mmHg, "mmHg"),
    ("pressure", "cmHg"): (10 * c.mmHg, "cmHg"), ("pressure", "inHg"): (25.4 * c.mmHg, "inHg"),
    ("distance", "km"): (c.kilo, "km"), ("distance", "mi"): (c.mile, "mile"), ("distance", "m"): (1, "m"),
    ("duration", "months"): (1, "month"), ("duration", "years"): (12, "year"),
    ("duration", "weeks"): (c.week / c.Julian_year * 12, "week"),
    ("duration", "days"): (c.day / c.Julian_year * 12, "day"),
    ("voltage", "V"): (1, "V"), ("voltage", "mV"): (c.milli, "mV"),
    ("current", "A"): (1, "A"), ("current", "mA"): (c.milli, "mA"),
    ("charge", "Ah"): (c.hour, "A*hour"), ("charge", "mAh"): (c.milli * c.hour, "mA*hour"),
    ("resistance", "Ω"): (1, "ohm"), ("resistance", "kΩ"): (c.kilo, "kohm"),
    ("angle", "°"): (c.degree, "degree"), ("angle", "turns"): (2 * c.pi, "turn"),
    ("rotation", "rpm"): (2 * c.pi / c.minute, "rpm"),
    ("mass", "g"): (c.gram, "g"), ("mass", "kg"): (1, "kg"), ("mass", "oz"): (c.oz, "oz"), ("mass", "lb"): (c.lb, "lb"),
    ("force", "N"): (1, "N"), ("force", "kN"): (c.kilo, "kN"), ("force", "kgf"): (c.kgf, "kgf"),
    ("force", "lbf"): (c.lbf, "lbf"),
    ("speed", "km/h"): (c.kmh, "km/hour"), ("speed", "mph"): (c.mph, "mile/hour"), ("speed", "m/s"): (1, "m/s"),
    ("power", "kW"): (c.kilo, "kW"), ("power", "W"): (1, "W"),
    ("power", "hp (mechanical)"): (c.hp, "horsepower"), ("power", "PS"): (75 * c.kgf, "metric_horsepower"),
    ("count", ""): (1, "dimensionless"),
}  # fmt: skip
THEIRS = pint.UnitRegistry(non_int_type=Fraction)
TEMPERATURES = {
    ("temperature", "°C"): ("Celsius", "degC"),
    ("temperature", "°F"): ("Fahrenheit", "degF"),
}
# The volume used for a length, in m³ per m; or the length gone on a volume, its inverse.
PER_100_KM = c.liter / (100 * c.kilo)
CONSUMED = {
    ("consumption", "L/100 km"): (PER_100_KM, "liter / kilometer"),
    ("consumption", "km/L"): (c.kilo / c.liter, "kilometer / liter"),
    ("consumption", "US mpg"): (c.mile / c.gallon, "mile / US_liquid_gallon"),
    ("consumption", "imp mpg"): (c.mile / c.gallon_imp, "mile / imperial_gallon"),
}
MERCURY = {("pressure", name) for name in ("mmHg", "cmHg", "inHg")}


def test_no_unit_is_left_out():
    ours = {(quantity, unit) for quantity, names in UNITS.items() for unit in names}
    assert ours == SIZES.keys() | TEMPERATURES.keys() | CONSUMED.keys()
    assert len(ours) == 76


@pytest.mark.parametrize(("quantity", "unit"), SIZES, ids=lambda part: part or "pieces")
def test_a_unit_is_as_large_as_both_libraries_have_it(quantity, unit):
    """Exactly as pint has it; as scipy within the last digits of a float, or of the density of mercury (13.5951)."""
    size, expression = SIZES[quantity, unit]
    base_size, base_expression = SIZES[quantity, BASE[quantity]]
    ours = read(f"3 {unit}", quantity).value / 3
    near = 1e-6 if (quantity, unit) in MERCURY else 1e-14
    assert ours == pytest.approx(size / base_size, rel=near)
    theirs = THEIRS.Quantity(Fraction(1), expression).to(base_expression).magnitude
    assert named(unit, quantity).size == Fraction(theirs)


@pytest.mark.parametrize("degrees", [-40, 0, 20, 36.6, 90, 120])
def test_temperatures_agree_with_both_libraries(degrees):
    """Also back: a temperature is not scaled, it is moved as well."""
    fahrenheit = convert(degrees, "temperature", "°F")
    assert fahrenheit == pytest.approx(c.convert_temperature(degrees, "C", "F"), abs=1e-9)
    exact = Fraction(str(degrees))
    theirs = THEIRS.Quantity(exact, "degC").to("degF").magnitude
    assert named("°F", "temperature").from_base(exact) == Fraction(theirs)
    assert read(f"{fahrenheit} °F", "temperature").value == pytest.approx(degrees, abs=1e-9)


@pytest.mark.parametrize(("quantity", "unit"), CONSUMED)
@pytest.mark.parametrize("much", [3.0, 45.0, 100.0])
def test_a_consumption_agrees_with_both_libraries_whichever_way_it_counts(quantity, unit, much):
    """Also with NIST SP 811 B.8: 235.215 divided by miles per US gallon are litres per 100 km."""
    size, expression = CONSUMED[quantity, unit]
    ours = read(f"{much} {unit}", quantity).value
    if unit == BASE[quantity]:
        assert ours == much
        return
    assert ours == pytest.approx(1 / (much * size) / PER_100_KM, rel=1e-14)
    theirs = 1 / THEIRS.Quantity(much, expression)
    assert ours == pytest.approx(theirs.to("liter / kilometer").magnitude * 100, rel=1e-14)
    assert convert(ours, quantity, unit) == pytest.approx(much, rel=1e-14)
    if unit == "US mpg":
        assert ours * much == pytest.approx(235.215, abs=0.0005)
