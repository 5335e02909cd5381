"""The two programs that the tests need from the system: Chromium and PostgreSQL.

    python3 scripts/system_parts.py      install what is missing where that is allowed, else name it

CHROMIUM=/path/to/one chooses a browser. Found here, used by the tests and by with_postgres.py.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome")
PLAYWRIGHT_BROWSERS = "ms-playwright/chromium-*/chrome-linux*/chrome"
CHROMIUM_FLAGS = [
    "--no-sandbox",  # root, in a container, has no other way
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def chromium() -> str | None:
    """The path of a Chromium that starts; Ubuntu's package leaves a name that only says "snap"."""
    named = os.environ.get("CHROMIUM")
    cache = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    candidates = [named] if named else [shutil.which(name) for name in CHROMIUM_NAMES]
    candidates += [str(path) for path in sorted(cache.glob(PLAYWRIGHT_BROWSERS), reverse=True)]
    return next((path for path in candidates if path and answers(path)), None)


def answers(program: str) -> bool:
    try:
        told = subprocess.run([program, "--version"], capture_output=True, check=False, timeout=60)
    except (OSError, subprocess.TimeoutExpired):
        return False
    return told.returncode == 0


def postgresql_bin() -> Path | None:
    """The folder of the newest PostgreSQL server's programs; Debian keeps them off PATH."""
    installed = Path("/usr/lib/postgresql").glob("*/bin/initdb")
    newest = sorted(installed, key=lambda path: float(path.parts[-3]))
    on_path = shutil.which("initdb")
    found = newest[-1] if newest else on_path and Path(on_path).resolve()
    return found.parent if found else None


def main() -> None:
    missing = still_missing()
    if missing and (apt := apt_without_asking()):
        install(apt, [package for package, _ in missing])
        missing = still_missing()
    if missing:
        sys.exit("\n".join(f"missing: {advice}" for _, advice in missing))


def still_missing() -> list[tuple[str, str]]:
    """Debian's package and what a person should do, for each part that is not there."""
    missing = []
    if chromium() is None:
        missing.append(("chromium", chromium_advice()))
    if postgresql_bin() is None:
        advice = "PostgreSQL's server: apt-get install postgresql"
        missing.append(("postgresql", advice))
    return missing


def chromium_advice() -> str:
    if "ubuntu" in Path("/etc/os-release").read_text(encoding="utf-8").lower():
        return (
            "Chromium, which Ubuntu ships only as a snap: snap install chromium, or Google Chrome's"
            " own .deb, or make setup and .venv/bin/playwright install --with-deps chromium"
            " (CHROMIUM=/path/to/it names another)"
        )
    return "Chromium: apt-get install chromium (CHROMIUM=/path/to/it names another)"


def apt_without_asking() -> list[str] | None:
    """The command that installs packages here without a password, if there is one."""
    if not shutil.which("apt-get"):
        return None
    if os.geteuid() == 0:
        return ["apt-get"]
    sudo = shutil.which("sudo")
    if sudo and subprocess.run([sudo, "-n", "true"], capture_output=True, check=False).returncode:
        sudo = None
    return [sudo, "-n", "apt-get"] if sudo else None


def install(apt: list[str], packages: list[str]) -> None:
    print(f"Installing {' and '.join(packages)} with apt-get ...", flush=True)
    settings = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for step in (["update"], ["install", "-y", "--no-install-recommends", *packages]):
        done = subprocess.run(
            [*apt, "-qq", *step], env=settings, stdin=subprocess.DEVNULL, capture_output=True,
            text=True, check=False,
        )  # fmt: skip
        if done.returncode:
            print(done.stdout + done.stderr, file=sys.stderr)


if __name__ == "__main__":
    main()
