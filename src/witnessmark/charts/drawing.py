"""Small line drawings as SVG text, in the colour of the ink around them.

Only presentation attributes are used (no ``style``: the pages' policy refuses it), every word is
escaped, and the title is what somebody who cannot see the drawing is told.
"""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from typing import Literal

Anchor = Literal["start", "middle", "end"]
TEXT_PX = 15
BROAD_PX = 360  # wider than this, a phone shows it by a swipe and not smaller


def drawing(title: str, width: float, height: float, *shapes: str) -> str:
    """An SVG of that size (also its aspect), made of shapes by the functions below.

    Without a title it stands beside words that say the same, and is passed over when a page is read out.
    """
    broad = ' class="broad"' if width > BROAD_PX else ""
    told = 'role="img"' if title else 'aria-hidden="true"'
    named = f"<title>{escape(title)}</title>" if title else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg"{broad} viewBox="0 0 {_n(width)} {_n(height)}" '
        f'width="{_n(width)}" height="{_n(height)}" {told} fill="none" stroke="currentColor" '
        'stroke-width="2" stroke-linecap="round" stroke-linejoin="round" '
        f'font-family="sans-serif" font-size="{TEXT_PX}">'
        f"{named}{''.join(shapes)}</svg>"
    )


def line(
    x1: float, y1: float, x2: float, y2: float, *, thick: float = 2, dashed: bool = False
) -> str:
    """A stroke from one point to another."""
    dashes = ' stroke-dasharray="6 5"' if dashed else ""
    return (
        f'<line x1="{_n(x1)}" y1="{_n(y1)}" x2="{_n(x2)}" y2="{_n(y2)}" '
        f'stroke-width="{_n(thick)}"{dashes}/>'
    )


def path(points: Iterable[tuple[float, float]], *, closed: bool = False, thick: float = 2) -> str:
    """Strokes through points."""
    d = " L".join(f"{_n(x)} {_n(y)}" for x, y in points)
    return f'<path d="M{d}{" Z" if closed else ""}" stroke-width="{_n(thick)}"/>'


def box(
    x: float, y: float, width: float, height: float, *, filled: bool = False, dashed: bool = False
) -> str:
    """A rectangle, its left upper corner at x, y."""
    look = ' fill="currentColor"' if filled else ""
    look += ' stroke-dasharray="4 4"' if dashed else ""
    return f'<rect x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" height="{_n(height)}"{look}/>'


def circle(x: float, y: float, radius: float, *, filled: bool = False) -> str:
    """A circle about x, y."""
    fill = ' fill="currentColor"' if filled else ""
    return f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(radius)}"{fill}/>'


def words(
    x: float,
    y: float,
    text: str,
    *,
    anchor: Anchor = "start",
    size: float = TEXT_PX,
    on_ink: bool = False,
) -> str:
    """Text on its base line. ``on_ink``: it stands in a filled shape; the page's class gives its colour."""
    colour = 'class="on-ink"' if on_ink else 'fill="currentColor"'
    return (
        f'<text x="{_n(x)}" y="{_n(y)}" text-anchor="{anchor}" font-size="{_n(size)}" '
        f'{colour} stroke="none">{escape(text)}</text>'
    )


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
