"""The two-minute look before anybody rides it: what is looked at, in which words, and what must not be ridden."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop


@dataclass(frozen=True)
class Look:
    """One thing to look at, in words as they are kept; whoever shows them translates them.

    The first word says that all is well; `unsafe` ones must be answered before a ride.
    """

    text: str
    words: tuple[str, ...]
    unsafe: tuple[str, ...] = ()


LOOKS = {
    "leaks": Look(
        noop("Leaks"),
        (noop("none"), noop("oil"), noop("coolant"), noop("brake fluid"), noop("fuel")),
        ("brake fluid", "fuel"),
    ),
    "tyres": Look(
        noop("Tyres"),
        (noop("good"), noop("soft"), noop("worn"), noop("cracked"), noop("flat")),
        ("cracked", "flat"),
    ),
    "brakes": Look(
        noop("Brakes"),
        (noop("firm"), noop("soft"), noop("dragging"), noop("noisy")),
        ("soft", "dragging"),
    ),
    "lights": Look(
        noop("Lights and horn"),
        (
            noop("all work"), noop("head light out"), noop("brake light out"), noop("indicator out"),
            noop("horn silent"),
        ),
        ("brake light out",),
    ),
    "steering": Look(
        noop("Steering and throttle"),
        (noop("free"), noop("notchy"), noop("loose"), noop("throttle sticks")),
        ("loose", "throttle sticks"),
    ),
    "drive": Look(noop("Drive"), (noop("good"), noop("slack"), noop("dry"), noop("noisy"))),
    "stand": Look(
        noop("Stands, levers, mirrors"),
        (noop("sound"), noop("loose"), noop("bent"), noop("broken")),
    ),
    "body": Look(
        noop("Paint and body"), (noop("sound"), noop("scratched"), noop("dented"), noop("broken"))
    ),
}  # fmt: skip


def unsafe_in(seen: Mapping[str, str]) -> list[str]:
    """What of a look must be answered before a ride. Example: ``["Brakes: soft"]``."""
    return [
        f"{look.text}: {word}"
        for name, look in LOOKS.items()
        for word in words_of(seen.get(name, ""))
        if word in look.unsafe
    ]


def words_of(seen: str) -> list[str]:
    """The words as they were ticked, from the text that is kept."""
    return [word for word in seen.split(", ") if word]


def text_of(words: Iterable[str]) -> str:
    """Words as one text, to be kept."""
    return ", ".join(words)


def shown(seen: str) -> str:
    """What was ticked, to be shown."""
    return text_of(_(word) for word in words_of(seen))


def wrong_in(seen: Mapping[str, str]) -> list[str]:
    """What of a look was not as it should be. Example: ``["Tyres: worn", "Lights and horn: horn silent"]``."""
    found = []
    for name, look in LOOKS.items():
        words = [_(word) for word in words_of(seen.get(name, "")) if word != look.words[0]]
        found += [f"{_(look.text)}: {text_of(words)}"] if words else []
    return [*found, *(text for name, text in seen.items() if name not in LOOKS)]
