"""The schema that editors use agrees with the loader on every document of a chain."""

import json
import tomllib
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from witnessmark.book import archetypes
from witnessmark.book.schema import book_schema

BOOKS = sorted((Path(__file__).parent / "books").glob("*.toml"))
VALIDATOR = Draft202012Validator(book_schema())


def as_json(document):
    """The document as an editor hands it to its validator: dates are texts."""
    return json.loads(json.dumps(document, default=lambda d: d.isoformat()))


@pytest.mark.parametrize("path", [*BOOKS, *archetypes().values()], ids=lambda path: path.stem)
def test_sound_documents_fit_the_schema(path):
    Draft202012Validator.check_schema(book_schema())
    assert list(VALIDATOR.iter_errors(as_json(tomllib.loads(path.read_text())))) == []


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("extend",), "shaft.toml"),
        (("figures", "drive_oil_volume", "valu"), "180 ml"),
        (("figures", "drive_oil_volume", "value"), 180),
        (("figures", "Drive oil"), {}),
        (("jobs", "ride", "operations", "ride", "gate"), "road tset"),
        (("fasteners", "fill_plug"), {"count": 0}),
        (("remove",), "jobs.rear_tyre"),
    ],
    ids=lambda value: ".".join(value) if isinstance(value, tuple) else "",
)
def test_the_schema_refuses_what_the_loader_would(path, value):
    document = as_json(tomllib.loads(BOOKS[1].read_text()))
    here = document
    for key in path[:-1]:
        here = here.setdefault(key, {})
    here[path[-1]] = value
    (error,) = VALIDATOR.iter_errors(document)
    assert tuple(error.absolute_path) in {path, path[:-1], (*path, "count")}


def test_each_document_says_its_format_name_and_title():
    missing = {
        error.message.split("'")[1] for error in VALIDATOR.iter_errors({"extends": "x.toml"})
    }
    assert missing == {"format", "name", "title"}
