"""What the product imports is what it declares, and it declares nothing it does not use."""

import ast
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path
from sys import stdlib_module_names

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
TREES = [ast.parse(path.read_text()) for path in sorted(ROOT.glob("src/witnessmark/**/*.py"))]
NODES = [node for tree in TREES for node in ast.walk(tree)]
MAKERS = packages_distributions()
COMES_WITH = {"pydantic-core": "pydantic"}  # one project in two packages, pinned to each other
CHOSEN_BY_DJANGO = {"psycopg"}  # its name for the driver is "postgresql"


def declared():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    return {canonicalize_name(Requirement(line).name) for line in project["dependencies"]}


def makers_of(modules):
    """The declared names of the packages that bring these modules, those of our own aside."""
    foreign = set(modules) - stdlib_module_names - {"witnessmark"}
    named = {canonicalize_name(maker) for module in foreign for maker in MAKERS.get(module, [])}
    return {COMES_WITH.get(name, name) for name in named}


def imported():
    for node in NODES:
        if isinstance(node, ast.Import):
            yield from (alias.name.partition(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            yield node.module.partition(".")[0]


def named_in_strings():
    """Django's settings name middleware and applications by their dotted paths."""
    for node in NODES:
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value.partition(".")[0]


def test_everything_imported_is_declared():
    """A package that is there only because another brought it may be gone tomorrow."""
    assert makers_of(imported()) - declared() == set()


def test_everything_declared_is_used():
    used = makers_of([*imported(), *named_in_strings()])
    assert declared() - used - CHOSEN_BY_DJANGO == set()
