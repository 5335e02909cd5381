"""The fluids of a kit as people read them: packs to open, strokes of the syringe, stages of a fill."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.book import steps
from witnessmark.book.model import Book
from witnessmark.kit.fluids import FluidNeed
from witnessmark.units import System, show


def packs_in_words(need: FluidNeed, system: System = "metric") -> str:
    """The packs to open. Example: ``1 × Engine oil 4 L, 1 × Engine oil 1 L``; nothing where none is listed."""
    return ", ".join(
        f"{each.count} × {each.pack.name or show(each.pack.size_ml, 'volume', system)}"
        for each in need.packs or ()
    )


def refused_in_words(need: FluidNeed) -> Iterator[str]:
    """Each bottle of the shelf that is refused, and why. Example: ``Oil, 1 L: no clutch rating on it …``."""
    for one in need.refused:
        yield f"{one.pack.name or one.pack.grade}: {'; '.join(one.verdict.why)}"


def pours_in_words(book: Book, need: FluidNeed, system: System = "metric") -> Iterator[str]:
    """Each pour with more to say than the whole volume. Example: ``first 3.5 L``; ``by syringe: 3 × 60 mL``."""
    for pour in need.pours:
        if pour.volume_ml is None:
            continue
        volume = show(pour.volume_ml, "volume", system)
        if pour.strokes:
            yield f"by syringe: {pour.strokes.words}"
        elif pour.stage == "first":
            yield f"first {volume}"
        elif pour.stage == "top up":
            yield f"then, to the mark, {volume}"
        elif len(need.pours) > 1:
            yield f"{volume} at “{steps(book)[pour.step].text}”"
