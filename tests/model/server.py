"""A workshop of its own, served by `witnessmark serve` as a shop would run it, to be killed at will."""

from __future__ import annotations

import json
import os
import re
import select
import signal
import socket
import sqlite3
import subprocess
import sys
import threading
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit, urlunsplit

import psycopg

from witnessmark.ledger.ids import ItemId

WITNESSMARK = str(Path(sys.executable).with_name("witnessmark"))
ONE_OF = re.compile(r", \d+ of \d+")
PATIENCE_SECONDS = 90  # a machine at full load starts slowly; nothing is measured by it


class Workshop:
    """The demo workshop in a folder and a database of its own, and the server that shows it."""

    def __init__(self, home: Path, database_url: str | None, source: Path | None = None) -> None:
        self.home, self.database_url = home, database_url
        self.settings = {**os.environ, "WITNESSMARK_HOME": str(home), "PYTHONUNBUFFERED": "1"}
        self.settings.pop("DATABASE_URL", None)
        if database_url:
            self.settings["DATABASE_URL"] = database_url
        if source:  # a changed copy of the program
            self.settings["PYTHONPATH"] = str(source)
        self.port = _free_port()
        self.log = home / "server.log"
        self._server: subprocess.Popen[bytes] | None = None
        self._up = threading.Event()

    def told(self, *command: str) -> subprocess.CompletedProcess[str]:
        """A command of the program on this workshop."""
        return subprocess.run(
            [WITNESSMARK, *command], env=self.settings, capture_output=True, text=True, check=False
        )

    def build(self) -> None:
        done = self.told("demo", "build")
        assert done.returncode == 0, done.stdout + done.stderr

    def start(self) -> None:
        command = [WITNESSMARK, "serve", "--port", str(self.port), "--no-migrate"]
        with self.log.open("ab") as log:
            self._server = subprocess.Popen(
                command, env=self.settings, stdout=log, stderr=log, start_new_session=True
            )
        for _ in range(PATIENCE_SECONDS * 10):
            if self._listens():
                self._up.set()
                return
            try:
                self._server.wait(timeout=0.1)
            except subprocess.TimeoutExpired:
                continue
            break
        raise AssertionError(f"the server does not start: {self.tail()}")

    def _listens(self) -> bool:
        try:
            socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
        except OSError:
            return False
        return True

    def until_it_answers(self) -> None:
        """For those whose request was lost: until a killed master has been started again."""
        assert self._up.wait(PATIENCE_SECONDS), f"the server is gone: {self.tail()}"

    def tail(self) -> str:
        return self.log.read_text(errors="replace")[-6000:]

    def workers(self) -> list[int]:
        """The processes below the one that was started, the nearest first."""
        assert self._server is not None
        found, look = [], [self._server.pid]
        while look:
            pid = look.pop(0)
            try:
                told = Path(f"/proc/{pid}/task/{pid}/children").read_text()
            except OSError:
                continue
            children = [int(one) for one in told.split()]
            found += children
            look += children
        return found

    def kill_worker(self, which: int) -> None:
        """`kill -9` of one worker; the master starts another by itself."""
        if workers := self.workers():
            _kill(workers[which % len(workers)])

    def kill_master(self) -> None:
        """`kill -9` of the master, then of what it left behind, and a new start.

        An orphaned worker would go on listening for some seconds; who runs a service has its
        supervisor end them with the master, so they are killed here too.
        """
        assert self._server is not None
        orphans = self.workers()
        self._up.clear()
        _kill(self._server.pid)
        self._server.wait()
        for pid in orphans:
            _kill(pid)
        self.start()

    def stop(self) -> None:
        if self._server and self._server.poll() is None:
            self._server.terminate()
            try:
                self._server.wait(timeout=20)
            except subprocess.TimeoutExpired:
                os.killpg(self._server.pid, signal.SIGKILL)
                self._server.wait()

    # ------------------------------------------------------------------ what the store holds

    @contextmanager
    def _database(self) -> Iterator[Any]:
        if self.database_url:
            with psycopg.connect(self.database_url, autocommit=True) as link:
                yield link
        else:
            link = sqlite3.connect(self.home / "witnessmark.sqlite3", timeout=60)
            try:
                yield link
            finally:
                link.close()

    def rows(self, table: str, visit: str = "") -> list[dict[str, Any]]:
        """Rows of a table as docs/ledger.md and docs/database.md name them, of one visit or all."""
        with self._database() as link:
            cursor = link.cursor()
            cursor.execute(f"SELECT * FROM {table}")
            assert cursor.description
            names = [column[0] for column in cursor.description]
            found = [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]
        return [
            one for one in found if not visit or uuid.UUID(str(one["visit_id"])) == uuid.UUID(visit)
        ]

    def entries(self, visit: str = "") -> list[dict[str, Any]]:
        """The ledger in the order of its seals: id, kind, device, seq, seen, body, author."""
        order = {
            str(uuid.UUID(str(seal["entry_id"]))): (str(seal["visit_id"]), seal["number"])
            for seal in self.rows("shop_seal", visit)
        }
        found = []
        for row in self.rows("shop_entry", visit):
            one = {
                **row,
                "id": str(uuid.UUID(str(row["id"]))),
                "device": str(uuid.UUID(str(row["device"]))),
                "author": str(uuid.UUID(str(row["author_id"]))),
                "visit": str(uuid.UUID(str(row["visit_id"]))),
            }
            for name in ("body", "seen"):
                if isinstance(one[name], str):
                    one[name] = json.loads(one[name])
            found.append(one)
        unsealed = [f"{one['kind']} {one['body']}" for one in found if one["id"] not in order]
        assert not unsealed, f"stored without a seal: {unsealed}"
        return sorted(found, key=lambda one: order[one["id"]])

    def open_items(self, visit: str) -> set[str]:
        return {one["item"] for one in self.rows("shop_openitemrow", visit)}

    def open_lines(self, visit: str) -> int:
        """How many lines they are for people: those of a group that stand alike share one."""
        rows = self.rows("shop_openitemrow", visit)
        return len({(ItemId(one["item"]).group, ONE_OF.sub("", one["words"])) for one in rows})


@contextmanager
def workshop(home: Path, source: Path | None = None) -> Iterator[Workshop]:
    """A served workshop: on SQLite, or on a database beside the one DATABASE_URL names."""
    server_url = os.environ.get("DATABASE_URL")
    url, name = None, f"model_{uuid.uuid4().hex[:12]}"
    if server_url:
        with psycopg.connect(server_url, autocommit=True) as link:
            link.execute(f'CREATE DATABASE "{name}"')
        url = urlunsplit(urlsplit(server_url)._replace(path=f"/{name}"))
    made = Workshop(home, url, source)
    try:
        made.build()
        made.start()
        yield made
    finally:
        made.stop()
        if server_url:
            with psycopg.connect(server_url, autocommit=True) as link:
                link.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


def _free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as free:
        return int(free.getsockname()[1])


def _kill(pid: int) -> None:
    """SIGKILL, and wait until it is gone."""
    try:
        handle = os.pidfd_open(pid)
    except ProcessLookupError:
        return
    try:
        signal.pidfd_send_signal(handle, signal.SIGKILL)
        select.select([handle], [], [])
    except ProcessLookupError:
        pass
    finally:
        os.close(handle)
