"""Check what no linter reads: committed text names no machine's folders, a lock no address.

    python3 scripts/check_text.py

A path of the machine at hand works there alone; an address in a lock decides for every user where
packages come from.
"""

import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
HOME_FOLDERS = re.compile(r"(?<![\w.])/(?:home|Users)/[a-z]\w+|/root/\.|[A-Z]:\\Users\\")
ADDRESS = re.compile(r"https?://|--(?:extra-)?index-url|--find-links")


def main() -> None:
    faults = [fault for name, text in committed_texts() for fault in faults_in(name, text)]
    if faults:
        sys.exit("\n".join(faults))


def committed_texts() -> Iterator[tuple[str, str]]:
    """Name and content of each committed text: not pictures and fonts, not what was just deleted."""
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    for name in filter(None, listed.stdout.split("\0")):
        with suppress(UnicodeDecodeError, FileNotFoundError, IsADirectoryError):
            yield name, (ROOT / name).read_text(encoding="utf-8")


def faults_in(name: str, text: str) -> Iterator[str]:
    """Each line at fault, as `name:line: what is wrong; what would be right`."""
    own_folders = folders_of_this_machine()
    for number, line in enumerate(text.splitlines(), start=1):
        if HOME_FOLDERS.search(line) or any(folder in line for folder in own_folders):
            yield f"{name}:{number}: a path of one machine; name it relative to the project"
        if name.endswith(".lock") and ADDRESS.search(line):
            yield f"{name}:{number}: a lock with an address; write it with `make lock`"


def folders_of_this_machine() -> list[str]:
    """The checkout and its neighbours, as they would be written."""
    neighbours = [path for path in ROOT.parent.iterdir() if path.is_dir()]
    return [f"{path}/" for path in neighbours if len(path.parts) > 2]


if __name__ == "__main__":
    main()
