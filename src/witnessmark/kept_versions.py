"""What was kept names its format; it is read before anything else of it.

Format 1 is the first. A document of an older format is brought to the newest, step by step, as it is
read; what is kept, and its hash, never change. One of a newer format is refused in words.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from witnessmark.errors import WitnessError

Said = Mapping[str, Any]
Upcast = Callable[[Said], Said]  # one format to the next


class KeptError(WitnessError):
    """Something kept that cannot be used: gone, changed since, or made by a newer version."""


def as_newest(what: str, said: object, upcasts: Sequence[Upcast] = ()) -> Said:
    """A kept document as the newest format has it.

    ``upcasts``: from format 1 to 2, from 2 to 3, …; so the newest is one more than there are.
    Raises KeptError for a newer format, or none.
    """
    number = said.get("format") if isinstance(said, Mapping) else None
    if not isinstance(said, Mapping) or type(number) is not int or number < 1:
        raise KeptError(what, "does not say its format", "an object with a format from 1")
    newest = len(upcasts) + 1
    if number > newest:
        problem = (
            f"was made by a newer version: its format is {number}, this one reads up to {newest}"
        )
        raise KeptError(what, problem, "update Witness Mark")
    for step in upcasts[number - 1 :]:
        said = step(said)
    return said
