"""Where an error of the core stands in the form of a reckoning."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps

from witnessmark.errors import WitnessError
from witnessmark.reckon.model import Inputs, Reckoned, ReckonError

Reckon = Callable[[Inputs], Reckoned]


def placed(otherwise: str, **fields: str) -> Callable[[Reckon], Reckon]:
    """Tell errors of the core at the fields of the form: by ``fields`` (place of the core → field),
    by a field of that very name, else at the field ``otherwise``.
    """  # fmt: skip

    def wrap(reckon: Reckon) -> Reckon:
        @wraps(reckon)
        def told(inputs: Inputs) -> Reckoned:
            try:
                return reckon(inputs)
            except WitnessError as error:
                own = error.place if error.place in inputs else otherwise
                place = fields.get(error.place, own)
                raise ReckonError(place, error.wrong, error.right) from error

        return told

    return wrap
