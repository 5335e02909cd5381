"""Names of old: a document may go on saying what a document that it extends calls otherwise by now.

That one says so under ``[renamed]``: ``"figures.filter_cover_torque" = "figures.oil_filter_torque"``; an operation
is ``jobs.JOB.operations.NAME``, a state ``conditions.NAME.states.STATE``. Where a document says both, what it says
under the new name counts.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from witnessmark.book.document import Document
from witnessmark.book.errors import Path, dotted
from witnessmark.book.merge import merged, without
from witnessmark.book.optional import NAMED_ALONE, NAMED_BY_KEYS, NAMED_IN_LISTS, TABLES


def is_renaming(old: str, new: str) -> bool:
    """Whether these are two paths of one table: to an entry, an operation or a state."""
    before, now = _path(old), _path(new)
    return len(before) == len(now) in (2, 4) and before[::2] == now[::2] and before[0] in TABLES


def in_new_names(document: Document, renamed: Mapping[str, str]) -> Document:
    """The document with every name of old said as it is called now; lines stay those of the text."""
    if not renamed:
        return document
    names = _Names({_path(old): _path(new) for old, new in renamed.items()})
    data = {
        table: names.entry((table,), entries) if table in TABLES else entries
        for table, entries in document.data.items()
    }
    moved: list[tuple[Path, Path]] = []
    for old, new in names.now.items():
        said = _at(data, old)
        if said is not None:
            if isinstance(said, dict) and _at(data, new) is not None:
                # What was checked was the value of old, and may be another by now.
                said = {key: entry for key, entry in said.items() if key != "checked"}
            data = merged(_standing(new, said), without(data, old))
            moved.append((old, new))
    if isinstance(data.get("remove"), list):
        data = {**data, "remove": [names.removed(entry) for entry in data["remove"]]}
    return replace(document, data=data, moved=tuple(moved))


class _Names:
    """Each path of old with the one it is now; and by table, each name."""

    def __init__(self, now: dict[Path, Path]) -> None:
        self.now = now
        self.plain = {(old[0], old[1]): str(new[1]) for old, new in now.items() if len(old) == 2}
        inner = [(old, new) for old, new in now.items() if len(old) == 4]
        self.steps = {
            f"{old[1]}/{old[3]}": f"{new[1]}/{new[3]}" for old, new in inner if old[0] == "jobs"
        }
        self.states = {(old[1], old[3]): new[3] for old, new in inner if old[0] == "conditions"}

    def entry(self, path: Path, value: Any) -> Any:
        """A table with what it names said by the new names."""
        if not isinstance(value, dict):
            return value
        return {key: self._value((*path, key), key, entry) for key, entry in value.items()}

    def _value(self, path: Path, key: str, value: Any) -> Any:
        if key in NAMED_BY_KEYS and isinstance(value, dict):
            table = NAMED_BY_KEYS[key]
            return {
                self._name(table, name): self._state(name, entry)
                if table == "conditions"
                else entry
                for name, entry in value.items()
            }
        if key in NAMED_IN_LISTS and isinstance(value, list):
            return [self._name(NAMED_IN_LISTS[key], name) for name in value]
        if key == "after" and isinstance(value, list):
            return [self._step(path, name) for name in value]
        if key in NAMED_ALONE and isinstance(value, str):
            return self._name(NAMED_ALONE[key], value)
        return self.entry(path, value)

    def _name(self, table: str, name: Any) -> Any:
        return self.plain.get((table, name), name) if isinstance(name, str) else name

    def _state(self, condition: str, value: Any) -> Any:
        """A state that a step sets, or the list of those that it needs."""
        if isinstance(value, list):
            said = [self._state(condition, one) for one in value]
            return [one for place, one in enumerate(said) if one not in said[:place]]
        return self.states.get((condition, value), value) if isinstance(value, str) else value

    def _step(self, path: Path, name: Any) -> Any:
        """A step that the operation at `path` waits for: ``job/operation``, or an operation of its own job."""
        if not isinstance(name, str):
            return name
        job = str(path[1])
        own = self.steps.get("/".join(map(str, path[1:4:2])), f"{job}/").partition("/")[0]
        full = name if "/" in name else f"{job}/{name}"
        return self.steps.get(full, full).removeprefix(f"{own}/")

    def removed(self, entry: Any) -> Any:
        """A path under ``remove``."""
        if not isinstance(entry, str):
            return entry
        path = _path(entry)
        for old, new in self.now.items():
            if path[: len(old)] == old:
                return dotted(new + path[len(old) :])
        return entry


def _path(written: str) -> Path:
    return tuple(part.strip() for part in written.split("."))


def _at(data: Any, path: Path) -> Any:
    for key in path:
        data = data.get(key) if isinstance(data, dict) else None
    return data


def _standing(path: Path, value: Any) -> Any:
    for key in reversed(path):
        value = {key: value}
    return value
