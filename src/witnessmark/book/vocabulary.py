"""What blocks have in common: the slots of a build sheet, and the places, conditions and states they speak of.

All of it stands in `blocks/vocabulary.toml`; the blocks of a slot are the files of its folder beside it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Any, NamedTuple

from witnessmark.book.document import Document, document_in
from witnessmark.book.errors import BookError, BookErrors, Fault, Path, known
from witnessmark.book.merge import Layers, Origin, laid_over, removed
from witnessmark.book.system import FilePath, blocks_folder

NOT_KNOWN = "not known"  # a slot whose jobs wait until somebody has looked


class Slot(NamedTuple):
    """One choice of a build sheet, with the blocks there are for it."""

    name: str
    text: str
    usual: str | None  # what a build has that does not name the slot
    needed: bool
    asked: bool  # by the build sheet; what every machine has is not
    words: dict[str, str]  # in capitals in its blocks: what stands there for this slot
    options: dict[str, dict[str, Any]]  # asked of each of its blocks, with `words` by choice
    blocks: dict[str, FilePath]

    @property
    def always(self) -> bool:
        """Whether every machine has one of its blocks."""
        return self.needed or self.usual is not None


@cache
def _vocabulary() -> dict[str, Any]:
    return document_in(blocks_folder() / "vocabulary.toml", "blocks/vocabulary.toml").data


@cache
def slots() -> dict[str, Slot]:
    """Every slot by its name, in the order of the build sheet."""
    found: dict[str, Slot] = {}
    for name, one in _vocabulary()["slots"].items():
        folder = blocks_folder() / one.get("kind", name)
        found[name] = Slot(
            name,
            one["text"],
            one.get("usual"),
            one.get("needed", False),
            one.get("asked", True),
            one.get("words", {}),
            one.get("option", {}),
            {file.stem: file for file in sorted(folder.glob("*.toml"))},
        )
    return found


@dataclass(frozen=True)
class Block:
    """What a block says for a slot, by the documents of its chain: what it extends, then its own."""

    slot: Slot
    documents: tuple[Document, ...]
    data: dict[str, Any]
    words: _Words

    @cached_property
    def said(self) -> dict[Path, Origin]:
        """Where it says each thing."""
        said = _laid(self.documents, placed=True).said
        return {self.words.in_path(path): at for path, at in said.items()}


@cache
def block(slot_name: str, name: str, chosen: frozenset[tuple[str, str]] = frozenset()) -> Block:
    """A block with the words of a slot in place. Raises BookErrors where it cannot be read.

    `chosen`: options of the slot, each with its choice, where that changes the words.
    """
    slot = slots()[slot_name]
    words = dict(slot.words)
    for option, choice in chosen:
        words |= slot.options[option]["words"][choice]
    documents, spoken = tuple(_chain(slot, name)), _Words(words)
    data = spoken.within(_laid(documents, placed=False).data)
    if slot.options:
        data = {**data, "option": {**slot.options, **data.get("option", {})}}
    return Block(slot, documents, data, spoken)


def _chain(slot: Slot, name: str) -> Iterator[Document]:
    """The document of a block, behind those of its folder that it extends."""
    file = slot.blocks[name]
    document = document_in(file, f"blocks/{file.parent.name}/{name}.toml")
    if base := document.data.get("extends"):
        yield from _chain(slot, base)
    yield document


def _laid(documents: tuple[Document, ...], *, placed: bool) -> Layers:
    """The documents over one another, each less what it removes; `placed`: with where each thing was said."""
    layers = Layers({}, {}, {})
    for document in documents:
        layers = _less_removed(document, layers, placed=placed)
        own = {key: one for key, one in document.data.items() if key not in ("extends", "remove")}
        layers = laid_over(layers, own, document.said if placed else {})
    return layers


def _less_removed(document: Document, layers: Layers, *, placed: bool) -> Layers:
    for place, path in enumerate(document.data.get("remove", ())):
        written: Path = ("remove", place)
        at = document.at(written) if placed else Origin(document.label, 1)
        try:
            layers = removed(layers, tuple(path.split(".")), at)
        except KeyError:
            at = document.at(written)
            told = BookError(f"{at.file}:{at.line}", f'nothing to remove at "{path}"', "drop it")
            raise BookErrors([told]) from None
    return layers


class _Words:
    """Words in capitals, and what stands there instead."""

    def __init__(self, words: Mapping[str, str]) -> None:
        self.words = words
        self.pattern = re.compile("|".join(sorted(words, key=len, reverse=True)))

    def within(self, value: Any) -> Any:
        """A value with the words in place, in keys as well."""
        if not self.words:
            return value
        if isinstance(value, dict):
            return {self.in_text(key): self.within(entry) for key, entry in value.items()}
        if isinstance(value, list):
            return [self.within(entry) for entry in value]
        return self.in_text(value) if isinstance(value, str) else value

    def in_path(self, path: Path) -> Path:
        """A path with the words in place; a key that is a sentence (of a translation) begins as one."""
        if not self.words:
            return path
        return tuple(self.in_text(part) if isinstance(part, str) else part for part in path)

    def in_text(self, text: str) -> str:
        """Where a text begins with such a word and goes on, the word is written large."""
        written = self.pattern.sub(lambda found: self.words[found[0]], text)
        first = self.pattern.match(text)
        opens = first is not None and text[first.end() : first.end() + 1] in (" ", ":", ",")
        return written[:1].upper() + written[1:] if opens else written


# ---------------------------------------------------------------- places, conditions and states


def places() -> list[str]:
    """Where at a machine work is done."""
    return list(_vocabulary()["places"])


def conditions() -> dict[str, dict[str, str]]:
    """The conditions that blocks may speak of: by name each state, with what it means."""
    return {name: dict(one["states"]) for name, one in _vocabulary()["conditions"].items()}


def wanted(data: Mapping[str, Any]) -> dict[str, dict[str, list[str]]]:
    """The states that steps want beyond what their block says, by kind of step and condition of the book `data`.

    ``start``: the engine runs. ``roll``: the machine moves on its wheels. ``ride``: it is ridden.
    """
    found: dict[str, dict[str, list[str]]] = {"start": {}, "roll": {}, "ride": {}}
    for name, condition in data.get("conditions", {}).items():
        states, ours = condition.get("states", []), _vocabulary()["conditions"].get(name, {})
        for kind in ("start", "roll"):
            if f"to_{kind}" in ours:
                found[kind][name] = [state for state in ours[f"to_{kind}"] if state in states]
        if condition.get("finish") in states:
            found["ride"][name] = [condition["finish"]]
    return found


def with_wanted(data: dict[str, Any]) -> dict[str, Any]:
    """The tables, with what starting, rolling and riding want written into the needs of the steps that do it."""
    wants = wanted(data)
    data = {**data, "access": dict(data.get("access", {})), "jobs": dict(data.get("jobs", {}))}
    for path, step in list(_steps(data)):
        more: dict[str, list[str]] = {}
        if step.get("gate") == "starter":
            more = wants["start"]
        elif step.get("gate") == "road test":
            more = wants["ride"]
        elif "place" in step.get("sets", {}):
            more = wants["roll"]
        if more:
            whole = {**step, "needs": {**more, **step.get("needs", {})}}
            if path[0] == "access":
                data["access"][path[1]] = whole
            else:
                job = data["jobs"][path[1]]
                operations = {**job["operations"], path[3]: whole}
                data["jobs"][path[1]] = {**job, "operations": operations}
    return data


def faults(data: Mapping[str, Any]) -> Iterator[Fault]:
    """What blocks say in words that are not of the vocabulary. `data`: their tables, put together."""
    every, there = conditions(), places()
    for name, condition in data.get("conditions", {}).items():
        path: Path = ("conditions", name)
        if name not in every:
            yield Fault(
                path, f'"{name}" is no condition of the vocabulary', known("condition", name, every)
            )
            continue
        for place, state in enumerate(condition.get("states", ())):
            if state not in every[name]:
                problem = f'"{state}" is no state of "{name}" in the vocabulary'
                yield Fault((*path, "states", place), problem, known("state", state, every[name]))
    for step_path, step in _steps(data):
        place_named = step.get("place", "")
        if place_named and place_named not in there:
            problem = f'"{place_named}" is no place of the vocabulary'
            yield Fault((*step_path, "place"), problem, known("place", place_named, there))


def _steps(data: Mapping[str, Any]) -> Iterator[tuple[Path, dict[str, Any]]]:
    for name, step in data.get("access", {}).items():
        yield ("access", name), step
    for job, entry in data.get("jobs", {}).items():
        for name, step in entry.get("operations", {}).items():
            yield ("jobs", job, "operations", name), step
