"""Lines that hold a name and values, such as ``inlet 1: 0.05 2.350``, and limits that are put in."""

from __future__ import annotations

import re

from witnessmark import units
from witnessmark.calculators.model import (
    CalculationError,
    Inputs,
    apart_in,
    lines_of,
    maybe_amount,
    read_line,
    single,
)
from witnessmark.facts import Limit
from witnessmark.units import Amount, Quantity

_NUMBERS = re.compile(r"(?<=[\w\"″.])\s+(?=[^\sA-Za-zµ\"″])")  # a blank before what is no unit


def rows(
    inputs: Inputs,
    name: str,
    quantity: Quantity,
    unit: str,
    what: str,
    example: str,
    count: int = 1,
) -> list[tuple[str, list[Amount]]]:
    """Of each line its name, else ``what`` with its number, and so many values, in ``unit`` where none is written.

    Raises CalculationError, which tells the line, for another number of values.
    """
    expected = f"one {what} a line, such as {example}"
    lines = single(inputs, name) if count == 1 else lines_of(inputs, name)
    read: list[tuple[str, list[Amount]]] = []
    for place, line in enumerate(lines, 1):
        called, colon, rest = line.rpartition(":")
        parts = [rest.strip()] if count == 1 else _values(rest.strip())
        if len(parts) != count or ":" in called or (colon and not called.strip()):
            problem = f"line {place}, “{line[:40]}”, does not hold {count} of one {what}"
            raise CalculationError(name, problem, expected)
        if not re.search(r"\d", parts[0][:2]):  # a name without its colon
            problem = f"line {place}, “{line[:40]}”, does not start with a number"
            raise CalculationError(name, problem, expected)
        label = called.strip() or str(place)
        label = f"{what} {label}" if label.isdecimal() else label
        read.append((label, [read_line(text, place, name, quantity, unit) for text in parts]))
    return read


def _values(text: str) -> list[str]:
    parts = apart_in(text)
    return parts if len(parts) > 1 else _NUMBERS.split(text)


def limits(
    inputs: Inputs, least: str = "least", most: str = "most"
) -> tuple[Limit | None, Limit | None]:
    """What was put in as least and most; refused where they are the wrong way round."""
    low, high = limit(inputs, least), limit(inputs, most)
    if low and high and low.value > high.value:
        raise CalculationError(least, "the least is more than the most", "change them over")
    return low, high


def limit(inputs: Inputs, name: str) -> Limit | None:
    """A limit that may be left out."""
    given = maybe_amount(inputs, name)
    return Limit(given.value, "as put in") if given else None


def length(value_mm: float) -> str:
    """A length for people, without the noise of floats."""
    return units.show(round(value_mm, 6), "length")
