"""The two-minute look before anybody rides it: what is looked at, in which words, and what must not be ridden."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from witnessmark.ledger.bodies import Arrived
from witnessmark.shop.projections import arrival
from witnessmark.shop.work.frame_and_tyre_numbers import TYRES
from witnessmark.shop.work.visit import Work

SEEN_AT_ARRIVAL = "{words}, seen at arrival"  # as the finding of an unsafe one is kept
ENDS = (noop("front"), noop("rear"))


@dataclass(frozen=True)
class Look:
    """One thing to look at, in words as they are kept; whoever shows them translates them.

    The first word says that all is well; `unsafe` ones must be answered before a ride. `where`: what may be said of
    the place. `names`: by word, what books call it (`book.fields.AtTheDoor`); with ``END`` it is one at each end.
    """

    text: str
    words: tuple[str, ...]
    unsafe: tuple[str, ...] = ()
    where: tuple[str, ...] = ()
    names: Mapping[str, str] = field(default_factory=dict)


LOOKS = {
    "leaks": Look(
        noop("Leaks"),
        (noop("none"), noop("oil"), noop("coolant"), noop("brake fluid"), noop("fuel")),
        ("brake fluid", "fuel"),
        (*ENDS, noop("left"), noop("right"), noop("underneath")),
        {word: f"{word} leak" for word in ("oil", "coolant", "brake fluid", "fuel")},
    ),
    "tyres": Look(
        noop("Tyres"),
        (noop("good"), noop("soft"), noop("worn"), noop("cracked"), noop("flat"), noop("old")),
        ("cracked", "flat"),
        ENDS,
        {word: f"{word} tyre, END" for word in ("soft", "worn", "cracked", "flat", "old")},
    ),
    "brakes": Look(
        noop("Brakes"),
        (noop("firm"), noop("soft"), noop("dragging"), noop("noisy")),
        ("soft", "dragging"),
        ENDS,
        {word: f"{word} brake, END" for word in ("soft", "dragging", "noisy")},
    ),
    "lights": Look(
        noop("Lights and horn"),
        (
            noop("all work"), noop("head light out"), noop("brake light out"), noop("indicator out"),
            noop("horn silent"), noop("warning lamp on"),
        ),
        ("brake light out",),
        names={
            word: word
            for word in (
                "head light out", "brake light out", "indicator out", "horn silent", "warning lamp on",
            )
        },
    ),
    "steering": Look(
        noop("Steering and throttle"),
        (noop("free"), noop("notchy"), noop("loose"), noop("throttle sticks")),
        ("loose", "throttle sticks"),
        names={
            "notchy": "steering notchy", "loose": "steering loose", "throttle sticks": "throttle sticks",
        },
    ),
    "drive": Look(
        noop("Drive"),
        (noop("good"), noop("slack"), noop("dry"), noop("noisy")),
        names={word: f"drive {word}" for word in ("slack", "dry", "noisy")},
    ),
    "engine": Look(
        noop("Engine"),
        (noop("sounds right"), noop("noisy"), noop("smokes"), noop("starts badly")),
        names={"noisy": "engine noisy", "smokes": "engine smokes", "starts badly": "starts badly"},
    ),
    "stand": Look(
        noop("Stands, levers, mirrors"),
        (noop("sound"), noop("loose"), noop("bent"), noop("broken")),
        names={word: f"stand or lever {word}" for word in ("loose", "bent", "broken")},
    ),
    "body": Look(
        noop("Paint and body"), (noop("sound"), noop("scratched"), noop("dented"), noop("broken"))
    ),
}  # fmt: skip


def where_of(look: str) -> str:
    """Under which name the place is kept that was said of a look."""
    return f"{look}_where"


WHERE = {where_of(name): name for name, look in LOOKS.items() if look.where}


@dataclass(frozen=True)
class Seen:
    """One thing that was not as it should be, by the words that were tapped."""

    words: str  # in the language of who reads
    kept: str  # as a finding keeps it: ``Brakes: soft``
    unsafe: bool = False
    names: tuple[str, ...] = ()  # what books call it


def seen_in(seen: Mapping[str, str]) -> Iterator[Seen]:
    """What of a look was not as it should be, word by word. Example of ``words``: ``Tyres: worn (rear)``."""
    for name, look in LOOKS.items():
        where = words_of(seen.get(where_of(name), ""))
        for word in words_of(seen.get(name, "")):
            if word != look.words[0]:
                said = f"{_(look.text)}: {_(word)}" + (f" ({shown(where)})" if where else "")
                named = look.names.get(word, "")
                ends = [end for end in ENDS if end in where] or ENDS
                names = dict.fromkeys(named.replace("END", end) for end in ends if named)
                kept = f"{look.text}: {word}"
                yield Seen(said, kept, word in look.unsafe, tuple(names))


def look_of(work: Work) -> Mapping[str, str]:
    """The look at the door, as it was written last; empty where nobody wrote one."""
    entry = arrival(work.entries, work.state)
    return entry.said.look if entry and isinstance(entry.said, Arrived) else {}


def unsafe_in(seen: Mapping[str, str]) -> list[str]:
    """What of a look must be answered before a ride. Example: ``["Brakes: soft"]``."""
    return [one.kept for one in seen_in(seen) if one.unsafe]


def at_the_door(seen: Mapping[str, str]) -> dict[str, str]:
    """What was found, by the name that books have for it, with its words."""
    return {name: one.words for one in seen_in(seen) for name in one.names}


def words_of(seen: str) -> list[str]:
    """The words as they were ticked, from the text that is kept."""
    return [word for word in seen.split(", ") if word]


def text_of(words: Iterable[str]) -> str:
    """Words as one text, to be kept."""
    return ", ".join(words)


def shown(words: Iterable[str]) -> str:
    """What was ticked, to be shown."""
    return text_of(_(word) for word in words)


def also_seen(seen: Mapping[str, str]) -> list[str]:
    """What was written beside the looks; what is marked on the tyres is none of it."""
    return [text for name, text in seen.items() if name not in {*LOOKS, *WHERE, *TYRES}]
