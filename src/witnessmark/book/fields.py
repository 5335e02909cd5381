"""What the keys and values of a book are written in: ids, words, states, minutes; the base of its models."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, ConfigDict, Field, StringConstraints

from witnessmark.frozen import FrozenModel

ID_PATTERN = r"^[a-z][a-z0-9_]*$"
STATE_PATTERN = r"^[a-z][a-z0-9_ ]*$"
LANGUAGE_PATTERN = r"^[a-z]{2,3}$"
Id = Annotated[str, StringConstraints(pattern=ID_PATTERN, max_length=60)]
Words = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=2000)]
State = Annotated[str, StringConstraints(pattern=STATE_PATTERN, max_length=40)]
Minutes = Annotated[
    float, Field(ge=0, le=100_000, multiple_of=0.1), AfterValidator(lambda m: round(m, 1))
]
Language = Annotated[str, StringConstraints(pattern=LANGUAGE_PATTERN)]  # ISO 639
Units = Annotated[int, Field(ge=1, le=1000)]
Gate = Literal["starter", "wheels on the ground", "road test", "hand-back"]

# What only the words of a step can say: it is marked, so that rules can ask for it.
Assured = Literal[
    "spacers in order", "turns freely", "direction arrow", "age told", "balanced", "clip forward",
    "minus off first, on last", "owner told of clock and radio", "piston position", "tensioner first",
    "turned twice by hand", "marks in line",
]  # fmt: skip

# What the look at the door can find, in the words by which a step says that it looks at it or mends it. The looks
# themselves, in the words that are tapped, stand in `shop/work/arrival_look.py`.
AtTheDoor = Literal[
    "oil leak", "coolant leak", "brake fluid leak", "fuel leak",
    "soft tyre, front", "worn tyre, front", "cracked tyre, front", "flat tyre, front", "old tyre, front",
    "soft tyre, rear", "worn tyre, rear", "cracked tyre, rear", "flat tyre, rear", "old tyre, rear",
    "soft brake, front", "dragging brake, front", "noisy brake, front",
    "soft brake, rear", "dragging brake, rear", "noisy brake, rear",
    "head light out", "brake light out", "indicator out", "horn silent", "warning lamp on",
    "steering notchy", "steering loose", "throttle sticks",
    "drive slack", "drive dry", "drive noisy",
    "engine noisy", "engine smokes", "starts badly",
    "stand or lever loose", "stand or lever bent", "stand or lever broken",
]  # fmt: skip


def _blank_is_absent(value: Any) -> Any:
    return None if isinstance(value, str) and not value.strip() else value


# A figures sheet is handed out with value = "" to be filled in: left blank, it is not given.
Written = Annotated[
    Annotated[str, StringConstraints(strip_whitespace=True, max_length=400)] | None,
    BeforeValidator(_blank_is_absent),
]


class BookModel(FrozenModel):
    """A part of a book: what is of another type is refused, not converted."""

    model_config = ConfigDict(strict=True, allow_inf_nan=False)
