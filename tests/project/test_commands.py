"""The commands that the papers of the project name exist, and `make` lists each of its own."""

import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
MAKEFILE = (ROOT / "Makefile").read_text()
INNER = {"parts", "runtime"}  # steps of others, of no use alone
TARGETS = set(re.findall(r"^([a-z][a-z-]*):(?!.*export)", MAKEFILE, re.MULTILINE))
PAPERS = [path for path in (*ROOT.glob("*.md"), *ROOT.glob("docs/**/*.md")) if path.is_file()]


def test_make_alone_lists_every_command_with_its_purpose():
    told = subprocess.run(["make"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    listed = dict(re.findall(r"^make ([a-z-]+) +(\S.+)$", told, re.MULTILINE))
    assert set(listed) == TARGETS - INNER


def test_no_file_can_hide_a_command():
    """A folder called `test` would make `make test` say "up to date" and run nothing."""
    [phony] = re.findall(r"^\.PHONY: (.+)$", MAKEFILE, re.MULTILINE)
    assert set(phony.split()) == TARGETS


@pytest.mark.parametrize("paper", PAPERS, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_each_make_command_a_paper_names_exists(paper):
    named = set(re.findall(r"(?:`|^ *\$? *)make ([a-z][a-z-]*)", paper.read_text(), re.MULTILINE))
    assert named <= TARGETS


def test_the_scripts_the_makefile_runs_exist():
    for script in re.findall(r"scripts/\w+\.py", MAKEFILE):
        assert (ROOT / script).is_file(), script
