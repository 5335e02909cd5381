"""Quantities: what was written, in the unit of the tool in hand, as its scale can show it."""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import suppress
from typing import cast

from witnessmark import units
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    number,
)
from witnessmark.errors import nearest
from witnessmark.units import Amount, Quantity

_EITHER_SIDE = re.compile(r"(?:±|\+ ?/? ?[-−])? ?(?P<size>[^±+−-].*)", re.DOTALL)
_FACTORS = (
    "NIST SP 811 (2008) Appendix B.8; US volumes NIST Handbook 44 Appendix C; "
    "imperial volumes UK Weights and Measures Act 1985; PS: 75 kgf·m/s; hp (mechanical): 550 ft·lbf/s"
)
_KINDS = tuple(q for q in units.QUANTITIES if q not in ("words", "count"))


def _convert(inputs: Inputs) -> Calculated:
    kind = cast("Quantity | None", inputs.get("kind"))
    amount = _read(str(inputs["quantity"]), kind)
    unit = _unit(str(inputs["to"]), amount) if "to" in inputs else ""
    if "step" in inputs and not unit:
        raise CalculationError("to", "a scale has a unit", "give the unit in which the tool reads")
    said, lines, warnings = _plain(amount, unit)
    if "step" in inputs:
        made, tolerance = _made(inputs, amount, unit)
        said = f"{amount.understood}: set {made.shown}"
        rounding = units.error_in_words(made, amount.quantity, unit, tolerance)
        lines.insert(1, ("rounding", rounding))
        warnings = _warnings(made)
    return Calculated(
        said=f"{said}.", lines=tuple(lines), formula=_formula(amount, unit or amount.unit),
        put_in=(("quantity", amount.understood),), source=_FACTORS, warnings=warnings,
    )  # fmt: skip


def _read(text: str, kind: Quantity | None) -> Amount:
    """One quantity, or a range of the one kind that its unit names."""
    try:
        return units.read_any(text, place="quantity", kind=kind)
    except units.QuantityError:
        found = []
        for one in [kind] if kind else _KINDS:
            with suppress(units.QuantityError):
                found.append(units.read_span(text, one, place="quantity"))
        if len(found) == 1:
            return found[0]
        raise


def _said(amount: Amount, say: Callable[[float, Quantity, str], str], unit: str) -> str:
    """A value in a unit, or both ends of a range."""
    return " to ".join(say(end.value, end.quantity, unit) for end in units.ends(amount))


def _plain(amount: Amount, unit: str) -> tuple[str, list[tuple[str, str]], tuple[str, ...]]:
    """The answer where no scale is asked for: a sentence, the value in other units, no warning."""
    if not unit:
        lines = [
            (f"in {other}", _said(amount, units.exact, other))
            for other in units.UNITS[amount.quantity]
        ]
        return f"{amount.understood} is {units.with_article(amount.quantity)}", lines, ()
    exactly = ("exactly", _said(amount, units.exact, unit))
    shown = _said(amount, lambda value, kind, of: units.show(value, kind, unit=of), unit)
    return f"{amount.understood} is {shown}", [exactly], ()


def _unit(text: str, amount: Amount) -> str:
    """The unit of the scale, by its name in the table."""
    unit = units.unit_named(text, amount.quantity)
    if unit is not None:
        return unit
    if (two := units.two_meanings(text, amount.quantity)) is not None:
        expected = f"write {' or '.join(two.names)}"
        raise CalculationError("to", f"“{text[:40]}” {two.why}", expected)
    like = nearest(text, units.UNITS[amount.quantity])
    there = ", ".join(units.UNITS[amount.quantity])
    expected = f'did you mean "{like}"?' if like else f"units are {there}"
    raise CalculationError("to", f'"{text[:40]}" is no unit of {amount.quantity}', expected)


def _made(inputs: Inputs, amount: Amount, unit: str) -> tuple[units.Setting, float | None]:
    step = number(inputs, "step")
    if not 0 < step <= 1e6:
        raise CalculationError("step", f"{step:g} is no step of a scale", "give a step above 0")
    ends = units.ends(amount)
    tolerance: float | None = (ends[-1].value - ends[0].value) / 2 or None
    if "tolerance" in inputs:
        tolerance = _tolerance(str(inputs["tolerance"]), amount)
    return units.setting(amount.value, amount.quantity, unit, step, tolerance), tolerance


def _tolerance(text: str, amount: Amount) -> float:
    """Either side, in the base unit: a share of the value, or a difference with its unit."""
    found = _EITHER_SIDE.fullmatch(text.strip())
    if found is None:
        problem = f"“{text.strip()[:40]}” is of one side only"
        raise CalculationError(
            "tolerance", problem, "give what it may be off either side, such as 10 %"
        )
    size = found["size"]
    if size.endswith("%"):
        return abs(amount.value) * units.read_number(size, unit="%", place="tolerance") / 100
    return units.read_difference(size, amount.quantity, place="tolerance")


def _warnings(made: units.Setting) -> tuple[str, ...]:
    if made.outside:
        return ("This scale cannot be set within the tolerance; take one with finer steps.",)
    if made.matters:
        return ("The rounding takes a noticeable part of the tolerance.",)
    return ()


def _formula(amount: Amount, unit: str) -> str:
    if unit == amount.unit:
        return f"kept in {amount.unit}"
    if amount.quantity == "consumption":  # all others count the other way round
        return f"value in {unit} = {units.convert(1, amount.quantity, unit):.12g} / value in {amount.unit}"
    zero, one = (units.convert(value, amount.quantity, unit) for value in (0, 1))
    offset = f" {'+' if zero > 0 else '−'} {abs(zero):g}" if zero else ""
    return f"value in {unit} = value in {amount.unit} × {one - zero:.12g}{offset}"


CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        name="convert",
        title="Another unit",
        text="What a figure is in the unit of the tool in hand, and what its scale can be set to.",
        asked=(
            Asked("quantity", "Quantity, with its unit", "words", "60 Nm"),
            Asked("to", "Unit of the tool in hand", "words", "lbf·ft", optional=True,
                  help="Left empty: every unit of its kind."),
            Asked("step", "Step of its scale", "number", "0.5", optional=True,
                  help="What the tool can be set to, in its unit."),
            Asked("tolerance", "Tolerance of the figure", "words", "10 %", optional=True,
                  help="A share, or a value with its unit."),
            Asked("kind", "Kind, where the unit has two", "choice", "torque", _KINDS, optional=True),
        ),
        calculate=_convert,
        also=("conversion", "foot pounds", "inches", "miles", "fahrenheit", "psi", "bar", "gallons", "pints"),
    ),
)  # fmt: skip
