"""Say in our words what pydantic found amiss in a book."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from datetime import date, datetime, time
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from witnessmark.book.errors import Fault, Part, Path
from witnessmark.book.fields import ID_PATTERN, LANGUAGE_PATTERN, STATE_PATTERN
from witnessmark.book.model import Book
from witnessmark.errors import listed, nearest

_WANTED = {
    "string_type": 'give a text in quotes, "like this"',
    "int_type": "give a whole number without quotes",
    "int_from_float": "give a whole number",
    "float_type": "give a number without quotes",
    "bool_type": "give true or false without quotes",
    "list_type": 'give a list in brackets, ["like this"]',
    "dict_type": "give a table: [section] or { key = value }",
    "model_type": "give a table: [section] or { key = value }",
    "date_type": "give a date without quotes, like 2026-01-31",
    "finite_number": "give a plain number",
    "multiple_of": "give minutes in tenths, such as 2.5",
}
_BOUNDS = {
    "greater_than_equal": "give at least {ge:g}",
    "less_than_equal": "give at most {le:g}",
    "greater_than": "give more than {gt:g}",
}
_PATTERNS = {
    ID_PATTERN: "ids are lower-case letters, digits and underscores, letter first",
    STATE_PATTERN: "states are lower-case letters, digits, blanks, letter first",
    LANGUAGE_PATTERN: "a language is its ISO 639 code in lower case, such as de",
}
_WITH_UNIT = ("value", "low", "high", "tolerance", "hold_back", "syringe", "resolution", "error")


def faults(error: ValidationError, data: Mapping[str, Any], most: int) -> list[Fault]:
    """Where in the book, what is wrong and what would be right, for the first `most` things found in `data`.

    A key that is missing only because it was misspelt is told once, as misspelt; so is an entry
    that lacks what it needs because its own name was misspelt.
    """
    found = error.errors(include_url=False)[:most]
    meant = {
        (*at["loc"][:-1], nearest(str(at["loc"][-1]), _keys_at(at["loc"][:-1])))
        for at in found
        if at["type"] == "extra_forbidden"
    }
    told = [_fault(at) for at in found if at["type"] != "missing" or at["loc"] not in meant]
    return [_as_misspelt(fault, data) for fault in told]


def _fault(found: ErrorDetails) -> Fault:
    path: Path = tuple(part for part in found["loc"] if part != "[key]")
    return Fault(path, *_sentence(found, path))


def _as_misspelt(fault: Fault, data: Mapping[str, Any]) -> Fault:
    """Where an entry lacks something and its name is much like another's, that is what was meant."""
    if not fault.problem.endswith("is missing") or len(fault.path) < 3:
        return fault
    table: Any = data
    for part in fault.path[:-2]:
        table = table[part]
    name = str(fault.path[-2])
    alike = difflib.get_close_matches(name, [key for key in table if key != name], 1, 0.85)
    if not alike:
        return fault
    return fault._replace(expected=f'did you mean "{alike[0]}"? A new "{name}": {fault.expected}')


def _sentence(found: ErrorDetails, path: Path) -> tuple[str, str]:
    kind, given, last = found["type"], found["input"], str(path[-1]) if path else ""
    if kind == "extra_forbidden":
        return f'unknown key "{last}"', _known_key(last, _keys_at(path[:-1]))
    if kind == "missing":
        return f'"{last}" is missing', _what_to_give(last, path)
    if kind == "string_type" and last in _WITH_UNIT:
        return f"{_shown(given)} has no unit", f'write it in quotes with its unit, "{given} …"'
    if "too_short" in kind or "too_long" in kind:
        return _length(kind, found.get("ctx", {}), given)
    return f"{_shown(given)} will not do", _what_will_do(found, path)


def _what_will_do(found: ErrorDetails, path: Path) -> str:
    kind = found["type"]
    if kind == "literal_error":
        return _choice(found["input"], _choices_at(path))
    if kind == "string_pattern_mismatch":
        return _PATTERNS[found["ctx"]["pattern"]]
    if (bound := _BOUNDS.get(kind)) is not None:
        return bound.format(**found["ctx"])
    return _WANTED.get(kind) or found["msg"][0].lower() + found["msg"][1:]


def _length(kind: str, context: dict[str, Any], given: Any) -> tuple[str, str]:
    bound = context.get("min_length", context.get("max_length"))
    if kind == "string_too_short":
        return "nothing is written", "write it out"
    if kind == "string_too_long":
        return f"{len(given)} characters are too many", f"give at most {bound}"
    least_or_most = "at least" if kind == "too_short" else "at most"
    return f"{context.get('actual_length')} entries", f"give {least_or_most} {bound}"


def _known_key(name: str, keys: list[str]) -> str:
    like = nearest(name, keys)
    return f'did you mean "{like}"?' if like else f"keys here are {listed(keys, 30)}"


def _what_to_give(name: str, path: Path) -> str:
    choices = _choices_at(path)
    return f'give "{name}"' + (f", one of {listed(choices, 20)}" if choices else "")


def _choice(given: Any, choices: list[str]) -> str:
    if len(choices) == 1:
        return f"give {choices[0]}"
    if isinstance(given, str) and (like := nearest(given, choices)):
        return f'did you mean "{like}"? choices are {listed(choices, 20)}'
    return f"choices are {listed(choices, 20)}"


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value}"' if len(value) <= 60 else f'"{value[:57]}…"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, date | time | datetime):
        return value.isoformat()
    return str(value)


def _keys_at(path: Path) -> list[str]:
    """The keys the format knows at that place; none where the keys are ids."""
    here = _annotation_at(path)
    keys = list(here.model_fields) if _is_model(here) else []
    return keys if path else [*keys, "extends", "remove"]


def _choices_at(path: Path) -> list[str]:
    """The words to choose from at that place."""
    return list(_words_in(_annotation_at(path)))


def _annotation_at(path: Path) -> Any:
    here: Any = Book
    for part in path:
        here = _inside(here, part)
    return here


def _inside(annotation: Any, part: Part) -> Any:
    """The annotation of one key or entry of what `annotation` describes."""
    if _is_model(annotation):
        field = annotation.model_fields.get(str(part))
        return field.annotation if field else None
    arguments = get_args(annotation)
    if get_origin(annotation) is dict:
        return arguments[1]
    if get_origin(annotation) is list:
        return arguments[0]
    return _inside(arguments[0], part) if arguments else None  # Annotated, or … | None


def _is_model(annotation: Any) -> bool:
    return isinstance(annotation, type) and issubclass(annotation, BaseModel)


def _words_in(annotation: Any) -> tuple[str, ...]:
    if get_origin(annotation) is Literal:
        return tuple(map(str, get_args(annotation)))
    return next((words for a in get_args(annotation) if (words := _words_in(a))), ())
