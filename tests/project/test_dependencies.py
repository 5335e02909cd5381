"""What the product imports is what it declares, and it declares nothing it does not use."""

import ast
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path
from sys import stdlib_module_names

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
SOURCES = sorted(ROOT.glob("src/witnessmark/**/*.py"))
NAMED_IN_SETTINGS = {  # used by name: a server program, a driver, an application, a middleware
    "django-csp",
    "django-htmx",
    "gunicorn",
    "psycopg",
    "whitenoise",
}


def declared():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    return {canonicalize_name(Requirement(line).name) for line in project["dependencies"]}


def imported_modules(path):
    """The top-level names that one file imports, inside functions too."""
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            yield from (alias.name.partition(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            yield node.module.partition(".")[0]


def imported_distributions():
    makers = packages_distributions()
    modules = {module for path in SOURCES for module in imported_modules(path)}
    foreign = modules - stdlib_module_names - {"witnessmark"}
    return {
        canonicalize_name(maker) for module in foreign for maker in makers.get(module, [module])
    }


def test_everything_imported_is_declared():
    """A package that is there only because another brought it may be gone tomorrow."""
    assert imported_distributions() - declared() == set()


def test_everything_declared_is_used():
    unused = declared() - imported_distributions() - NAMED_IN_SETTINGS
    assert unused == set()


def test_what_settings_use_by_name_is_named_in_the_product():
    text = "".join(path.read_text() for path in SOURCES)
    for name in NAMED_IN_SETTINGS & declared():
        module = name.removeprefix("django-") if name == "django-csp" else name.replace("-", "_")
        assert module in text, name
