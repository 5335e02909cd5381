"""On which line of a TOML text each key and list entry stands.

The values come from `tomllib`; the lines from the syntax tree of tree-sitter's TOML grammar.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator

import tree_sitter_toml
from tree_sitter import Language, Node, Parser

from witnessmark.book.errors import Path

_TOML = Language(tree_sitter_toml.language())
_KEYS = ("bare_key", "quoted_key")


def lines_of(text: str) -> dict[Path, int]:
    """Line (from 1) of every key and list entry of a text that `tomllib` accepts, by its path.

    A table has the line of its own header, else the line that first mentions it.
    """
    lines: dict[Path, int] = {(): 1}
    newest: dict[Path, int] = {}  # index of the last entry of each array of tables
    for node in tree_of(text).named_children:
        if node.type == "pair":
            _pair(lines, (), node)
        elif node.type in ("table", "table_array_element"):
            header = next(child for child in node.named_children if child.type != "comment")
            path = _header(lines, newest, header, grows=node.type == "table_array_element")
            for child in node.named_children:
                if child.type == "pair":
                    _pair(lines, path, child)
    return lines


def tree_of(text: str) -> Node:
    """The syntax tree of a text: its tables and pairs are the named children."""
    return Parser(_TOML).parse(text.encode()).root_node


def _header(lines: dict[Path, int], newest: dict[Path, int], node: Node, *, grows: bool) -> Path:
    path: Path = ()
    keys = list(keys_of(node))
    for place, key in enumerate(keys):
        path = (*path, key)
        last = place == len(keys) - 1
        if last and not grows:
            lines[path] = _line(node)
        lines.setdefault(path, _line(node))
        if last and grows:
            newest[path] = newest.get(path, -1) + 1
            _forget_below(newest, path)
            lines[*path, newest[path]] = _line(node)
        if path in newest:
            path = (*path, newest[path])
    return path


def _forget_below(newest: dict[Path, int], path: Path) -> None:
    """A new entry of an array of tables starts with no arrays of its own."""
    entry = (*path, newest[path])
    for below in [p for p in newest if p[: len(entry)] == entry]:
        del newest[below]


def _pair(lines: dict[Path, int], path: Path, node: Node) -> None:
    key, value = (child for child in node.named_children if child.type != "comment")
    for name in keys_of(key):
        path = (*path, name)
        lines.setdefault(path, _line(key))
    _value(lines, path, value)


def _value(lines: dict[Path, int], path: Path, node: Node) -> None:
    if node.type == "inline_table":
        for child in node.named_children:
            if child.type == "pair":
                _pair(lines, path, child)
    elif node.type == "array":
        entries = (child for child in node.named_children if child.type != "comment")
        for place, entry in enumerate(entries):
            lines[*path, place] = _line(entry)
            _value(lines, (*path, place), entry)


def keys_of(node: Node) -> Iterator[str]:
    """The names of a dotted, bare or quoted key."""
    if node.type not in _KEYS:
        for child in node.named_children:
            yield from keys_of(child)
        return
    text = (node.text or b"").decode()
    if node.type == "bare_key":
        yield text
    else:
        yield next(iter(tomllib.loads(f"{text}=0"))) if "\\" in text else text[1:-1]


def _line(node: Node) -> int:
    return node.start_point.row + 1
