"""Read JSON strictly, name places in it by JSONPath (RFC 9535), say what is wrong with its shape."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable
from typing import Any, get_args

from pydantic import BaseModel
from pydantic_core import ErrorDetails

from witnessmark.errors import listed, nearest

MOST_LETTERS = 20_000_000
Part = str | int
_HALF = re.compile("[\ud800-\udfff]")


class UnreadableError(Exception):
    """Text that is not the JSON we can read: path into it, what is wrong, what would be right."""

    def __init__(self, path: tuple[Part, ...], problem: str, expected: str) -> None:
        super().__init__(path, problem, expected)
        self.path, self.problem, self.expected = path, problem, expected


class _Object(dict[str, Any]):
    """A JSON object that remembers the first key it was given twice."""

    twice: str | None = None


def read_json(text: str) -> Any:
    """Parse JSON text; refuse repeated keys, NaN, infinities, half letters."""
    if len(text) > MOST_LETTERS:
        raise UnreadableError((), f"longer than {MOST_LETTERS} letters", "give a smaller problem")
    try:
        data = json.loads(text, object_pairs_hook=_object)
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        raise UnreadableError(
            (), f"not JSON at {where}: {error.msg}", "mend the text there"
        ) from None
    except (RecursionError, ValueError) as error:
        raise UnreadableError((), f"not readable as JSON: {error}", "give plain JSON") from None
    _refuse_what_is_no_plain_json(data)
    return data


def _object(pairs: list[tuple[str, Any]]) -> _Object:
    result = _Object(pairs)
    if len(result) < len(pairs):
        seen: set[str] = set()
        result.twice = next(key for key, _ in pairs if key in seen or seen.add(key))  # type: ignore[func-returns-value]
    return result


def _refuse_what_is_no_plain_json(data: Any) -> None:
    """Repeated keys, numbers without end, and halves of surrogate pairs, which no text can hold."""
    pending: list[tuple[tuple[Part, ...], Any]] = [((), data)]
    while pending:
        path, value = pending.pop()
        if isinstance(value, _Object):
            if value.twice is not None:
                raise UnreadableError(
                    (*path, value.twice), "the key appears twice", "keep one of the two"
                )
            pending += [((*path, key), item) for key, item in value.items()]
            pending += [(path, key) for key in value]
        elif isinstance(value, list):
            pending += [((*path, place), item) for place, item in enumerate(value)]
        elif isinstance(value, float) and not math.isfinite(value):
            raise UnreadableError(
                path, f"{value} is not a number one can plan with", "give a plain number"
            )
        elif isinstance(value, str) and _HALF.search(value):
            problem = "half of a surrogate pair stands in a text"
            raise UnreadableError(path, problem, "write the whole letter")


def json_path(path: Iterable[Part]) -> str:
    """The path in JSONPath notation. Example: ``$.operations[2].needs['rear wheel']``."""
    text = "$"
    for part in path:
        if isinstance(part, int):
            text += f"[{part}]"
        elif re.fullmatch(r"[A-Za-z_][A-Za-z0-9_]*", part):
            text += f".{part}"
        else:
            text += "['" + part.replace("\\", "\\\\").replace("'", "\\'") + "']"
    return text


def in_words(found: ErrorDetails, root: type[BaseModel]) -> tuple[str, str]:
    """What is wrong and what is right, for what pydantic found amiss in data for ``root``."""
    kind, context = found["type"], found.get("ctx", {})
    key = found["loc"][-1] if found["loc"] else ""
    if kind == "extra_forbidden":
        known = _keys_at(root, found["loc"][:-1])
        like = nearest(str(key), known)
        return (
            f'unknown key "{key}"',
            f'did you mean "{like}"?' if like else f"keys here are {listed(known, 20)}",
        )
    if kind == "missing":
        return f'"{key}" is missing', f'give "{key}"'
    problem = f"{_shown(found['input'])} will not do"
    if kind in _WANTED:
        return problem, _WANTED[kind]
    if kind in ("too_short", "too_long"):
        least_or_most = "at least" if kind == "too_short" else "at most"
        bound = context.get("min_length", context.get("max_length"))
        return f"{context.get('actual_length')} entries", f"give {least_or_most} {bound}"
    return problem, found["msg"][0].lower() + found["msg"][1:]


_WANTED = {
    "string_type": "give a text in quotes",
    "int_type": "give a whole number",
    "dict_type": "give an object in braces",
    "model_type": "give an object in braces",
    "tuple_type": "give a list in brackets",
}


def _shown(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= 60 else text[:57] + "..."


def _keys_at(root: type[BaseModel], path: tuple[Part, ...]) -> list[str]:
    """The keys the form knows at that place."""
    here: Any = root
    for part in path:
        if isinstance(here, type) and issubclass(here, BaseModel) and part in here.model_fields:
            here = _model_in(here.model_fields[str(part)].annotation)
    return list(here.model_fields) if isinstance(here, type) and issubclass(here, BaseModel) else []


def _model_in(annotation: Any) -> Any:
    """The model inside an annotation such as ``dict[str, Condition]`` or ``Now | None``."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next(
        (found for part in get_args(annotation) if (found := _model_in(part)) is not None), None
    )
