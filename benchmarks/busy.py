"""Fifty people at once: what a bench page and a tap cost at 200 entries, and how long each of fifty waits.

    python -m benchmarks.busy

Two tables in one run, beside an empty page of the same program; the visit and its taps are those of
`benchmarks.visit`. First the processor of one request, in this process. Then the server itself, with two processes:
fifty people ask for a page at the same moment, again and again. What must hold: 40 ms of processor for the page and
for the tap; 95 of 100 pages within a second on two cores.
"""

from __future__ import annotations

import os
import socket
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from http.client import HTTPConnection
from pathlib import Path

from benchmarks.stopwatch import timed
from benchmarks.visit import Client, Grown, call_command

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
    at_once(visit.client, (("an empty page", EMPTY), ("the bench", visit.bench)))


def cost(ready: Callable[[], Callable[[], object]]) -> float:
    """Processor milliseconds of one request: the median of several, each made ready before."""
    ready()()
    return 1000 * statistics.median(timed(ready())[1] for _ in range(TIMES))


# ---------------------------------------------------------------- all at once


def at_once(client: Client, pages: Iterable[tuple[str, str]]) -> None:
    """Print how long each of the people waits for a page."""
    cookie = f"sessionid={client.cookies['sessionid'].value}"
    print(
        f"\n{PEOPLE} people at once, a server of two processes, {os.cpu_count()} cores: ms until the page is there"
    )
    row = "{:<38} {:>9} {:>9} {:>9}"
    print(row.format("page", "median", "p95", "CPU each"))
    with server() as (port, processor):
        for title, address in pages:
            waits(port, address, cookie, 1)  # each process has read what it keeps
            before = processor()
            found = sorted(waits(port, address, cookie, ROUNDS))
            each = 1000 * (processor() - before) / len(found)
            p95 = found[len(found) * 95 // 100]
            print(row.format(title, f"{statistics.median(found):.0f}", f"{p95:.0f}", f"{each:.1f}"))


def waits(port: int, address: str, cookie: str, rounds: int) -> list[float]:
    """How long each of the people waited in each round, in milliseconds; all ask at the same moment."""
    with ThreadPoolExecutor(PEOPLE) as people:
        return [
            wait
            for _ in range(rounds)
            for wait in people.map(lambda _: _wait(port, address, cookie), range(PEOPLE))
        ]


def _wait(port: int, address: str, cookie: str) -> float:
    began = time.monotonic()
    asked = HTTPConnection("127.0.0.1", port, timeout=120)
    asked.request("GET", address, headers={"Cookie": cookie})
    answer = asked.getresponse()
    answer.read()
    asked.close()
    if answer.status != 200:
        raise RuntimeError(f"{address}: {answer.status}")
    return 1000 * (time.monotonic() - began)


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
