"""Two values on each line, as a table in a manual has them: ``20 °C 2.45 kΩ``, ``2.45 kΩ at 20 °C``."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import TypeVar

from witnessmark import units
from witnessmark.calculators.model import CalculationError, Inputs, lines_of
from witnessmark.errors import WitnessError
from witnessmark.units import Quantity, with_unit

A = TypeVar("A")
B = TypeVar("B")
Part = tuple[Callable[[str], A], str]
"""How one value is read, and the unit of a bare number."""

_BETWEEN = re.compile(r" *(?:[:;=→|\t@]|\bat\b) *")
G = 9.80665  # m/s², by definition (CGPM 1901)


def value_in(quantity: Quantity) -> Callable[[str], float]:
    """A reader of one quantity, in its base unit."""
    return lambda text: units.read(text, quantity).value


def load_n(text: str) -> float:
    """A force, or the weight of a mass, in N."""
    try:
        return units.read(text, "force").value
    except units.QuantityError:
        return units.read(text, "mass").value / 1000 * G


def pairs(
    inputs: Inputs, name: str, first: Part[A], second: Part[B], like: str
) -> list[tuple[A, B]]:
    """Two values a line, told apart by their units or by their order. Faults tell the line.

    Raises CalculationError; ``like`` is a line as it should be.
    """
    return [
        _pair(line, place, name, first, second, like)
        for place, line in enumerate(lines_of(inputs, name), 1)
    ]


def _pair(
    text: str, place: int, name: str, first: Part[A], second: Part[B], like: str
) -> tuple[A, B]:
    found = list(_readings(text, first, second))
    if len(found) == 1:
        return found[0]
    problem = "may be read in two ways" if found else "is not two values"
    raise CalculationError(name, f"line {place}: “{text[:40]}” {problem}", f"write {like}")


def _readings(text: str, first: Part[A], second: Part[B]) -> Iterator[tuple[A, B]]:
    """Every way in which the line is two values."""
    for left, right in _halves(text):
        try:
            yield first[0](with_unit(left, first[1])), second[0](with_unit(right, second[1]))
        except WitnessError:
            try:
                yield first[0](right), second[0](left)
            except WitnessError:
                continue


def _halves(text: str) -> list[tuple[str, str]]:
    """The two parts beside the one sign between them, else beside every blank."""
    plain = " ".join(text.replace("\t", " ; ").split())
    parts = _BETWEEN.split(plain)
    if len(parts) > 1:
        return [(parts[0], parts[1])] if len(parts) == 2 else []
    pieces = plain.split(" ")
    return [(" ".join(pieces[:n]), " ".join(pieces[n:])) for n in range(1, len(pieces))]
