"""The locks are whole: every package hashed, no address, and what pyproject.toml asks for."""

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())
LOCKS = {
    "requirements.lock": ["build"],
    "requirements-test.lock": ["build", "test"],
}


def entries(lock):
    """Each package of a lock with its options: {"django": "django==5.2.1 --hash=..."}."""
    joined = (ROOT / lock).read_text().replace("\\\n", " ")
    lines = [line for line in joined.splitlines() if line and not line.startswith("#")]
    return {re.match(r"[\w.-]+", line)[0]: line for line in lines}


def pinned(lock):
    return {name: re.search(r"==([^\s;]+)", line)[1] for name, line in entries(lock).items()}


@pytest.mark.parametrize("lock", LOCKS)
def test_every_locked_package_has_one_version_and_a_hash(lock):
    for name, line in entries(lock).items():
        assert re.match(r"[\w.-]+==[\w.!+-]+\s", line), name
        assert re.search(r"--hash=sha256:[0-9a-f]{64}", line), name


@pytest.mark.parametrize("lock", LOCKS)
def test_a_lock_names_no_address(lock):
    assert "//" not in (ROOT / lock).read_text()


@pytest.mark.parametrize(("lock", "groups"), LOCKS.items())
def test_a_lock_satisfies_what_the_project_asks_for(lock, groups):
    """A requirement added without `make lock` shows here, not on the next fresh machine."""
    versions = pinned(lock)
    asked = [*PROJECT["project"]["dependencies"]]
    for group in groups:
        asked += PROJECT["dependency-groups"][group]
    for requirement in map(Requirement, asked):
        version = versions.get(canonicalize_name(requirement.name))
        assert version is not None, f"{requirement} is in no lock: make lock"
        assert requirement.specifier.contains(version), f"{requirement}, locked {version}"


def test_tests_run_with_the_versions_that_are_shipped():
    shipped, tested = pinned("requirements.lock"), pinned("requirements-test.lock")
    assert {name: tested.get(name) for name in shipped} == shipped
