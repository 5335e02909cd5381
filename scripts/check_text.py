"""Check what no linter reads: committed text names no machine's folders, a lock no address.

    python3 scripts/check_text.py

A path of the machine at hand works there alone; an address in a lock decides for every user where
packages come from.
"""

import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
HOME_FOLDERS = re.compile(r"(?<![\w.])/(?:home|Users)/[a-z]\w+|/root/\.|[A-Z]:\\Users\\")
ADDRESS = re.compile(r"https?://|--(?:extra-)?index-url|--find-links")


def main() -> None:
    faults = [fault for path in committed_files() for fault in faults_in(path)]
    if faults:
        sys.exit("\n".join(faults))


def committed_files() -> list[Path]:
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    return [ROOT / name for name in listed.stdout.split("\0") if name]


def faults_in(path: Path) -> Iterator[str]:
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (UnicodeDecodeError, FileNotFoundError):
        return  # a picture or a font; a file deleted but not yet committed
    own_folders = folders_of_this_machine()
    for number, line in enumerate(lines, start=1):
        place = f"{path.relative_to(ROOT)}:{number}"
        if HOME_FOLDERS.search(line) or any(folder in line for folder in own_folders):
            yield f"{place}: a path of one machine; name it relative to the project"
        if path.suffix == ".lock" and ADDRESS.search(line):
            yield f"{place}: a lock with an address; write it with `make lock`"


def folders_of_this_machine() -> list[str]:
    """The checkout and its neighbours, as they would be written."""
    neighbours = [path for path in ROOT.parent.iterdir() if path.is_dir()]
    return [f"{path}/" for path in neighbours if len(path.parts) > 2]


if __name__ == "__main__":
    main()
