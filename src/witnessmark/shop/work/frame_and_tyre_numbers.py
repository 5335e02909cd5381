"""What stands on a machine, read: its identification number, its tyres. Text as typed is kept; this only tells."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from witnessmark.decode import DecodeError, Described, age_words, read_marking, told
from witnessmark.shop.forms import in_words

TYRES = {
    "tyre_front": gettext_lazy("Front tyre"),
    "tyre_rear": gettext_lazy("Rear tyre"),
}  # ids in the look of an arrival


@dataclass(frozen=True)
class Marked:
    """One marking: where it stands, as typed, and what it says."""

    where: str
    written: str
    told: Described


def number_told(written: str) -> Described:
    """An identification number in words."""
    return told(written, timezone.localdate().year)


def tyre_told(written: str) -> Described:
    """A tyre's marking in words: size, load and speed, age; each part that could not be read as a warning."""
    if not written.strip():
        return Described((), ())
    today = timezone.localdate()
    try:
        read = read_marking(written, today)
    except DecodeError as error:
        return Described((), (in_words(error),))
    facts: list[tuple[str, str]] = []
    if size := read.size:
        width = _("{size}: {width} mm wide, rim {rim} in, {construction}").format(
            size=size.written,
            width=f"{size.width_mm:.0f}",
            rim=f"{size.rim_in:g}",
            construction=size.construction,
        )
        facts.append((_("Size"), width))
    if speed := (read.rating.words if read.rating else read.words_of_speed):
        facts.append((_("Load and speed") if read.rating else _("Speed"), speed))
    if read.made:
        facts.append((_("Made"), f"{read.made.words}, {age_words(read.made, today)}"))
    if read.directed:
        facts.append((_("Direction"), _("it has an arrow")))
    facts += read.words
    return Described(tuple(facts), tuple(f"“{part}”: {why}." for part, why in read.unread))


def tyres_marked(look: Mapping[str, str]) -> list[Marked]:
    """The tyres that were read off at an arrival."""
    return [
        Marked(str(where), look[name], tyre_told(look[name]))
        for name, where in TYRES.items()
        if look.get(name)
    ]
