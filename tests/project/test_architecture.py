"""The arrows of docs/architecture.md hold in the code, and where it says to go to there is something."""

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "witnessmark"
ROW = re.compile(r"^\| .+ \| (.+) \| ([^|]*)\|$", re.MULTILINE)


def test_the_import_contracts_are_kept():
    done = subprocess.run(
        [Path(sys.executable).with_name("lint-imports"), "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout


def test_where_to_go_to_change_something_is_there():
    """Whole paths from `src/witnessmark`, scripts from the root, and the pages of docs."""
    page = (ROOT / "docs" / "architecture.md").read_text()
    table = page.partition("## To change")[2].partition("## How to add")[0]
    rows = ROW.findall(table)
    assert len(rows) > 40
    named = {path for row in rows for path in re.findall(r"`([a-z_]+/[\w/.]+)`", row[0])}
    pages = {name for row in rows for name in re.findall(r"[\w-]+\.md", row[1])}
    assert [n for n in named if not (SOURCE / n).exists() and not (ROOT / n).exists()] == []
    assert [n for n in pages if not (ROOT / "docs" / n).exists()] == []
