"""Make the project's virtual environment, `.venv`, from a lock whose every package is hashed.

    python3 scripts/set_up.py runtime    requirements.lock: what the application needs
    python3 scripts/set_up.py test       requirements-test.lock: that, and what the tests need

Uses uv where it is present, else pip. Needs only a Python with its standard library: where Debian
or Ubuntu have taken pip out of it, pip comes from their own package, without root. A second run
with the same lock does nothing.
"""

from __future__ import annotations

import fcntl
import hashlib
import importlib.util
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import NoReturn

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
PYTHON = VENV / "bin" / "python"
STAMP = VENV / "set-up.json"
LOCKS = {"runtime": ROOT / "requirements.lock", "test": ROOT / "requirements-test.lock"}
OLDEST = (3, 11)
NO_WHEEL = ("up-aries",)  # published as source alone: built with what the lock has already brought

PIP = ("--disable-pip-version-check", "--no-input", "--quiet")


def main() -> None:
    wanted = sys.argv[1] if len(sys.argv) > 1 else "test"
    if wanted not in LOCKS:
        stop(f"unknown set {wanted!r}; known are {', '.join(LOCKS)}")
    use_a_python_that_is_new_enough()
    if not is_set_up(wanted):
        with alone():
            if not is_set_up(wanted):  # another run may just have done it
                set_up(wanted)


def use_a_python_that_is_new_enough() -> None:
    """Start again with a newer Python when this one is too old and there is one on PATH."""
    if sys.version_info >= OLDEST:
        return
    for name in ("python3.14", "python3.13", "python3.12", "python3.11"):
        newer = shutil.which(name)
        if newer:
            os.execv(newer, [newer, *sys.argv])
    stop(f"python3 is {sys.version.split()[0]}: install Python {OLDEST[0]}.{OLDEST[1]} or newer")


def set_up(wanted: str) -> None:
    if not is_usable() or was_made_elsewhere():
        shutil.rmtree(VENV, ignore_errors=True)
        run([sys.executable, "-m", "venv", "--without-pip", str(VENV)])
    STAMP.unlink(missing_ok=True)
    count = sum("==" in line for line in LOCKS[wanted].read_text().splitlines())
    print(f"Setting up .venv: {count} packages, once; up to two minutes ...", flush=True)
    if uv := working_uv():
        install_with_uv(uv, LOCKS[wanted])
    else:
        install_with_pip(LOCKS[wanted])
    STAMP.write_text(json.dumps({"set": wanted, **fingerprint(wanted)}, indent=1) + "\n")


def install_with_uv(uv: str, lock: Path) -> None:
    pip = [uv, "pip", "install", "--quiet", "--python", str(PYTHON)]
    install(pip, "--no-build", lock)


def install_with_pip(lock: Path) -> None:
    install([*pip_of_the_environment(), "install", *PIP], "--only-binary=:all:", lock)


def install(pip: list[str], wheels_only: str, lock: Path) -> None:
    """Wheels first; then what is built, with nothing fetched for the building; then the project."""
    with tempfile.TemporaryDirectory() as folder:
        wheels, sources = Path(folder, "wheels.lock"), Path(folder, "sources.lock")
        ready, to_build = parts_of(lock.read_text())
        wheels.write_text(ready)
        run([*pip, "--require-hashes", wheels_only, "-r", str(wheels)])
        built_here = ["--no-deps", "--no-build-isolation"]
        if to_build:
            sources.write_text(to_build)
            run([*pip, "--require-hashes", *built_here, "-r", str(sources)])
    run([*pip, *built_here, "-e", str(ROOT)])


def parts_of(lock: str) -> tuple[str, str]:
    """A lock's text without what has no wheel, and the text of that."""
    entries = re.split(r"(?m)^(?=[a-z0-9])", lock)
    apart = [entry for entry in entries if entry.partition("==")[0] in NO_WHEEL]
    return "".join(entry for entry in entries if entry not in apart), "".join(apart)


def working_uv() -> str | None:
    """The uv on PATH, if it runs: a version manager may leave a name there that does not."""
    uv = shutil.which(os.environ.get("UV", "uv"))
    if uv and subprocess.run([uv, "--version"], capture_output=True, check=False).returncode == 0:
        return uv
    return None


def pip_of_the_environment() -> list[str]:
    """A pip that installs into `.venv`, from the nearest place that has one."""
    own = [str(PYTHON), "-m", "pip"]
    if subprocess.run([*own, "--version"], capture_output=True, check=False).returncode == 0:
        return own
    if importlib.util.find_spec("ensurepip"):
        run([str(PYTHON), "-m", "ensurepip", "--default-pip"], quiet=True)
        return own
    with tempfile.TemporaryDirectory() as folder:
        wheel = pip_wheel_of_the_distribution(Path(folder))
        if wheel is None:
            stop("python3 has no pip: install python3-venv (apt-get install python3-venv), or uv")
        run([str(PYTHON), f"{wheel}/pip", "install", *PIP, "--no-index", str(wheel)])
    return own


def pip_wheel_of_the_distribution(folder: Path) -> Path | None:
    """Debian and Ubuntu keep pip in a package of its own; fetching that needs no root.

    The machine's own package lists serve if it has them; else they are fetched into `folder`.
    """
    if not shutil.which("apt-get"):
        return None
    print("python3 comes without pip here: fetching it from the distribution ...", flush=True)
    for part in ("state/lists/partial", "cache/archives/partial"):
        (folder / part).mkdir(parents=True)
    private = ["apt-get", "-qq", "-o", "APT::Sandbox::User=root"]
    private += ["-o", f"Dir::State={folder}/state", "-o", f"Dir::Cache={folder}/cache"]
    private += ["-o", "Dir::State::status=/var/lib/dpkg/status"]
    fetch = ["download", "python3-pip-whl"]
    tries = [[["apt-get", "-qq", *fetch]], [[*private, "update"], [*private, *fetch]]]
    for steps in tries:
        if all(
            subprocess.run(step, cwd=folder, capture_output=True, check=False).returncode == 0
            for step in steps
        ):
            break
    for package in folder.glob("python3-pip-whl_*.deb"):
        run(["dpkg-deb", "-x", str(package), str(folder / "unpacked")])
    return next(folder.glob("unpacked/usr/share/python-wheels/pip-*.whl"), None)


def is_set_up(wanted: str) -> bool:
    """Whether `.venv` holds what the present locks name; the test set holds the runtime set."""
    try:
        stamp = json.loads(STAMP.read_text())
        installed = stamp.pop("set")
    except (OSError, ValueError, KeyError):
        return False
    return (
        installed in ({"runtime", "test"} if wanted == "runtime" else {"test"})
        and stamp == fingerprint(installed)
        and is_usable()
    )


def fingerprint(wanted: str) -> dict[str, str]:
    """What an environment depends on: the lock, what pyproject.toml installs, and its place."""
    import tomllib  # noqa: PLC0415  # an older Python must get as far as its message

    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    parts = [project["build-system"], project["project"], project["tool"]["hatch"]]
    return {
        "lock": hashlib.sha256(LOCKS[wanted].read_bytes()).hexdigest(),
        "project": hashlib.sha256(json.dumps(parts).encode()).hexdigest(),
        "place": str(ROOT),
    }


def is_usable() -> bool:
    """Whether the environment's Python starts (its base may have been replaced) and is at home."""
    if not PYTHON.exists():
        return False
    told = subprocess.run(
        [str(PYTHON), "-c", "import sys; print(sys.version_info >= (3, 11))"],
        capture_output=True,
        text=True,
        check=False,
    )
    return told.stdout.strip() == "True"


def was_made_elsewhere() -> bool:
    """Whether the folder was moved since: programs in `.venv/bin` name their Python in full."""
    try:
        return bool(json.loads(STAMP.read_text())["place"] != str(ROOT))
    except (OSError, ValueError, KeyError):
        return False


@contextmanager
def alone() -> Iterator[None]:
    """Two runs in one checkout take turns."""
    folder = os.open(ROOT, os.O_RDONLY)
    try:
        fcntl.flock(folder, fcntl.LOCK_EX)
        yield
    finally:
        os.close(folder)


def run(command: list[str], *, quiet: bool = False) -> None:
    settings = {"UV_PYTHON_DOWNLOADS": "never", "PIP_USER": "0", "PIP_ROOT_USER_ACTION": "ignore"}
    done = subprocess.run(
        command,
        cwd=ROOT,
        env={**os.environ, **settings},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL if quiet else None,
        check=False,
    )
    if done.returncode:
        stop(f"failed: {' '.join(command)}")


def stop(sentence: str) -> NoReturn:
    sys.exit(f"set-up: {sentence}")


if __name__ == "__main__":
    main()
