"""Fifty people at once: what a bench page and a tap cost at 200 entries, and how long each of fifty waits.

    python -m benchmarks.busy

Two tables in one run, beside an empty page of the same program; the visit and its taps are those of
`benchmarks.visit`. First the processor of one request, in this process. Then the server itself, with two processes:
fifty people, each signed in by a name of his own and at work on a machine of his own, ask for a page at the same
moment, again and again; then each taps on the page he read last. What must hold: 40 ms of processor for the page and
for the tap; 95 of 100 pages within a second on two cores.
"""

from __future__ import annotations

import os
import socket
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from http.client import HTTPConnection
from http.cookies import SimpleCookie
from pathlib import Path
from urllib.parse import quote, urlencode

from benchmarks.stopwatch import timed
from benchmarks.visit import Client, Grown, call_command, form_to  # first: it reads the settings

# ruff: isort: split
from django.contrib.auth import get_user_model

from benchmarks import store
from witnessmark.shop import roles
from witnessmark.shop.models import Entry, Machine, Member, ProjectionRow, Seal, Visit

ENTRIES = 200
TIMES = 15
PEOPLE = 50
ROUNDS = 8
QUIET = subprocess.DEVNULL
EMPTY = "/calculate/"  # a signed-in page with links alone
ROW = "{:<24} {:>9} {:>9}"


def main() -> None:
    """Print the tables; the database is a new file, or the empty one that DATABASE_URL names."""
    call_command("migrate", verbosity=0)
    visit = Grown()
    visit.grow(ENTRIES)
    empty = cost(lambda: lambda: visit.client.get(EMPTY))
    print(f"\nThe bench at {ENTRIES} entries: processor ms of this process")
    print(ROW.format("what", "ms", "x empty"))
    for title, ready in (("a tap", visit.tap), ("the bench", visit.page)):
        found = cost(ready)
        print(ROW.format(title, f"{found:.1f}", f"{found / empty:.1f}"))
    print(ROW.format("an empty page", f"{empty:.1f}", "1.0"))
    at_once([Person(one, quiet) for one, quiet in at_work(visit)])


def cost(ready: Callable[[], Callable[[], object]]) -> float:
    """Processor milliseconds of one request: the median of several, each made ready before."""
    ready()()
    return 1000 * statistics.median(timed(ready())[1] for _ in range(TIMES))


# ---------------------------------------------------------------- all at once


@dataclass
class Person:
    """Somebody at a browser of his own, and the visit he works on."""

    visit: Visit
    card: str  # can be confirmed once more and changes nothing
    cookies: dict[str, str] = field(default_factory=dict)
    port: int = 0
    form: dict[str, object] = field(default_factory=dict)  # of the page read last

    @property
    def bench(self) -> str:
        """The address of his bench."""
        return f"/visits/{self.visit.pk}/bench/"

    def sign_in(self, name: str, port: int) -> None:
        """As a technician of the shop, by a name of his own."""
        shop, client = self.visit.shop, Client()
        user, _ = get_user_model().objects.get_or_create(username=name)
        Member.objects.get_or_create(shop=shop, user=user, defaults={"role": roles.TECHNICIAN})
        client.force_login(user, "django.contrib.auth.backends.ModelBackend")
        self.cookies = {"sessionid": client.cookies["sessionid"].value}
        self.port = port

    def empty(self) -> float:
        """How long he waits for a page with links alone, in milliseconds."""
        return self._wait("GET", EMPTY, 200)[0]

    def page(self) -> float:
        """How long he waits for his bench."""
        return self._wait("GET", self.bench, 200)[0]

    def look(self) -> None:
        """Read a card, to tap on it."""
        here = f"{self.bench}?card={quote(self.card)}"
        self.form = form_to(self._wait("GET", here, 200)[1], here, f"{self.bench}confirm/")

    def tap(self) -> float:
        """How long he waits until his tap is stored."""
        return self._wait("POST", f"{self.bench}confirm/", 303, {**self.form, "done": "1"})[0]

    def _wait(
        self, method: str, address: str, status: int, form: Mapping[str, object] | None = None
    ) -> tuple[float, str]:
        began = time.monotonic()
        asked = HTTPConnection("127.0.0.1", self.port, timeout=120)
        headers = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        if form is not None:
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        asked.request(method, address, urlencode(form, doseq=True) if form else None, headers)
        answer = asked.getresponse()
        text = answer.read().decode()
        asked.close()
        waited = 1000 * (time.monotonic() - began)
        if answer.status != status:
            raise RuntimeError(f"{method} {address}: {answer.status}\n{text[:2000]}")
        for cookie in SimpleCookie("; ".join(answer.headers.get_all("Set-Cookie", []))).values():
            self.cookies[cookie.key] = cookie.value
        return waited, text


def at_work(grown: Grown) -> Iterator[tuple[Visit, str]]:
    """A visit for each person, each a copy of the one that was grown, with the card that he taps on."""
    card = grown.quiet_card()
    like, pattern = grown.visit, store.pattern_of(grown.visit)
    last = Visit.objects.filter(shop=like.shop).order_by("-number")[0].number
    yield like, card
    for n in range(1, PEOPLE):
        machine = Machine.objects.create(
            shop=like.shop, owner=like.machine.owner, book=like.machine.book, plate=f"BUSY-{n}",
            maker=like.machine.maker, model=like.machine.model,
        )  # fmt: skip
        visit = Visit.objects.create(shop=like.shop, machine=machine, number=last + n)
        made: tuple[list[Entry], list[Seal], list[ProjectionRow]] = ([], [], [])
        store.copied(pattern, visit, timedelta(0), *made)
        store.keep(*made)
        yield visit, card


def at_once(people: Sequence[Person]) -> None:
    """Print how long each of the people waits, for pages and for taps."""
    print(
        f"\n{PEOPLE} people at once, a server of two processes, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}:"
        " ms until the answer is there"
    )
    row = "{:<24} {:>9} {:>9} {:>9} {:>9}"
    print(row.format("what", "median", "p95", "x empty", "CPU each"))
    with server() as (port, processor), ThreadPoolExecutor(PEOPLE) as pool:
        for n, one in enumerate(people):
            one.sign_in(f"busy{n}", port)
        empty = 0.0
        for title, ready, ask in (
            ("an empty page", None, Person.empty),
            ("the bench", None, Person.page),
            ("a tap", Person.look, Person.tap),
        ):
            found, used = waits(pool, people, ready, ask, processor)
            p95 = found[len(found) * 95 // 100]
            empty = empty or p95
            times, each = f"{p95 / empty:.1f}", f"{1000 * used / len(found):.1f}"
            print(row.format(title, f"{statistics.median(found):.0f}", f"{p95:.0f}", times, each))


def waits(
    pool: ThreadPoolExecutor, people: Sequence[Person], ready: Callable[[Person], None] | None,
    ask: Callable[[Person], float], processor: Callable[[], float],
) -> tuple[list[float], float]:  # fmt: skip
    """How long each waited in each round but the first, sorted, and the server's seconds of processor for it."""
    found: list[float] = []
    used = 0.0
    for turn in range(ROUNDS + 1):  # in the first each process reads what it keeps
        if ready:
            list(pool.map(ready, people))
        before = processor()
        waited = list(pool.map(ask, people))
        if turn:
            found += waited
            used += processor() - before
    return sorted(found), used


@contextmanager
def server() -> Iterator[tuple[int, Callable[[], float]]]:
    """The program's own server on this database: its port, and the processor seconds it has used."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [
        sys.executable,
        "-c",
        "from witnessmark.cli.main import main; main()",
        "serve",
        "--port",
        str(port),
        "--no-migrate",
    ]
    running = subprocess.Popen(command, stdout=QUIET, stderr=QUIET)  # noqa: S603 - our own
    try:
        _until_it_answers(running, port)
        yield port, lambda: _processor(running.pid)
    finally:
        running.terminate()
        running.wait()


def _until_it_answers(running: subprocess.Popen[bytes], port: int) -> None:
    for _ in range(600):
        if running.poll() is not None:
            raise RuntimeError(f"the server ended at once: {running.returncode}")
        with socket.socket() as asked:
            if asked.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    raise RuntimeError("the server does not answer")


def _processor(pid: int) -> float:
    """Of a process and its children, as Linux counts it."""
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    ticks = 0
    for one in (pid, *map(int, children)):
        said = Path(f"/proc/{one}/stat").read_text().rpartition(")")[2].split()
        ticks += int(said[11]) + int(said[12])
    return ticks / os.sysconf("SC_CLK_TCK")


if __name__ == "__main__":
    main()
