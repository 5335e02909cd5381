"""The JSON Schema of a book document, for editors."""

from __future__ import annotations

from typing import Any

from witnessmark.book.merge import OWN
from witnessmark.book.model import Book

_CHAINING: dict[str, Any] = {
    "extends": {
        "type": ["string", "array"],
        "items": {"type": "string"},
        "description": "Name of an archetype, or path of a .toml file relative to this one; or several",
    },
    "build": {
        "type": "object",
        "additionalProperties": {
            "type": ["string", "object"],
            "additionalProperties": {"type": "string"},
        },
        "description": 'Slot = "block", or slot = { is = "block", option = "choice" }',
    },
    "renamed": {
        "type": "object",
        "additionalProperties": {"type": "string"},
        "description": 'A name of old = the name now: "figures.old" = "figures.new"',
    },
    "remove": {
        "type": "array",
        "items": {"type": "string"},
        "description": 'What of the extended book to leave out: ["jobs.chain", "figures.slack"]',
    },
}
_SAID_BY_EACH = [key for key in OWN if key in ("format", "name", "title")]


def book_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of one document, before `extends`.

    What an extended book may supply is optional here; `witnessmark book check` judges the whole.
    """
    schema = _all_optional(Book.model_json_schema())
    schema["properties"] |= _CHAINING
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": "Service book",
        "required": _SAID_BY_EACH,
    }


def _all_optional(schema: Any) -> Any:
    """The schema with no key required and no table too small: the rest may be extended."""
    if isinstance(schema, list):
        return [_all_optional(entry) for entry in schema]
    if not isinstance(schema, dict):
        return schema
    loose = {key: _all_optional(value) for key, value in schema.items() if key not in _NOT_SAID}
    if "patternProperties" in schema:
        loose["additionalProperties"] = False  # keys are ids or states, nothing else
    return loose


# What an extended book may supply; and tenths, which editors test in binary fractions.
_NOT_SAID = ("required", "minProperties", "multipleOf")
