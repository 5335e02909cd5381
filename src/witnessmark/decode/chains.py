"""Drive chains: the number on the side plate, and how much a chain has grown."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from witnessmark.decode.errors import DecodeError, plain, shown

SOURCE = "ISO 606, ISO 10190 and JIS B 1801 sizes; first digit / 8 in pitch, last two / 80 in inner width"
PLACE = "chain"
MM_PER_IN = 25.4  # by definition


@dataclass(frozen=True)
class Chain:
    """A chain size: pitch, largest roller diameter and least inner width in mm; ``source`` names its table."""

    name: str
    pitch_mm: float
    roller_mm: float
    inner_mm: float
    source: str


_MOTORCYCLE = "motorcycle chain size tables (ISO 10190 / JIS B 1801 family, secondary)"
_ISO = "ISO 606 (from memory)"
CHAINS: dict[str, Chain] = {
    name: Chain(name, pitch, roller, inner, source)
    for name, pitch, roller, inner, source in (
        ("415", 12.7, 7.77, 4.76, _MOTORCYCLE), ("420", 12.7, 7.77, 6.35, _MOTORCYCLE),
        ("428", 12.7, 8.51, 7.75, _MOTORCYCLE), ("520", 15.875, 10.16, 6.35, _MOTORCYCLE),
        ("525", 15.875, 10.16, 7.95, _MOTORCYCLE), ("530", 15.875, 10.16, 9.53, _MOTORCYCLE),
        ("532", 15.875, 11.10, 9.53, _MOTORCYCLE), ("630", 19.05, 11.91, 9.53, _MOTORCYCLE),
        ("05B", 8.0, 5.0, 3.0, _ISO), ("06B", 9.525, 6.35, 5.72, _ISO),
        ("08A", 12.7, 7.92, 7.85, _ISO), ("08B", 12.7, 8.51, 7.75, _ISO),
        ("10A", 15.875, 10.16, 9.40, _ISO), ("10B", 15.875, 10.16, 9.65, _ISO),
        ("12A", 19.05, 11.91, 12.57, _ISO), ("12B", 19.05, 12.07, 11.68, _ISO),
    )
}  # fmt: skip
ANSI = {"40": "08A", "50": "10A", "60": "12A"}  # ANSI B29.1 numbers of the same chains
_MOST = 80  # letters; for the program
_NO_RULE = ("428", "532")  # the width rule of the numbers does not hold for them
_FORM = re.compile(
    r"(?P<before>.*?)(?<!\d)(?:ANSI ?(?P<ansi>[456]0)|(?P<size>"
    + "|".join(CHAINS)
    + r"))(?:-(?P<strands>[1-3])(?!\d))?(?!\d)(?P<rest>.*)"
)


@dataclass(frozen=True)
class ChainMarking:
    """A marking as read: the chain, its strands, its links where told, and letters that are the maker's own."""

    chain: Chain
    strands: int
    links: int | None
    rest: str


def read_chain(text: str, *, place: str = PLACE) -> ChainMarking:
    """Read a chain marking: 520, 525 X 110, 08B-1, ANSI 50. Raises DecodeError where no size is in it."""
    written = plain(text)
    found = _FORM.match(f"ANSI {written}" if written in ANSI else written)
    if found is None or len(written) > _MOST:
        expected = f"one of {', '.join(CHAINS)}, ANSI {', '.join(ANSI)}"
        raise DecodeError(place, f"{shown(text)} is no chain size we know", expected)
    chain = CHAINS[found["size"] or ANSI[found["ansi"]]]
    links = re.search(r"(?:[X×*/-] ?|\b)(\d{2,3}) ?(?:L|LINKS)?$", found["rest"])
    count = int(links[1]) if links and 20 <= int(links[1]) <= 300 else None
    rest = found["rest"][: links.start()] if links and count else found["rest"]
    own = f"{found['before']} {rest}".replace("ISO 606", "").replace("ISO606", "")
    return ChainMarking(
        chain, int(found["strands"] or 1), count, " ".join(own.split()).strip(" -×*/,")
    )


def pitch_by_rule(number: str) -> float:
    """Pitch in mm by the first digit of a three-digit number, in eighths of an inch."""
    return int(number[0]) * MM_PER_IN / 8


def width_by_rule(number: str) -> float | None:
    """Inner width in mm by the last two digits, in eightieths of an inch; None where the rule does not hold."""
    return None if number in _NO_RULE else int(number[1:]) * MM_PER_IN / 80


# ---------------------------------------------------------------- wear

WEAR_SOURCE = "elongation = (length − links × pitch) / (links × pitch)"
LIMIT_SOURCE = "roller-chain makers restating ANSI B29.1: 3 %, above 66 teeth 200 / teeth; the machine's manual decides"
_ABSURD_PERCENT = 5.0  # judged by us


def elongation_percent(length_mm: float, links: int, pitch_mm: float) -> float:
    """Growth in percent of `links` links measured pin to pin; negative where it measures short.

    Raises DecodeError for lengths and counts that are none.
    """
    if not (math.isfinite(pitch_mm) and 4 <= pitch_mm <= 40):
        raise DecodeError("pitch", f"{pitch_mm:g} mm is no pitch of a chain", "give 4 mm to 40 mm")
    if not 1 <= links <= 300:
        raise DecodeError(
            "links", f"{links} links cannot be measured", "give 1 to 300; usually 10 to 20"
        )
    if not (math.isfinite(length_mm) and 0 < length_mm <= 10_000):
        raise DecodeError(
            "length",
            f"{length_mm:g} mm is no length of a chain",
            "measure pin to pin under tension",
        )
    new = links * pitch_mm
    return (length_mm - new) / new * 100


def length_at(percent: float, links: int, pitch_mm: float) -> float:
    """Length in mm of so many links grown by so many percent."""
    return links * pitch_mm * (1 + percent / 100)


def published_limit(teeth: int) -> float:
    """Percent at which a chain on an adjustable drive is replaced: 3, on a large sprocket less."""
    if not 5 <= teeth <= 200:
        raise DecodeError(
            "teeth", f"{teeth} is no number of teeth", "count the large sprocket's: 5 to 200"
        )
    return min(3.0, 200 / teeth)


def wear_words(percent: float, limit_percent: float, resolution_percent: float = 0.0) -> str:
    """Growth against a limit, in words; what cannot be is asked about before it is judged."""
    said = f"{percent:.2f} %"
    if percent > _ABSURD_PERCENT:
        return f"{said}: more than a chain grows before it jumps: count the links again"
    if percent < -resolution_percent - 0.05:
        return f"{said}: shorter than new: measured slack, or links miscounted; it says nothing of the life left"
    if percent - resolution_percent > limit_percent:
        return f"{said}: above the limit of {limit_percent:g} %"
    if percent + resolution_percent >= limit_percent:
        return f"{said}: at the limit of {limit_percent:g} %"
    return f"{said}: within the limit of {limit_percent:g} %"
