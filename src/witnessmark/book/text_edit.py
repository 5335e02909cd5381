"""Change what a TOML text says at some paths, and leave every other letter of it as it stands.

The places come from the syntax tree of tree-sitter's TOML grammar, as in `positions`. A key that is not there yet
goes behind the last of its table; a table that is not there is written at the end of the text.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from copy import deepcopy
from typing import Any, Final, NamedTuple

from tree_sitter import Node

from witnessmark.book.document import quoted
from witnessmark.book.errors import BookError, BookErrors, dotted
from witnessmark.book.positions import keys_of, tree_of

Keys = tuple[str, ...]
GONE: Final = object()  # in place of a value: the text says nothing there
Changes = Mapping[Keys, Any]  # plain values and lists, GONE also for a whole table


class _Place(NamedTuple):
    """A header (`value` is None) or a pair: the table it stands in, its path, its nodes."""

    table: Keys
    path: Keys
    node: Node
    value: Node | None
    inline: bool


def with_changes(text: str, changes: Changes) -> str:
    """The text with these values at their paths, and without what is `GONE`.

    Raises BookErrors where the text is written in a way that leaves no place for one.
    """
    wanted = tomllib.loads(text)
    for path, value in changes.items():
        _put(wanted, path, value)
        text = _without(text, path) if value is GONE else _with_value(text, path, value)
        # the next one reads what this one left
    if _plain(tomllib.loads(text)) != _plain(wanted):
        where = ", ".join(dotted(path) for path in changes)
        problem = "the text is written in a way that leaves no place for this"
        raise BookErrors([BookError(where, problem, "change it in its text")])
    return text


def in_toml(value: Any) -> str:
    """A plain value, list or table as TOML, in one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, dict):
        inside = ", ".join(f"{dotted([key])} = {in_toml(one)}" for key, one in value.items())
        return f"{{ {inside} }}" if inside else "{}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(in_toml, value))}]"
    return f"{value:.10g}" if isinstance(value, float) else str(value)


# ---------------------------------------------------------------- what was meant


def _put(data: dict[str, Any], path: Keys, value: Any) -> None:
    *tables, key = path
    for table in tables:
        if value is GONE and not isinstance(data.get(table), dict):
            return
        data = data.setdefault(table, {})
    if value is GONE:
        data.pop(key, None)
    else:
        data[key] = deepcopy(value)


def _plain(data: Any) -> Any:
    """Without tables that hold nothing: a header that was emptied says no more than none."""
    if isinstance(data, dict):
        inner = {key: _plain(one) for key, one in data.items()}
        return {key: one for key, one in inner.items() if one != {}}
    return list(data) if isinstance(data, tuple) else data


# ---------------------------------------------------------------- what stands there


def _places(text: str) -> list[_Place]:
    found: list[_Place] = []
    for node in tree_of(text).named_children:
        if node.type == "pair":
            found += _pair((), node, inline=False)
        elif node.type == "table":
            header = next(child for child in node.named_children if child.type != "comment")
            path = tuple(keys_of(header))
            found.append(_Place(path, path, node, None, inline=False))
            for child in node.named_children:
                if child.type == "pair":
                    found += _pair(path, child, inline=False)
    return found


def _pair(table: Keys, node: Node, *, inline: bool) -> Iterator[_Place]:
    key, value = (child for child in node.named_children if child.type != "comment")
    path = (*table, *keys_of(key))
    yield _Place(table, path, node, value, inline)
    if value.type == "inline_table":
        for child in value.named_children:
            if child.type == "pair":
                yield from _pair(path, child, inline=True)


# ---------------------------------------------------------------- a value put in place


def _with_value(text: str, path: Keys, value: Any) -> str:
    places = _places(text)
    written = in_toml(value)
    here = next((one for one in places if one.path == path and one.value), None)
    if here is not None and here.value is not None:
        return _spliced(text, here.value.start_byte, here.value.end_byte, written)
    inside = _innermost(path, places)
    if inside is not None:  # a table written in one line
        rest = path[len(inside.path) :]
        pair = f"{dotted(rest[:1])} = {in_toml(_nested(rest[1:], value))}"
        return _into_inline(text, inside, pair)
    table = path[:-1]
    rows = [one for one in places if one.table == table and not one.inline]
    line = f"{dotted(path[-1:])} = {written}"
    if rows:
        header = rows[-1].value is None
        at = _first_line(rows[-1].node) if header else rows[-1].node
        return _behind(text, at, line)
    for depth in range(len(path) - 1, 0, -1):
        by_dots = [
            one
            for one in places
            if not one.inline and one.value and len(one.table) < depth < len(one.path)
            and one.path[:depth] == path[:depth]
        ]  # fmt: skip
        if by_dots:  # what dots made cannot have a header
            last = by_dots[-1]
            return _behind(text, last.node, f"{dotted(path[len(last.table) :])} = {written}")
    if not table:
        return _in_head(text, places, line)
    end = "" if text.endswith("\n") or not text else "\n"
    return f"{text}{end}\n[{dotted(table)}]\n{line}\n"


def _innermost(path: Keys, places: Sequence[_Place]) -> _Place | None:
    """The longest table in one line that the path goes through."""
    through = [
        one
        for one in places
        if one.value is not None
        and one.value.type == "inline_table"
        and one.path == path[: len(one.path)]
    ]
    return max(through, key=lambda one: len(one.path), default=None)


def _nested(path: Keys, value: Any) -> Any:
    for key in reversed(path):
        value = {key: value}
    return value


def _into_inline(text: str, table: _Place, pair: str) -> str:
    assert table.value is not None
    pairs = [child for child in table.value.named_children if child.type == "pair"]
    if pairs:
        return _spliced(text, pairs[-1].end_byte, pairs[-1].end_byte, f", {pair}")
    return _spliced(text, table.value.start_byte, table.value.end_byte, f"{{ {pair} }}")


def _first_line(node: Node) -> Node:
    """The header's own keys: the line that the new key follows."""
    return next(child for child in node.named_children if child.type != "comment")


def _behind(text: str, node: Node, line: str) -> str:
    """A line more behind the one that the node ends on."""
    raw = text.encode()
    said = [child for child in node.named_children if child.type != "comment"] or [node]
    at = raw.find(b"\n", said[-1].end_byte)
    if at < 0:
        return f"{text}\n{line}\n"
    return _spliced(text, at + 1, at + 1, f"{line}\n")


def _in_head(text: str, places: Sequence[_Place], line: str) -> str:
    """Before the first table, and before the comments that speak of it."""
    lines = text.split("\n")
    first = next((one.node.start_point.row for one in places if one.value is None), len(lines))
    while first and (not lines[first - 1].strip() or lines[first - 1].lstrip().startswith("#")):
        first -= 1
    return "\n".join([*lines[:first], line, *lines[first:]])


# ---------------------------------------------------------------- taken away


def _without(text: str, path: Keys) -> str:
    """The text without all that it says at a path or below; comments stay."""
    while True:  # what was taken moves what follows
        places = _places(text)
        below = [one for one in places if one.path[: len(path)] == path]
        if not below:
            return text
        exact = [one for one in below if one.inline and one.path == path]
        whole = [one for one in below if not one.inline]
        if exact or not whole:
            text = _out_of_inline(text, (exact or below)[-1].node)
        elif whole[-1].value is None:
            text = _without_header(text, whole[-1].node)
        else:
            text = _without_line(text, whole[-1].node)
            text = _less_emptied(text, whole[-1].table)


def _out_of_inline(text: str, node: Node) -> str:
    raw = text.encode()
    start, end = node.start_byte, node.end_byte
    behind = raw[end:].lstrip()
    before = raw[:start].rstrip()
    if behind.startswith(b","):
        end = len(raw) - len(behind) + 1
        end += len(raw[end:]) - len(raw[end:].lstrip())
    elif before.endswith(b","):
        start = len(before) - 1
    return _spliced(text, start, end, "")


def _without_line(text: str, node: Node) -> str:
    """Without the lines of a pair; a comment behind it goes to a line of its own."""
    raw = text.encode()
    start = raw.rfind(b"\n", 0, node.start_byte) + 1
    said = [child for child in node.named_children if child.type != "comment"][-1].end_byte
    at = raw.find(b"\n", said)
    end = len(raw) if at < 0 else at + 1
    comment = raw[said:end].strip().decode()
    return _spliced(text, start, end, f"{comment}\n" if comment else "")


def _without_header(text: str, node: Node) -> str:
    raw = text.encode()
    header = _first_line(node)
    start = raw.rfind(b"\n", 0, node.start_byte) + 1
    at = raw.find(b"\n", header.end_byte)
    end = len(raw) if at < 0 else at + 1
    comment = raw[header.end_byte : end].decode().strip().removeprefix("]").strip()
    above = raw[:start]
    if above.endswith(b"\n\n"):  # the blank line that parted it
        start -= 1
    return _spliced(text, start, end, f"{comment}\n" if comment else "")


def _less_emptied(text: str, table: Keys) -> str:
    """Without the header of a table that holds nothing more."""
    places = _places(text)
    if not table or any(one.table == table and one.value for one in places):
        return text
    header = next((one for one in places if one.value is None and one.path == table), None)
    return text if header is None else _without_header(text, header.node)


def _spliced(text: str, start: int, end: int, new: str) -> str:
    raw = text.encode()
    return (raw[:start] + new.encode() + raw[end:]).decode()
