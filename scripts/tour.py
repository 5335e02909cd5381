"""Take the pictures of the tour from a demo workshop made for it: docs/pictures/*.png.

    python3 scripts/tour.py [--out DIR]

Builds the demo in a folder that is gone afterwards, serves it, signs in and opens the pages in the
order of the job. Stops at the first page that does not answer as it should.
"""

from __future__ import annotations

import argparse
import os
import socket
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import files
from pathlib import Path
from typing import NamedTuple

from playwright.sync_api import Browser, BrowserContext, sync_playwright

from screenshots import SIZES, signed_in
from system_parts import CHROMIUM_FLAGS, chromium

ROOT = Path(__file__).resolve().parent.parent
WITNESSMARK = str(Path(sys.executable).with_name("witnessmark"))
SCENARIO = files("witnessmark.demo").joinpath("scenario.toml")
PATIENCE_SECONDS = 60


class Picture(NamedTuple):
    """A page of one machine's visit, or of the whole shop, as one kind of device shows it."""

    name: str
    size: str
    plate: str
    page: str


PICTURES = [
    Picture("today", "tablet", "", ""),
    Picture("needs", "tablet", "LY-77-QT", "needs"),
    Picture("price", "tablet", "LY-31-BR", "price"),
    Picture("order", "tablet", "LY-14-QT", "order"),
    Picture("bench", "tablet", "LY-55-BR", "bench"),
    Picture("bench-phone", "phone", "LY-55-BR", "bench"),
    Picture("handback", "tablet", "LY-55-BR", "handback"),
    Picture("papers", "tablet", "LY-08-SI", "papers"),
]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--out", type=Path, default=ROOT / "docs" / "pictures")
    out = parser.parse_args().out
    out.mkdir(parents=True, exist_ok=True)
    with demo_served() as url, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=CHROMIUM_FLAGS)
        take(browser, url, out)
        browser.close()


@contextmanager
def demo_served() -> Iterator[str]:
    """The address of a new demo workshop, served until the block ends."""
    with tempfile.TemporaryDirectory() as home, socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
        free.close()
        settings = {**os.environ, "WITNESSMARK_HOME": home}
        settings.pop("DATABASE_URL", None)
        subprocess.run([WITNESSMARK, "demo", "build"], env=settings, check=True)
        server = subprocess.Popen([WITNESSMARK, "serve", "--port", str(port)], env=settings)
        try:
            wait_for(port, server)
            yield f"http://127.0.0.1:{port}"
        finally:
            server.terminate()
            server.wait()


def wait_for(port: int, server: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + PATIENCE_SECONDS
    while time.monotonic() < until and server.poll() is None:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
        except OSError:
            time.sleep(0.1)
        else:
            return
    sys.exit("tour: the server did not start; its own words stand above")


def take(browser: Browser, url: str, out: Path) -> None:
    said = tomllib.loads(SCENARIO.read_text(encoding="utf-8"))
    state = signed_in(browser, url, next(iter(said["members"])), said["password"])
    for size, viewport in SIZES.items():
        context = browser.new_context(viewport=viewport, storage_state=state, base_url=url)
        for picture in (one for one in PICTURES if one.size == size):
            page = context.new_page()
            answer = page.goto(address(context, picture))
            if answer is None or not answer.ok:
                sys.exit(f"tour: {page.url} answered {answer and answer.status}")
            page.screenshot(path=out / f"{picture.name}.png")
            page.close()
            print(f"{picture.name}.png", flush=True)
        context.close()


def address(context: BrowserContext, picture: Picture) -> str:
    """Where the picture's page is: a visit's address is found on the page of the day."""
    if not picture.plate:
        return f"/{picture.page}"
    page = context.new_page()
    page.goto("/")
    link = page.locator("a[href*='/visits/']", has_text=picture.plate).first
    visit = (link.get_attribute("href") or "").split("/")[2]
    page.close()
    return f"/visits/{visit}/{picture.page}/"


if __name__ == "__main__":
    main()
