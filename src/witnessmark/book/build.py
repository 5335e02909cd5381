"""The build sheet: what can be chosen for a model, what a choice brings, how choices are written and said.

A build is a choice for each slot: ``{"engine": {"is": "four_stroke", "built": "single"}}``. What is not known is
``{"is": "not known"}``; what is not said is as usual for the slot.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from functools import cache, lru_cache
from typing import NamedTuple

from witnessmark.book import vocabulary
from witnessmark.book.compose import Build, compose, in_full, taken_of
from witnessmark.book.document import document_in, quoted
from witnessmark.book.errors import BookError, BookErrors, dotted, known
from witnessmark.book.load import load_book_text
from witnessmark.book.model import Book
from witnessmark.book.system import archetypes
from witnessmark.book.vocabulary import NOT_KNOWN, Slot

Choices = dict[str, dict[str, str]]  # slot: its block under "is", and the choice of each option


class Option(NamedTuple):
    """A question inside of a block, the choices by name with their words, and the usual one."""

    name: str
    text: str
    usual: str
    choices: dict[str, str]


class Block(NamedTuple):
    """One block on offer for a slot."""

    name: str
    text: str
    why: str
    options: list[Option]


class Brings(NamedTuple):
    """What a build comes to: jobs and figures by id with their words, and what its blocks disagree on."""

    jobs: dict[str, str]
    figures: dict[str, str]
    faults: tuple[str, ...]


class Change(NamedTuple):
    """What comes and what goes between two builds, in words."""

    jobs_come: list[str]
    jobs_go: list[str]
    figures_come: list[str]
    figures_go: list[str]
    faults: tuple[str, ...]  # of the new one


def asked() -> list[Slot]:
    """The slots of the sheet, in its order."""
    return [slot for slot in vocabulary.slots().values() if slot.asked]


def blocks_of(slot: Slot) -> list[Block]:
    """The blocks on offer for a slot."""
    return [_block(slot.name, name) for name in slot.blocks]


@cache
def _block(slot: str, name: str) -> Block:
    data = vocabulary.block(slot, name).data
    options = [
        Option(key, one["text"], one["usual"], dict(one["choices"]))
        for key, one in data.get("option", {}).items()
    ]
    return Block(name, data["text"], data.get("why", ""), options)


@cache
def starting_points() -> dict[str, tuple[str, Choices]]:
    """The archetypes that are a choice of blocks: title and the choices in full, by name."""
    documents = {name: document_in(path, name).data for name, path in archetypes().items()}
    return {
        name: (str(data["title"]), whole(data["build"]))
        for name, data in documents.items()
        if "build" in data and "extends" not in data
    }


# ---------------------------------------------------------------- choices as written


def written(choices: Iterable[str]) -> Choices:
    """Choices as written at a prompt: ``engine=four_stroke``, ``engine.built=single``.

    Raises BookErrors where one is no choice at all, or a thing is chosen twice.
    """
    build: Choices = {}
    faults = []
    for text in choices:
        key, equals, value = (part.strip() for part in text.partition("="))
        slot, _, option = key.partition(".")
        if not (slot and equals and value):
            expected = "write slot=block or slot.option=choice, as engine=four_stroke"
            faults.append(BookError(f"--build {text}", "not a choice", expected))
            continue
        before = build.setdefault(slot, {}).setdefault(option or "is", value)
        if before != value:
            problem = f'chosen twice, "{before}" and "{value}"'
            faults.append(BookError(f"--build {key}", problem, "keep one of the two"))
    if faults:
        raise BookErrors(faults)
    return build


def refuse_unknown(build: Build, place: str = "--build") -> None:
    """Raise BookErrors for what is not there, and for what does not go together; what is missing yet is no fault."""
    slots, lacking = vocabulary.slots(), missing(build)
    open_ones = {slot.name: NOT_KNOWN for slot in asked() if not slot.always}
    faults = [
        BookError(f"{place} {dotted(fault.path[1:])}", fault.problem, fault.expected)
        for _, fault in in_full({**open_ones, **build}, {})[1]
        if fault.path[1] not in lacking
    ]
    faults += [
        BookError(f"{place} {name}", "every machine has it", known("slot", name, _names()))
        for name in build
        if name in slots and not slots[name].asked
    ]
    if faults:
        raise BookErrors(faults)


def missing(build: Build) -> list[str]:
    """The slots without which there is no machine, and for which nothing is chosen."""
    return [
        slot.name
        for slot in asked()
        if slot.always and taken_of(build.get(slot.name, slot.usual)) in (None, "", NOT_KNOWN)
    ]


def whole(build: Build) -> Choices:
    """The build with something said for every slot of the sheet: the usual, else that it is not known."""
    full, _ = in_full(build, {})
    return {slot.name: full.get(slot.name, {"is": NOT_KNOWN}) for slot in asked()}


def build_lines(build: Mapping[str, Mapping[str, str]]) -> list[str]:
    """The choices as lines of a ``[build]`` table in TOML."""
    return [f"{slot} = {_in_toml(choice)}" for slot, choice in build.items()]


def _in_toml(choice: Mapping[str, str]) -> str:
    if set(choice) == {"is"}:
        return quoted(choice["is"])
    inside = ", ".join(f"{dotted([key])} = {quoted(value)}" for key, value in choice.items())
    return f"{{ {inside} }}"


def _names() -> list[str]:
    return [slot.name for slot in asked()]


# ---------------------------------------------------------------- in words


# Choices that say nothing without their question.
_BARE = frozenset({"none", "no", "yes", "one", "two", "three", "four", "six"})


def in_words(build: Mapping[str, Mapping[str, str]]) -> Iterator[tuple[str, str, list[str]]]:
    """Slot, block and choices of its options, each in words; a block of another version stands as it is named."""
    slots = vocabulary.slots()
    for name in [
        *(one for one in slots if one in build),
        *(one for one in build if one not in slots),
    ]:
        choice = build[name]
        slot, taken = slots.get(name), choice.get("is", "")
        if slot is None or taken not in slot.blocks:
            words = "not known yet" if taken == NOT_KNOWN else taken
            yield slot.text if slot else name, words, []
            continue
        block = _block(name, taken)
        given = {option.name: choice.get(option.name, option.usual) for option in block.options}
        words_of = {o.name: o.choices.get(given[o.name], given[o.name]) for o in block.options}
        chosen = [
            _answered(o.text, words) if (words := words_of[o.name]).lower() in _BARE else words
            for o in block.options
        ]
        yield slot.text, block.text, chosen


def _answered(question: str, answer: str) -> str:
    """Example: ``Drain plugs: one``."""
    return f"{question}{' ' if question.endswith('?') else ': '}{answer[:1].lower()}{answer[1:]}"


def built_otherwise(
    before: Mapping[str, Mapping[str, str]], after: Mapping[str, Mapping[str, str]]
) -> Iterator[tuple[str, str, str]]:
    """Each slot that two builds have otherwise: its words, what it was, what it is. Example: Cooling, Air, Liquid.

    Of one block in both, the options that differ.
    """
    for (slot, was, parts_were), (_slot, now, parts) in zip(
        in_words(whole(before)), in_words(whole(after)), strict=True
    ):
        if was != now:
            yield slot, was, now
        elif parts != parts_were:
            pairs = [pair for pair in zip(parts_were, parts, strict=True) if pair[0] != pair[1]]
            yield slot, ", ".join(old for old, _ in pairs), ", ".join(new for _, new in pairs)


# ---------------------------------------------------------------- what a build comes to


def brings(build: Mapping[str, Mapping[str, str]]) -> Brings:
    """The jobs and figures of a build, and where its blocks say different things, with both lines."""
    return _brings(json.dumps(build, sort_keys=True))


@lru_cache(maxsize=128)
def _brings(build: str) -> Brings:
    layers, faults = compose(json.loads(build))
    if faults:
        _, faults = compose(json.loads(build), {})  # with their lines
    jobs, figures = (
        {name: str(one.get("text", name)) for name, one in layers.data.get(table, {}).items()}
        for table in ("jobs", "figures")
    )
    told = (
        f"{at.file}:{at.line} {dotted(fault.path)}: {fault.problem}; {fault.expected}"
        for at, fault in faults
        if fault.path[:1] != ("build",)  # those stand beside their slot
    )
    return Brings(jobs, figures, tuple(told))


def book_built(build: Mapping[str, Mapping[str, str]], extends: str | None = None) -> Book:
    """The book that a build makes, as an archetype: of no machine, with no figure.

    `extends`: an archetype that the build is a change of. Raises BookErrors.
    """
    lines = ["format = 1", 'name = "new_model"', 'title = "New model"', "archetype = true"]
    lines += [f"extends = {quoted(extends)}"] if extends else []
    return load_book_text("\n".join([*lines, "[build]", *build_lines(build)]), "the build")


def change(before: Brings, after: Brings) -> Change:
    """What comes and goes from one build to another."""

    def less(one: dict[str, str], other: dict[str, str]) -> list[str]:
        return [text for name, text in one.items() if name not in other]

    return Change(
        less(after.jobs, before.jobs),
        less(before.jobs, after.jobs),
        less(after.figures, before.figures),
        less(before.figures, after.figures),
        after.faults,
    )
