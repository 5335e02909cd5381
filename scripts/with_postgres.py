"""Run a command with DATABASE_URL naming a temporary PostgreSQL server, gone when it ends.

    python3 scripts/with_postgres.py COMMAND [ARGUMENT ...]

The server listens on a socket only, in a folder of its own; root starts it as another user, since
PostgreSQL refuses to run as root. Nothing is kept, so it need not survive a power cut.
"""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote

from system_parts import postgresql_bin

UNSAFE_AND_FAST = "-c fsync=off -c synchronous_commit=off -c full_page_writes=off"


def main() -> int:
    command = sys.argv[1:]
    if not command:
        sys.exit("with_postgres.py: name the command to run, with its arguments")
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(128 + signal.SIGTERM))
    with temporary_server() as url:
        settings = {**os.environ, "DATABASE_URL": url}
        return subprocess.run(command, env=settings, check=False).returncode


@contextmanager
def temporary_server() -> Iterator[str]:
    """Yield the URL of an empty database in a new server; stop the server and delete it after."""
    programs = postgresql_bin()
    if programs is None:
        sys.exit("missing: PostgreSQL's server: apt-get install postgresql")
    folder = Path(tempfile.mkdtemp(prefix="pg-", dir=short_folder()))
    data, log = folder / "data", folder / "server.log"
    control = [str(programs / "pg_ctl"), "-D", str(data), "-w", "-t", "60"]
    options = f"-k '{folder}' -c listen_addresses='' {UNSAFE_AND_FAST}"
    try:
        if os.geteuid() == 0:
            shutil.chown(folder, unprivileged_user().pw_name)
        as_owner(folder, [str(programs / "initdb"), "-D", str(data), "-U", "app", "-A", "trust",
                          "-E", "UTF8", "--no-locale", "--no-sync"])  # fmt: skip
        as_owner(folder, [*control, "-l", str(log), "-o", options, "start"])
        try:
            as_owner(folder, [str(programs / "createdb"), "-h", str(folder), "-U", "app", "app"])
            yield f"postgresql://app@/app?host={quote(str(folder), safe='')}"
        finally:
            as_owner(folder, [*control, "-m", "immediate", "stop"])
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def short_folder() -> str:
    """A folder all can enter whose name leaves room: a socket's path has at most 107 bytes."""
    usual = tempfile.gettempdir()
    return "/tmp" if os.geteuid() == 0 or len(usual) > 60 else usual  # noqa: S108


def as_owner(folder: Path, command: Sequence[str]) -> None:
    """Run one of the server's programs; root steps down to the folder's owner first."""
    drop: dict[str, int | list[int]] = {}
    if os.geteuid() == 0:
        user = unprivileged_user()
        drop = {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []}
    done = subprocess.run(
        command,
        cwd=folder,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
        **drop,  # type: ignore[call-overload]
    )
    if done.returncode:
        log = folder / "server.log"
        told = log.read_text() if log.exists() else ""
        sys.exit(f"failed: {' '.join(command)}\n{done.stdout}{done.stderr}{told}")


def unprivileged_user() -> pwd.struct_passwd:
    """The user made by Debian's package, or the one that every system has."""
    names = {user.pw_name: user for user in pwd.getpwall()}
    return names.get("postgres") or names["nobody"]


if __name__ == "__main__":
    sys.exit(main())
