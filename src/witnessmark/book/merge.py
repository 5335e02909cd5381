"""Lay one document over another: tables key by key, lists and plain values whole."""

from __future__ import annotations

from typing import Any, NamedTuple

from witnessmark.book.errors import Path

OWN = ("format", "name", "title", "archetype", "extends", "remove")  # never handed down


class Origin(NamedTuple):
    """The file (as people know it) and line where something was said."""

    file: str
    line: int


class Layers(NamedTuple):
    """What a chain of documents says so far; where each thing was said, and where removed."""

    data: dict[str, Any]
    said: dict[Path, Origin]
    gone: dict[Path, Origin]


def merged(base: Any, over: Any) -> Any:
    """`over` laid over `base`: two tables key by key, anything else replaced whole."""
    if not (isinstance(base, dict) and isinstance(over, dict)):
        return over
    return base | {key: merged(base[key], over[key]) if key in base else over[key] for key in over}


def without(data: Any, path: Path) -> dict[str, Any]:
    """The tables less what stands at `path`; KeyError when nothing stands there."""
    key, *rest = path
    if not isinstance(data, dict) or key not in data:
        raise KeyError(key)
    if not rest:
        return {k: value for k, value in data.items() if k != key}
    return data | {str(key): without(data[str(key)], tuple(rest))}


def names_at(data: Any, path: Path) -> list[str]:
    """The keys of the table at `path`; none where no table stands."""
    for key in path:
        data = data.get(key) if isinstance(data, dict) else None
    return list(data) if isinstance(data, dict) else []


def handed_down(layers: Layers) -> Layers:
    """What a document passes on to one that extends it: all but what each says for itself."""
    return Layers(
        {key: value for key, value in layers.data.items() if key not in OWN},
        {path: at for path, at in layers.said.items() if path[:1] not in {(own,) for own in OWN}},
        {},
    )


def removed(layers: Layers, path: Path, at: Origin) -> Layers:
    """The layers less what stands at `path`, removed at `at`; KeyError when nothing does."""
    said = {there: origin for there, origin in layers.said.items() if there[: len(path)] != path}
    return Layers(without(layers.data, path), said, layers.gone | {path: at})


def laid_over(layers: Layers, data: dict[str, Any], said: dict[Path, Origin]) -> Layers:
    """The layers with one more document on top."""
    kept = {
        path: origin
        for path, origin in layers.said.items()
        if path in said or not _replaced(layers.data, data, path)
    }
    return Layers(merged(layers.data, data), kept | said, layers.gone)


def _replaced(base: Any, over: Any, path: Path) -> bool:
    """Whether what `base` says at `path` stands below something that `over` replaces whole."""
    for key in path:
        if not (isinstance(base, dict) and isinstance(over, dict)):
            return True
        if key not in over:
            return False
        base, over = base.get(key), over[key]
    return False
