"""References that fall away: a name with a question mark behind it stands only where the book has it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Any

from witnessmark.book.errors import Path

# By the key that it stands under: the table of a name.
NAMED_BY_KEYS = {
    "needs": "conditions", "sets": "conditions", "when": "conditions", "opens": "circuits", "closes": "circuits",
    "parts": "parts", "fluids": "fluids",
}  # fmt: skip
NAMED_IN_LISTS = {
    "loosens": "fasteners", "snugs": "fasteners", "tightens": "fasteners", "again_after": "fasteners",
    "disturbs": "renewals", "renews": "renewals", "readings": "readings", "early": "readings", "shims": "shims",
    "cautions": "cautions", "tools": "tools", "figures": "figures", "stages": "figures", "brings": "jobs",
    "after_test": "jobs", "always_with": "jobs", "or_reading": "readings",
    "jobs": "jobs", "disposal": "fluids",
}  # fmt: skip
NAMED_ALONE = {
    "figure": "figures", "turn": "figures", "low": "figures", "high": "figures", "every_distance": "figures",
    "every_time": "figures", "target": "figures", "grade": "figures", "behind": "fasteners", "fluid": "fluids",
    "part": "parts", "found": "readings", "left": "readings", "reading": "readings", "below": "figures",
    "above": "figures",
}  # fmt: skip
TABLES = (
    "figures", "conditions", "never", "access", "jobs", "services", "fasteners", "circuits", "renewals", "parts",
    "fluids", "tools", "readings", "shims", "cautions",
)  # fmt: skip


class Resolved:
    """The tables of a book with every reference that falls away gone, and where what is left was said."""

    def __init__(self, data: dict[str, Any], said: Mapping[Path, Any]) -> None:
        self.book, self.placed = data, bool(said)
        self.moved: dict[Path, Path] = {(): ()}
        self.emptied: list[
            Path
        ] = []  # lists of states that fell away whole: the step could never be done
        self.data: dict[str, Any] = {}
        for table, entries in data.items():
            self.moved[(table,)] = (table,)
            if table in TABLES and isinstance(entries, dict):
                kept = {name: self._table((table, name), entry) for name, entry in entries.items()}
                self.data[table] = {
                    name: entry for name, entry in kept.items() if entry is not None
                }
            else:
                self.data[table] = entries
                self._keep((table,), (table,), entries)
        self.said = {self.moved[path]: at for path, at in said.items() if path in self.moved}

    def _keep(self, old: Path, new: Path, value: Any) -> None:
        if not self.placed:
            return
        self.moved[old] = new
        if isinstance(value, dict | list):
            for part, entry in value.items() if isinstance(value, dict) else enumerate(value):
                self._keep((*old, part), (*new, part), entry)

    def _table(self, path: Path, entry: Any) -> Any:
        """An entry of a table; None where it goes with what it speaks of."""
        if not isinstance(entry, dict):
            self._keep(path, path, entry)
            return entry
        made = self._entry(path, entry)
        kept = made.get("sets", True) if path[0] == "access" else made.get("when", True)
        all_there = path[0] != "never" or len(made.get("when", ())) == len(entry.get("when", ()))
        return made if kept and all_there else None

    def _entry(self, path: Path, entry: dict[str, Any]) -> dict[str, Any]:
        self.moved[path] = path
        made: dict[str, Any] = {}
        for key, value in entry.items():
            here: Path = (*path, key)
            if key in NAMED_BY_KEYS and isinstance(value, dict):
                made[key] = self._by_keys(here, NAMED_BY_KEYS[key], value)
            elif key in NAMED_IN_LISTS and isinstance(value, list):
                made[key] = self._listed(here, here, value, self.book.get(NAMED_IN_LISTS[key], {}))
            elif key == "after" and isinstance(value, list):
                made[key] = self._listed(here, here, value, self._operations(path))
            elif key in NAMED_ALONE and isinstance(value, str) and value.endswith("?"):
                if (name := value[:-1]) in self.book.get(NAMED_ALONE[key], {}):
                    made[key] = name
                    self.moved[here] = here
            elif isinstance(value, dict):
                made[key] = self._entry(here, value)
            else:
                made[key] = value
                self._keep(here, here, value)
        return made

    def _by_keys(self, path: Path, table: str, value: dict[str, Any]) -> dict[str, Any]:
        self.moved[path] = path
        made: dict[str, Any] = {}
        for written, entry in value.items():
            name = written.removesuffix("?")
            known = self.book.get(table, {})
            if written != name and name not in known:
                continue
            old, new = (*path, written), (*path, name)
            if isinstance(entry, list):
                inside = known.get(name, {})
                names = (
                    inside.get("states", ())
                    if table == "conditions"
                    else inside.get("closed_by", ())
                )
                made[name] = self._listed(old, new, entry, names)
                if entry and not made[name]:
                    self.emptied.append(new)
            else:
                made[name] = entry
                self._keep(old, new, entry)
        return made

    def _listed(self, old: Path, new: Path, value: list[Any], names: Iterable[str]) -> list[Any]:
        self.moved[old] = new
        made: list[Any] = []
        for place, entry in enumerate(value):
            falls = isinstance(entry, str) and entry.endswith("?")
            if not falls or entry[:-1] in names:
                self._keep((*old, place), (*new, len(made)), entry)
                made.append(entry[:-1] if falls else entry)
        return made

    def _operations(self, path: Path) -> set[str]:
        """What an operation at `path` may name: those of its own job, and ``job/operation`` of all."""
        jobs = self.book.get("jobs", {})
        own = jobs.get(path[1], {}).get("operations", {}) if path[0] == "jobs" else {}
        return {
            *own,
            *(f"{job}/{name}" for job, one in jobs.items() for name in one.get("operations", ())),
        }


def without_unused(data: dict[str, Any], shared: Collection[tuple[str, str]]) -> dict[str, Any]:
    """The tables less those shared entries that nothing speaks of; what only they speak of goes with them."""
    while gone := {path for path in shared if path[1] in data.get(path[0], {})} - _spoken_of(data):
        data = dict(data)
        for table, name in gone:
            data[table] = {key: entry for key, entry in data[table].items() if key != name}
    return data


def _spoken_of(data: Mapping[str, Any]) -> set[tuple[str, str]]:
    return {
        named
        for table in TABLES
        for name, entry in data.get(table, {}).items()
        for named in _names_in(entry)
        if named != (table, name)
    }


def _names_in(value: Any) -> Iterator[tuple[str, str]]:
    if not isinstance(value, dict):
        return
    for key, entry in value.items():
        if key in NAMED_BY_KEYS and isinstance(entry, dict):
            yield from ((NAMED_BY_KEYS[key], name) for name in entry)
            for inner in entry.values():
                yield from _names_in(inner)
        elif key in NAMED_IN_LISTS and isinstance(entry, list):
            yield from ((NAMED_IN_LISTS[key], name) for name in entry)
        elif key in NAMED_ALONE and isinstance(entry, str):
            yield NAMED_ALONE[key], entry
        else:
            yield from _names_in(entry)
