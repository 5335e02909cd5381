"""What the product imports is what it declares, and it declares nothing it does not use."""

import ast
import tomllib
from functools import cache
from importlib.metadata import packages_distributions
from pathlib import Path
from sys import stdlib_module_names

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())
MAKERS = packages_distributions()
COMES_WITH = {"pydantic-core": "pydantic"}  # one project in two packages, pinned to each other
CHOSEN_BY_DJANGO = {"psycopg", "argon2-cffi"}  # its name for the driver is "postgresql"; a hasher
OWN = {path.stem for path in ROOT.glob("scripts/*.py")} | {"witnessmark", "tests", "benchmarks"}


def names(requirements):
    return {canonicalize_name(Requirement(line).name) for line in requirements}


SHIPPED = names(PROJECT["project"]["dependencies"])
FOR_TESTS = names(PROJECT["dependency-groups"]["test"]) | {"packaging"}  # pytest stands on it


@cache
def nodes(*folders):
    """The nodes that these tests ask for, of every module there."""
    files = (path for folder in folders for path in (ROOT / folder).rglob("*.py"))
    every = (node for path in files for node in ast.walk(ast.parse(path.read_text())))
    return [one for one in every if isinstance(one, ast.Import | ast.ImportFrom | ast.Constant)]


def makers_of(modules):
    """The declared names of the packages that bring these modules, those of our own aside."""
    foreign = set(modules) - stdlib_module_names - OWN
    named = {canonicalize_name(maker) for module in foreign for maker in MAKERS.get(module, [])}
    return {COMES_WITH.get(name, name) for name in named}


def imported(nodes):
    for node in nodes:
        if isinstance(node, ast.Import):
            yield from (alias.name.partition(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            yield node.module.partition(".")[0]


def named_in_strings(nodes):
    """Django's settings name middleware and applications by their dotted paths."""
    for node in nodes:
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value.partition(".")[0]


def test_everything_imported_is_declared():
    """A package that is there only because another brought it may be gone tomorrow."""
    assert makers_of(imported(nodes("src"))) - SHIPPED == set()
    assert (
        makers_of(imported(nodes("tests", "scripts", "benchmarks"))) - SHIPPED - FOR_TESTS == set()
    )


def test_everything_declared_is_used():
    source = nodes("src")
    used = makers_of([*imported(source), *named_in_strings(source)])
    assert SHIPPED - used - CHOSEN_BY_DJANGO == set()
