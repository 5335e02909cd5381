"""Write both locks anew: the newest versions that pyproject.toml allows, each with its hashes.

    python3 scripts/lock.py                  keep pinned versions where they still fit
    python3 scripts/lock.py --upgrade        take the newest of all
    python3 scripts/lock.py --upgrade-package NAME

One set of versions serves every Python and platform. A lock names no place to fetch from: that is
the installing machine's choice, and the hashes hold whichever it is.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
COMPILE = [
    *("uv", "pip", "compile", "pyproject.toml", "--quiet"),
    *("--universal", "--fork-strategy", "fewest"),
    *("--generate-hashes", "--no-header", "--no-annotate"),
]


def main() -> None:
    if not shutil.which("uv"):
        sys.exit("lock: uv is missing: install it (pipx install uv); only this command needs it")
    runtime, test = "requirements.lock", "requirements-test.lock"
    compile_lock(["--group", "build", "-o", runtime])
    # the tests run with the very versions that are shipped
    compile_lock(["--group", "build", "--group", "test", "-c", runtime, "-o", test])


def compile_lock(arguments: list[str]) -> None:
    settings = {**os.environ, "UV_PYTHON_DOWNLOADS": "never"}
    done = subprocess.run(
        [*COMPILE, *arguments, *sys.argv[1:]], cwd=ROOT, env=settings, check=False
    )
    if done.returncode:
        sys.exit(done.returncode)


if __name__ == "__main__":
    main()
