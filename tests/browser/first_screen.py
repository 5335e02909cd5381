"""What stands on the first screen of a page, at both sizes: whole, not scrolled to, and with nothing over it."""

from __future__ import annotations

from collections.abc import Mapping

from playwright.sync_api import Page

from screenshots import SIZES

PLATE = ".where .plate"

# The first visible match of each selector. Corners are tried, for a bar may lie over a part of it.
OFF_SCREEN = """(wanted) => Object.entries(wanted).flatMap(([name, selector]) => {
  const one = [...document.querySelectorAll(selector)].find((it) => it.checkVisibility());
  if (!one) return [`no ${name}`];
  const { left, top, right, bottom } = one.getBoundingClientRect();
  const words = `${name} "${one.innerText.trim().slice(0, 40)}"`;
  if (top < 0 || left < 0 || right > innerWidth + 1 || bottom > innerHeight)
    return [`${words} at ${Math.round(top)} to ${Math.round(bottom)} of ${innerHeight}`];
  const seen = (x, y) => { const hit = document.elementFromPoint(x, y); return hit && (one.contains(hit) || hit.contains(one)); };
  const corners = [[left + 4, top + 4], [right - 4, top + 4], [left + 4, bottom - 4], [right - 4, bottom - 4]];
  return corners.every(([x, y]) => seen(x, y)) ? [] : [`${words} is covered`];
})"""


def off_screen(page: Page, wanted: Mapping[str, str]) -> list[str]:
    """What of `wanted` (name: selector) is not on the first screen, in words; the plate is always wanted.

    Each name is looked for at both sizes, on the page scrolled to its top. Example: ``phone: action "Done" at 900
    to 960 of 844``.
    """
    found = []
    for name, size in SIZES.items():
        page.set_viewport_size(size)
        page.evaluate("scrollTo(0, 0)")
        missing = page.evaluate(OFF_SCREEN, {"plate": PLATE, **wanted})
        found += [f"{name}: {words}" for words in missing]
    return found
