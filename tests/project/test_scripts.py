"""What the Makefile runs does what it says, also where something is missing or at fault."""

import json
import os
import subprocess
import sys
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest

import check_text
import set_up
import system_parts

ROOT = Path(__file__).resolve().parents[2]
SERVER_OF_THE_RUN = "import os, sys; print(os.environ['DATABASE_URL']); sys.exit(7)"


def test_a_temporary_server_ends_with_its_command_and_keeps_its_exit_code():
    done = subprocess.run(
        [sys.executable, "scripts/with_postgres.py", sys.executable, "-c", SERVER_OF_THE_RUN],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 7, done.stderr
    address = urlsplit(done.stdout.strip())
    assert address.scheme == "postgresql"
    [folder] = parse_qs(address.query)["host"]
    assert not Path(folder).exists()


def test_a_browser_that_does_not_start_is_no_browser(tmp_path, monkeypatch):
    """Ubuntu's package leaves a program of that name which only says where to get one."""
    stub = tmp_path / "chromium"
    stub.write_text("#!/bin/sh\necho 'requires the chromium snap to be installed' >&2\nexit 1\n")
    stub.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}{os.pathsep}/bin")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.delenv("CHROMIUM", raising=False)
    assert system_parts.chromium() is None
    assert "chromium" in dict(system_parts.still_missing())


def test_a_change_of_a_lock_calls_for_a_new_set_up(tmp_path, monkeypatch):
    stamp = tmp_path / "set-up.json"
    stamp.write_text(json.dumps({"set": "test", **set_up.fingerprint("test")}))
    monkeypatch.setattr(set_up, "STAMP", stamp)
    assert set_up.is_set_up("test")
    assert set_up.is_set_up("runtime")  # which is a part of it
    changed = tmp_path / "requirements-test.lock"
    changed.write_bytes(set_up.LOCKS["test"].read_bytes() + b"\n")
    monkeypatch.setitem(set_up.LOCKS, "test", changed)
    assert not set_up.is_set_up("test")
    assert not set_up.is_set_up("runtime")


@pytest.mark.parametrize(
    ("name", "line"),
    [
        ("docs/tour.md", f"Open {ROOT}/README.md."),
        ("docs/tour.md", "cd /" + "home/ada/witnessmark"),
        ("requirements.lock", "--index-url https" + "://example.org/simple"),
        ("requirements.lock", "tool @ https" + "://example.org/tool.whl"),
    ],
)
def test_a_path_of_one_machine_or_an_address_in_a_lock_is_found(name, line):
    [fault] = check_text.faults_in(name, f"first line\n{line}\n")
    assert fault.startswith(f"{name}:2: ")


def test_ordinary_text_has_no_fault():
    text = "See https" + "://example.org/standard, /visits/7/home/ and tests/outside/.\n"
    assert list(check_text.faults_in("docs/sources.md", text)) == []
