"""What stands on the first screen of a page, at both sizes: whole, not scrolled to, and with nothing over it."""

from __future__ import annotations

from collections.abc import Mapping

from playwright.sync_api import Page

from screenshots import SIZES

PLATE = {"plate": ".where .plate"}

# The first visible match of each selector. Its corners are tried, for a bar may lie over a part of it.
OFF_SCREEN = """(wanted) => Object.entries(wanted).flatMap(([name, selector]) => {
  scrollTo(0, 0);
  const one = [...document.querySelectorAll(selector)].find((it) => it.checkVisibility());
  if (!one) return [`no ${name}`];
  const { left, top, right, bottom } = one.getBoundingClientRect();
  const words = `${name} "${one.innerText.trim().slice(0, 40)}"`;
  if (top < 0 || left < 0 || right > innerWidth + 1 || bottom > innerHeight)
    return [`${words} at ${Math.round(top)} to ${Math.round(bottom)} of ${innerHeight}`];
  const seen = (x, y) => {
    const hit = document.elementFromPoint(x, y);
    return hit && (one.contains(hit) || hit.contains(one));
  };
  const [l, t, r, b] = [left + 4, top + 4, right - 4, bottom - 4];
  return seen(l, t) && seen(r, t) && seen(l, b) && seen(r, b) ? [] : [`${words} is covered`];
})"""


def missing(page: Page, wanted: Mapping[str, str]) -> list[str]:
    """What of `wanted` (name: selector) is not on the first screen of the page as it stands, in words.

    The plate is always wanted. Example: ``action "Done" at 900 to 960 of 844``.
    """
    found: list[str] = page.evaluate(OFF_SCREEN, PLATE | dict(wanted))
    return found


def off_screen(page: Page, wanted: Mapping[str, str]) -> list[str]:
    """What is missing at either size. Example: ``phone: action "Done" at 900 to 960 of 844``."""
    found = []
    for name, size in SIZES.items():
        page.set_viewport_size(size)
        found += [f"{name}: {words}" for words in missing(page, wanted)]
    return found
