"""Look at pages: screenshots at both sizes in both themes, and their faults printed.

    python3 scripts/screenshots.py --user NAME [--url http://127.0.0.1:8000] [--out DIR] PATH ...

Signs in to a running server (password in WITNESSMARK_PASSWORD), opens each PATH at 1024x768 and
390x844 on paper and at night, saves PNGs, and prints what axe finds, what overflows, which targets
are smaller than 48 px, which words of headings and buttons break over two lines, and errors of the
console. Exit 1 when there is a fault.
A page behind a form is looked at by the browser tests with `faults(page)`.
"""

from __future__ import annotations

import argparse
import os
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Literal

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import (
    Browser,
    ConsoleMessage,
    Page,
    StorageState,
    ViewportSize,
    sync_playwright,
)

from system_parts import CHROMIUM_FLAGS, chromium

SIZES: dict[str, ViewportSize] = {
    "tablet": {"width": 1024, "height": 768},
    "phone": {"width": 390, "height": 844},
}
THEMES: dict[str, Literal["light", "dark"]] = {"paper": "light", "night": "dark"}
TARGET_PX = 48

# A control inside a label is as big as the label; one that cannot be seen is not a target.
SMALL_TARGETS = """(least) => {
  const boxes = [];
  const all = "a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex='0']";
  for (const one of document.querySelectorAll(all)) {
    if (one.matches(".skip") || one.closest("[hidden]")) continue;
    const target = one.closest("label") || one;
    const box = target.getBoundingClientRect();
    if (!target.checkVisibility() || box.width === 0) continue;
    if (box.width < least - .5 || box.height < least - .5)
      boxes.push(`${one.tagName.toLowerCase()} "${(target.innerText || one.name || "").trim().slice(0, 40)}"`
        + ` ${Math.round(box.width)}x${Math.round(box.height)}`);
  }
  return boxes;
}"""
OVERFLOWS = """() => {
  const width = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth <= width) return [];
  return [...document.querySelectorAll("body *")].filter((one) => {
    if (one.closest(".wide") && !one.matches(".wide")) return false;
    return one.checkVisibility() && one.getBoundingClientRect().right > width + 1;
  }).map((one) => `${one.tagName.toLowerCase()}.${one.className}`).slice(0, 5);
}"""

BROKEN_WORDS = """() => {
  const broken = [], range = document.createRange();
  for (const one of document.querySelectorAll("button, .btn, .act, h1, h2, h3, nav a")) {
    if (!one.checkVisibility()) continue;
    const texts = document.createTreeWalker(one, NodeFilter.SHOW_TEXT);
    while (texts.nextNode())
      for (const word of texts.currentNode.data.matchAll(/\\p{L}{2,20}/gu)) {
        range.setStart(texts.currentNode, word.index);
        range.setEnd(texts.currentNode, word.index + word[0].length);
        const lines = [...range.getClientRects()].map((box) => Math.round(box.top));
        if (new Set(lines).size > 1) broken.push(word[0]);
      }
  }
  return broken;
}"""


def faults(page: Page) -> list[str]:
    """What is wrong with the page as it stands: axe, overflow, small targets, broken words. In words."""
    found = [
        f"axe {v['id']}: {v['help']}: {v['nodes'][0]['html'][:160]}"
        for v in Axe().run(page).response["violations"]
    ]
    return found + faults_of_size(page)


def faults_of_size(page: Page) -> list[str]:
    """The part of `faults` that the size of the screen decides; axe takes ten times as long."""
    found = [f"overflows: {one}" for one in page.evaluate(OVERFLOWS)]
    found += [f"small target: {one}" for one in page.evaluate(SMALL_TARGETS, TARGET_PX)]
    found += [f"word broken over two lines: {one}" for one in page.evaluate(BROKEN_WORDS)]
    return found


def main() -> int:
    options = _options()
    options.out.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=CHROMIUM_FLAGS)
        bad = 0
        for name, found in _looks(browser, options):
            print(f"{name}: {'no fault' if not found else ''}")
            for fault in found:
                print(f"  {fault}")
            bad += len(found)
        browser.close()
    return 1 if bad else 0


def _looks(browser: Browser, options: argparse.Namespace) -> Iterator[tuple[str, list[str]]]:
    """Each page at each size in each theme: name of the picture, and faults."""
    state = None
    if options.user:
        password = os.environ["WITNESSMARK_PASSWORD"]
        state = signed_in(browser, options.url, options.user, password)
    for size, viewport in SIZES.items():
        for theme, scheme in THEMES.items():
            context = browser.new_context(
                viewport=viewport, color_scheme=scheme, storage_state=state, base_url=options.url
            )
            page = context.new_page()
            told = _listen(page)
            for path in options.paths:
                name = f"{_slug(path)}-{size}-{theme}"
                answer = page.goto(path)
                found = faults(page)
                if answer is None or answer.status >= 500:
                    found.insert(0, f"answered {answer and answer.status}")
                page.screenshot(path=options.out / f"{name}.png", full_page=options.full)
                yield name, found + [f"console: {line}" for line in told]
                told.clear()
            context.close()


def _listen(page: Page) -> list[str]:
    """A list that grows by what the console calls an error, a refused style for one."""
    told: list[str] = []

    def console(message: ConsoleMessage) -> None:
        if message.type == "error":
            told.append(message.text)

    page.on("console", console)
    page.on("pageerror", lambda error: told.append(str(error)))
    return told


def signed_in(browser: Browser, url: str, user: str, password: str) -> StorageState:
    """The cookies of somebody signed in."""
    page = browser.new_page(base_url=url)
    page.goto("/sign-in/")
    page.get_by_label("Username").fill(user)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in").click()
    page.locator(".menu").wait_for()  # there for whoever is signed in
    return page.context.storage_state()


def _slug(path: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", path.lower()).strip("-")[:60] or "today"


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("paths", nargs="+", metavar="PATH")
    parser.add_argument("--url", default="http://127.0.0.1:8000")
    parser.add_argument("--user", default="", help="sign-in name; none: look from outside")
    parser.add_argument("--out", type=Path, default=Path("test-results/looks"))
    parser.add_argument("--full", action="store_true", help="the whole page, not the first screen")
    return parser.parse_args()


if __name__ == "__main__":
    sys.exit(main())
