"""Where an error of the core stands in the form of a calculator."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps

from witnessmark.calculators.model import Calculated, CalculationError, Inputs
from witnessmark.errors import WitnessError

Calculate = Callable[[Inputs], Calculated]


def placed(otherwise: str, **fields: str) -> Callable[[Calculate], Calculate]:
    """Tell errors of the core at the fields of the form: by ``fields`` (place of the core → field),
    by a field of that very name, else at the field ``otherwise``.
    """  # fmt: skip

    def wrap(calculate: Calculate) -> Calculate:
        @wraps(calculate)
        def told(inputs: Inputs) -> Calculated:
            try:
                return calculate(inputs)
            except WitnessError as error:
                own = error.place if error.place in inputs else otherwise
                place = fields.get(error.place, own)
                raise CalculationError(place, error.problem, error.expected) from error

        return told

    return wrap
