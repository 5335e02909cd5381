"""Oil in a clutch: JASO T903 friction classes, from their three indices and from what is printed."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

from witnessmark.fluids.grades import plain
from witnessmark.fluids.volume import FluidError

Rating = Literal["MA", "MA1", "MA2", "MB"]
WET: tuple[Rating, ...] = ("MA", "MA1", "MA2")  # made for a clutch that runs in the oil
SLIPS = "the clutch may slip"


@dataclass(frozen=True, slots=True)
class Band:
    """From least up to most of one index; `most` belongs to it where `closed`."""

    least: float
    most: float
    closed: bool = False

    def holds(self, value: float) -> bool:
        """Whether an index lies in it."""
        return self.least <= value < self.most or (self.closed and value == self.most)


# JASO T903:2016 Annex A: dynamic, static friction index and stop time index (DFI, SFI, STI).
# MA2's DFI from 1.50 and class MB from memory; its 2006 edition had 0.50 as the lower limit.
INDICES = ("DFI", "SFI", "STI")
# The same.
BANDS: dict[Rating, tuple[Band, Band, Band]] = {
    "MA": (
        Band(1.35, 2.5, closed=True),
        Band(1.45, 2.5, closed=True),
        Band(1.40, 2.5, closed=True),
    ),
    "MA1": (Band(1.35, 1.50), Band(1.45, 1.60), Band(1.40, 1.60)),
    "MA2": (
        Band(1.50, 2.5, closed=True),
        Band(1.60, 2.5, closed=True),
        Band(1.60, 2.5, closed=True),
    ),
    "MB": (Band(0.40, 1.35), Band(0.40, 1.45), Band(0.40, 1.40)),
}


def classify(dfi: float, sfi: float, sti: float) -> Rating:
    """The class of three measured indices: MA2 or MA1 only with all three in it, any low one makes MB.

    Raises FluidError for indices outside what the classes cover.
    """
    values = (dfi, sfi, sti)
    for name, value in zip(INDICES, values, strict=True):
        if not (math.isfinite(value) and 0.4 <= value <= 2.5):
            raise FluidError(
                name, f"{value:g} belongs to no class", "the classes cover 0.40 to 2.50"
            )
    for rating in ("MA2", "MA1", "MA"):
        if all(band.holds(value) for band, value in zip(BANDS[rating], values, strict=True)):
            return rating
    return "MB"


_JASO = re.compile(
    r"\bJASO\s*(?:T\s*903(?::\d{4})?\s*)?[-:,]?\s*([A-Z]{2}[\s-]?\d?)(?![A-Z0-9])", re.IGNORECASE
)
_BARE = re.compile(r"(?<![A-Z0-9-])(MA(?:-?[12])?|MB)(?![A-Z0-9])", re.IGNORECASE)
_TWO_STROKE = ("FA", "FB", "FC", "FD")  # JASO M345, for two-stroke oil
_BY_WORDS = re.compile(
    r"(?<!not )(?<!no )\b(?:rated |suitable |made )?(?:for (?:a )?)?wet[- ]clutch", re.IGNORECASE
)
_SAVING = re.compile(r"\b(resource|energy)[- ]conserving\b|\bILSAC\b|\bGF-\d", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Printed:
    """What a label says about clutches: ratings, a claim in words, and whether it saves fuel by slipping."""

    ratings: tuple[Rating, ...] = ()
    by_words: bool = False
    saving: bool = False


def printed(text: str) -> Printed:
    """Read the clutch ratings of a label. Raises FluidError for a JASO class there is none of."""
    text = plain(text)
    ratings: list[Rating] = []
    for hit in _JASO.finditer(text):
        name = _plain_name(hit[1])
        if name in BANDS:
            ratings.append(name)
        elif name not in _TWO_STROKE:
            raise FluidError(
                "rating", f"“{hit[0].strip()}” is no JASO class", "classes are MA, MA1, MA2 and MB"
            )
    bare = {_plain_name(hit) for hit in _BARE.findall(text)}
    ratings += [rating for rating in BANDS if rating in bare]
    return Printed(
        tuple(dict.fromkeys(ratings)), bool(_BY_WORDS.search(text)), bool(_SAVING.search(text))
    )


def _plain_name(written: str) -> str:
    """MA2 of ``ma-2``, ``MA 2``."""
    return re.sub(r"[\s-]", "", written).upper()


def why_not_wet(label: str, wanted: str = "") -> str | None:
    """Why an oil may not run in a wet clutch, in words; None where it may.

    ``wanted``: what the book asks for; where it names MA1 or MA2, plain MA is not enough.
    """
    said, asked = printed(label), printed(wanted).ratings
    if "MB" in said.ratings:
        return f"JASO MB, made for dry clutches: {SLIPS}"
    if said.saving:
        return f"it saves fuel by friction modifiers: {SLIPS}"
    wet = [rating for rating in said.ratings if rating in WET]
    if not wet and not said.by_words:
        return f"no clutch rating on it: {SLIPS}"
    narrow = [rating for rating in asked if rating in ("MA1", "MA2")]
    if narrow and "MA" not in asked and not set(narrow) & set(wet):
        has = " and ".join(f"JASO {rating}" for rating in wet) or "a wet clutch in words only"
        return f"{has}, and the book asks for JASO {' or '.join(narrow)}"
    return None
