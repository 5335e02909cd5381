"""Put a book together from blocks: one for each slot of a build, in the vocabulary that all of them share.

A block is a TOML document below `blocks/`. Besides the tables of a book it may say:

- `extends`: another block of its slot that it lays itself over, less what stands under `remove`.
- `[option.NAME]` with `text`, `usual` and `choices`: what differs inside the block. `[when.NAME.CHOICE]` holds
  what the block says beyond that where this choice is taken; several choices in one key: `"one, two"`.
- `[with.SLOT.BLOCK]`: what it says beyond that beside another block.
- `[add…]`: entries at the end of lists that blocks have.
- `beside`: which blocks of another slot it goes with; `"none"` for a build without that slot.
- `"name?"` for a name or a state of another block: falls away where this build has none (`book.optional`).
- A block for several slots writes words in capitals, such as END; each slot says what stands for them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any, NamedTuple

from witnessmark.book import vocabulary
from witnessmark.book.errors import Fault, Path, dotted, known
from witnessmark.book.merge import Layers, Origin, merged, names_at
from witnessmark.book.optional import NAMED_BY_KEYS, Resolved, without_unused
from witnessmark.book.vocabulary import NOT_KNOWN, Block, Slot
from witnessmark.errors import listed, suggestion

HEAD = ("format", "text", "shared", "beside", "option", "when", "with", "add")  # of a block alone
Placed = tuple[Origin, Fault]
Build = Mapping[str, Any]  # slot: the block's name, or {is = name, option = choice}
Said = Mapping[Path, Origin]


class Chosen(NamedTuple):
    """The block taken for a slot, with a choice for each of its options."""

    slot: Slot
    name: str
    block: Block
    options: dict[str, str]


def compose(build: Build, said: Said | None = None) -> tuple[Layers, list[Placed]]:
    """What the blocks of a build say together, and what is wrong with the build or with the blocks.

    `said` tells where the build was written, by paths that begin with ``build``. None: nobody asks yet where anything
    stands; that takes the most time, and of a sound book nobody ever asks.
    """
    chosen, faults = _told(build, said or {})
    names = {one.slot.name: one.name for one in chosen}
    together = _Together(faults)
    pieces = [
        (one, *piece) for one in chosen for piece in _pieces(one, names, placed=said is not None)
    ]
    for one, data, where in pieces:
        together.lay({key: value for key, value in data.items() if key not in HEAD}, where, one)
    for _, data, where in pieces:
        together.add(together.data, data.get("add", {}), _below(where, ("add",)))
    resolved = Resolved(together.data, together.said)
    for path in resolved.emptied:
        problem = "none of these states is in this build"
        faults.append((nearest_said(resolved.said, path), Fault(path, problem, "name one it has")))
    data = vocabulary.with_wanted(without_unused(resolved.data, _shared(chosen)))
    faults += [
        (nearest_said(resolved.said, fault.path), fault) for fault in vocabulary.faults(data)
    ]
    data["build"] = _in_full(build, chosen)
    return Layers(data, {**(said or {}), **resolved.said}, {}), faults


def in_full(build: Build, said: Said) -> tuple[dict[str, dict[str, str]], list[Placed]]:
    """Every choice of a build, also the usual ones, and what is wrong with it; no block is put together."""
    chosen, faults = _told(build, said)
    return _in_full(build, chosen), faults


def build_over(base: Build, over: Build) -> dict[str, dict[str, str]]:
    """The choices of one build over those of another; another block begins with no options."""
    new = {
        slot: {**base[slot], **given}
        if slot in base and given.get("is", base[slot].get("is")) == base[slot].get("is")
        else given
        for slot, given in over.items()
    }
    return {**base, **new}


def nearest_said(said: Said, path: Path) -> Origin:
    """Where that path was said, else the nearest around it."""
    while path and path not in said:
        path = path[:-1]
    return said.get(path, Origin("blocks", 1))


# ---------------------------------------------------------------- the build


def _told(build: Build, said: Said) -> tuple[list[Chosen], list[Placed]]:
    """The block taken for each slot, and each fault of the build with where it was written."""
    faults: list[Placed] = []

    def tell(path: Path, problem: str, expected: str) -> None:
        path = ("build", *path)
        faults.append((nearest_said(said, path), Fault(path, problem, expected)))

    chosen = list(_chosen(build, tell))
    names = {one.slot.name: one.name for one in chosen}
    for one in chosen:
        for other, fitting in one.block.data.get("beside", {}).items():
            taken = names.get(other, "none")
            if taken in fitting or taken_of(build.get(other)) == NOT_KNOWN:
                continue
            slot = vocabulary.slots()[other]
            which = "without it" if taken == "none" else f'"{taken}"'
            problem = f'{slot.text} {which} does not go with {one.slot.text.lower()} "{one.name}"'
            there = [name for name in fitting if name == "none" or name in slot.blocks]
            tell((other if other in build else one.slot.name,), problem, f"choose {listed(there)}")
    return chosen, faults


def _chosen(build: Build, tell: Callable[[Path, str, str], None]) -> Iterator[Chosen]:
    slots = vocabulary.slots()
    for name in build:
        if name not in slots:
            tell((name,), f'no slot "{name}"', known("slot", name, slots))
    for name, slot in slots.items():
        value = build.get(name, slot.usual)
        taken = taken_of(value, slot.usual)
        if taken in (None, NOT_KNOWN):
            if slot.always:
                tell((name,), f"{slot.text}: nothing is chosen", f"choose {listed(slot.blocks)}")
        elif taken not in slot.blocks:
            expected = known("block", str(taken), slot.blocks)
            tell((name,), f'{slot.text}: no block "{taken}"', expected)
        else:
            block = vocabulary.block(name, taken)
            given = value if isinstance(value, dict) else {}
            options = dict(_options(slot, block, given, tell))
            worded = {
                (key, options[key])
                for key, option in slot.options.items()
                if options[key] in option["words"]
            }
            if worded:
                block = vocabulary.block(name, taken, frozenset(worded))
            yield Chosen(slot, taken, block, options)


def taken_of(value: Any, usual: str | None = None) -> Any:
    """The block that a choice names, by itself or under ``is``; the usual one where it names none."""
    return value.get("is", usual) if isinstance(value, dict) else value


def _options(
    slot: Slot, block: Block, given: Mapping[str, Any], tell: Callable[[Path, str, str], None]
) -> Iterator[tuple[str, str]]:
    """Every option of the block with the choice given, else the usual one."""
    offered = block.data.get("option", {})
    for key in given:
        if key != "is" and key not in offered:
            problem = f'{slot.text}: no option "{key}"'
            tell((slot.name, key), problem, known("option", key, offered))
    for key, option in offered.items():
        choice = given.get(key, option["usual"])
        if choice not in option["choices"]:
            problem = f'{option["text"]} "{choice}" is no choice'
            expected = suggestion(str(choice), option["choices"])
            tell((slot.name, key), problem, expected or known("choice", "", option["choices"]))
            choice = option["usual"]
        yield key, choice


def _in_full(build: Build, chosen: list[Chosen]) -> dict[str, dict[str, str]]:
    """The build with everything said, also what is usual."""
    taken = {one.slot.name: {"is": one.name, **one.options} for one in chosen if one.slot.asked}
    left = set(build) & set(vocabulary.slots()) - set(taken)
    return taken | {name: {"is": NOT_KNOWN} for name in left}


# ---------------------------------------------------------------- what blocks say


def _pieces(
    one: Chosen, names: Mapping[str, str], *, placed: bool
) -> Iterator[tuple[dict[str, Any], Said]]:
    """What a block says: always, then for these choices, and beside these others."""
    taken = {"when": one.options, "with": names}
    yield from _with_more(one.block.data, one.block.said if placed else {}, taken)


def _with_more(
    data: dict[str, Any], where: Said, taken: Mapping[str, Mapping[str, str]]
) -> Iterator[tuple[dict[str, Any], Said]]:
    yield data, where
    for kind, choices in taken.items():
        for name, ways in data.get(kind, {}).items():
            for way, more in ways.items():
                if choices.get(name) in [one.strip() for one in way.split(",")]:
                    yield from _with_more(more, _below(where, (kind, name, way)), taken)


def _below(where: Said, head: Path) -> dict[Path, Origin]:
    size = len(head)
    return {path[size:]: origin for path, origin in where.items() if path[:size] == head}


def _shared(chosen: list[Chosen]) -> set[tuple[str, str]]:
    """What falls away where nothing speaks of it: all that a block of shared words declares."""
    return {
        (table, name)
        for one in chosen
        if one.block.data.get("shared")
        for table, entries in one.block.data.items()
        if table not in (*HEAD, "never", "access", "jobs", "services", "translations")
        for name in entries
    }


class _Together:
    """The blocks laid over one another; none may change what another says."""

    def __init__(self, faults: list[Placed]) -> None:
        self.data: dict[str, Any] = {}
        self.said: dict[Path, Origin] = {}
        self.laid: list[
            tuple[dict[str, Any], set[str]]
        ] = []  # each with the documents of its block
        self.faults = faults

    def lay(self, data: dict[str, Any], where: Said, of: Chosen) -> None:
        """One piece more. A later piece of the same block counts; two blocks may not disagree."""
        documents = {document.label for document in of.block.documents}
        for path in disagreements(self.data, data):
            if documents.isdisjoint(self._last_to_say(path)):
                before, now = nearest_said(self.said, path), nearest_said(where, path)
                problem = f"{before.file}:{before.line} says otherwise"
                fault = Fault(path, problem, "let one of the two blocks say it")
                self.faults.append((now, fault))
        self.data = merged(self.data, data)
        self.said |= where
        self.laid.append((data, documents))

    def _last_to_say(self, path: Path) -> set[str]:
        """The documents of the block that last said what stands there."""
        return next(by for data, by in reversed(self.laid) if path[-1] in names_at(data, path[:-1]))

    def add(self, here: dict[str, Any], more: dict[str, Any], where: Said, path: Path = ()) -> None:
        """Entries at the end of lists; tables must be there, or be named with a question mark."""
        for written, value in more.items():
            key, at = written.removesuffix("?"), (*path, written)
            if path[-1:] and path[-1] in NAMED_BY_KEYS and key not in here:
                key = written  # a reference: whether it falls away is seen later
            inside = (*path, key)
            if isinstance(value, list):
                old = here.get(key, [])
                fresh = [entry for entry in value if entry not in old]
                here[key] = [*old, *fresh]
                self.said.setdefault(inside, nearest_said(where, at))
                for place, entry in enumerate(fresh, len(old)):
                    origin = nearest_said(where, (*at, value.index(entry)))
                    self.said[(*inside, place)] = origin
            elif isinstance(value, dict) and (key in here or key in NAMED_BY_KEYS):
                here[key] = dict(here.get(key, {}))
                moved = {
                    (*inside, *p[len(at) :]): o for p, o in where.items() if p[: len(at)] == at
                }
                self.add(here[key], value, moved, inside)
            elif not isinstance(value, dict) and here.get(key, value) == value:
                here[key] = value
                self.said.setdefault(inside, nearest_said(where, at))
            elif key == written:
                problem = f'nothing to add to at "{dotted(inside)}"'
                fault = Fault(inside, problem, f'write "{key}?" if it may be missing')
                self.faults.append((nearest_said(where, at), fault))


def disagreements(base: Any, over: Any, path: Path = ()) -> Iterator[Path]:
    """The paths at which two tables say different things."""
    if isinstance(base, dict) and isinstance(over, dict):
        for key in base.keys() & over.keys():
            yield from disagreements(base[key], over[key], (*path, key))
    elif base != over:
        yield path
