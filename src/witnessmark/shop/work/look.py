"""The two-minute look before anybody rides it: what is looked at, in which words, and what must not be ridden."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Look:
    """One thing to look at. The first word says that all is well; `unsafe` ones must be answered before a ride."""

    text: str
    words: tuple[str, ...]
    unsafe: tuple[str, ...] = ()


LOOKS = {
    "leaks": Look(
        "Leaks", ("none", "oil", "coolant", "brake fluid", "fuel"), ("brake fluid", "fuel")
    ),
    "tyres": Look("Tyres", ("good", "soft", "worn", "cracked", "flat"), ("cracked", "flat")),
    "brakes": Look("Brakes", ("firm", "soft", "dragging", "noisy"), ("soft", "dragging")),
    "lights": Look(
        "Lights and horn",
        ("all work", "head light out", "brake light out", "indicator out", "horn silent"),
        ("brake light out",),
    ),
    "steering": Look(
        "Steering and throttle",
        ("free", "notchy", "loose", "throttle sticks"),
        ("loose", "throttle sticks"),
    ),
    "drive": Look("Drive", ("good", "slack", "dry", "noisy")),
    "stand": Look("Stands, levers, mirrors", ("sound", "loose", "bent", "broken")),
    "body": Look("Paint and body", ("sound", "scratched", "dented", "broken")),
}


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


def wrong_in(seen: Mapping[str, str]) -> list[str]:
    """What of a look was not as it should be. Example: ``["Tyres: worn", "Lights and horn: horn silent"]``."""
    found = []
    for name, look in LOOKS.items():
        words = [word for word in words_of(seen.get(name, "")) if word != look.words[0]]
        found += [f"{look.text}: {text_of(words)}"] if words else []
    return [*found, *(text for name, text in seen.items() if name not in LOOKS)]
