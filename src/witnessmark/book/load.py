"""Read a service book and what it extends; report all that is wrong, with file and line."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import chain, islice
from typing import Any

from pydantic import ValidationError

from witnessmark.book import amounts, fastener_checks, refer, translate, wording
from witnessmark.book.compose import build_over, compose, disagreements, nearest_said
from witnessmark.book.document import Document, document_in, parsed
from witnessmark.book.errors import (
    MOST_TOLD,
    BookError,
    BookErrors,
    Fault,
    Path,
    dotted,
    known,
)
from witnessmark.book.fields import ID_PATTERN
from witnessmark.book.merge import (
    OWN,
    Layers,
    Origin,
    handed_down,
    laid_over,
    names_at,
    removed,
    without,
)
from witnessmark.book.model import Book
from witnessmark.book.renamed import in_new_names, is_renaming
from witnessmark.book.system import (
    FilePath,
    archetypes,
    below,
    comes_with_us,
    documents_in,
    folder_of,
    is_there,
    same_file,
)
from witnessmark.errors import nearest

MOST_FILES = 8  # in a chain of `extends`


def load_book(path: FilePath) -> Book:
    """The whole book in a TOML file, after `extends`.

    `extends` names an archetype, or a file by its path relative to the one that says so; that file
    must lie in the folder of `path` or below it, so that the folder can be carried away whole.
    Tables come in the order of their keys, as they do from the pinned revision.

    Raises BookErrors with all that is wrong in the file and in those it extends.
    """
    return load_placed(path).book


def load_book_text(text: str, name: str = "pasted") -> Book:
    """The whole book in a TOML text, which may extend an archetype but no file.

    `name` stands for the file in errors. Raises BookErrors with all that is wrong.
    """
    return load_text_placed(text, name).book


@dataclass(frozen=True)
class PlacedBook:
    """A book, and where in its documents and blocks each thing was said."""

    book: Book
    documents: tuple[Document, ...]

    @cached_property
    def said(self) -> Mapping[Path, Origin]:
        """The place of each thing."""
        *_, (_, layers) = _Chain(None).layers(self.documents)
        return layers.said

    def place(self, path: Path) -> str:
        """Where something stands, as errors tell it: ``file:line field.path``."""
        at = nearest_said(self.said, path)
        return f"{at.file}:{at.line} {dotted(path)}"


def load_placed(path: FilePath) -> PlacedBook:
    """As `load_book`, with where each thing was said."""
    return _Chain(path.parent).load(document_in(path, str(path)))


def load_text_placed(text: str, name: str = "pasted") -> PlacedBook:
    """As `load_book_text`, with where each thing was said."""
    return _Chain(None).load(parsed(text, name))


def path_written(entry: Any) -> Path | None:
    """A path as written under `remove`: a TOML key, dotted."""
    if not isinstance(entry, str) or "=" in entry or "\n" in entry:
        return None
    try:
        here: Any = parsed(f"{entry} = 0", "").data
    except BookErrors:
        return None
    path: Path = ()
    while isinstance(here, dict):
        ((key, here),) = here.items()
        path = (*path, key)
    return path


class _Chain:
    """One book being put together from its documents, and what was found wrong on the way.

    Each document of a chain must be a whole book by itself. Whatever is wrong only after a
    document was laid over a sound base is that document's fault, and is told with its line.
    """

    def __init__(self, root: FilePath | None, *, placed: bool = True) -> None:
        self.root = root
        self.placed = placed  # lines are looked up, and every document is checked by itself
        self.found: dict[tuple[Path, str], tuple[int, BookError]] = {}
        self.whole = True  # all that the documents extend could be had
        self.renamed: dict[str, str] = {}

    def load(self, document: Document) -> PlacedBook:
        found: list[Document] = []
        for one in self.documents(document, (document,)):
            # what two of them extend comes once, below both
            if one.file is None or not any(same_file(one.file, had.file) for had in found):
                found.append(one)
        if self.whole:
            documents = tuple(found)
            book = None if self.found else _sound(documents)
            if book is None:
                book = self.laid_together(documents)
            if not self.found and book is not None:
                return PlacedBook(book, documents)
        raise BookErrors(error for _, error in self.found.values())

    def laid_together(self, documents: tuple[Document, ...]) -> Book | None:
        """The blocks, then each document over those before it; None where it has no shape.

        Those that come with the program are checked by themselves only where lines are looked up.
        """
        book = None
        for document, layers in self.layers(documents):
            if self.placed or document is documents[-1] or not comes_with_us(document.file):
                book, faults = _validated(layers.data)
                if faults and not self.placed:
                    return None
                blamed = (_blamed(fault, layers, document) for fault in faults)
                for at, fault in sorted(blamed, key=_line):
                    self.tell(at, fault)
        return book

    def layers(self, documents: tuple[Document, ...]) -> Iterator[tuple[Document, Layers]]:
        """Each document with what it and those before it say together, over their blocks."""
        layers = self.composed(documents)
        for document in documents:
            layers = self.less_removed(document, handed_down(layers))
            data = {key: value for key, value in document.data.items() if key not in _CHAINING}
            layers = laid_over(layers, data, document.said if self.placed else {})
            own = document.data.get("translations")
            layers = layers._replace(data=translate.without_stale(layers.data, own))
            yield document, layers

    def composed(self, documents: tuple[Document, ...]) -> Layers:
        """What the blocks say that the documents choose; a later document's choice counts."""
        build: dict[str, Any] = {}
        said: dict[Path, Origin] = {}
        for document in documents:
            build = build_over(build, self.build_of(document))
            if self.placed:
                said |= {path: at for path, at in document.said.items() if path[:1] == ("build",)}
        if not build:
            return Layers({}, {}, {})
        layers, faults = compose(build, said if self.placed else None)
        if self.placed:
            data = translate.without_stale(layers.data, {})  # of other choices than these
            _, more = _validated(_STAND_INS | data)
            faults += [(nearest_said(layers.said, fault.path), fault) for fault in more]
        for at, fault in faults:
            self.tell(at, fault)
        return layers

    def build_of(self, document: Document) -> dict[str, dict[str, str]]:
        """What a document chooses, by slot; a block alone is written as its name."""
        written = document.data.get("build", {})
        build: dict[str, dict[str, str]] = {}
        for slot, value in written.items() if isinstance(written, dict) else [("", written)]:
            given = {"is": value} if isinstance(value, str) else value
            if isinstance(given, dict) and all(isinstance(one, str) for one in given.values()):
                build[slot] = given
            else:
                path: Path = ("build", slot) if slot else ("build",)
                expected = 'write [build] with slot = "block", or slot = { is = "block", … }'
                self.tell(document.at(path), Fault(path, "not a choice of blocks", expected))
        return build

    def tell(self, at: Origin, fault: Fault) -> None:
        """Keep a fault, unless an earlier document of the chain has the same."""
        place = f"{at.file}:{at.line} {dotted(fault.path)}".rstrip()
        error = BookError(place, fault.problem, fault.expected)
        error.path = fault.path
        self.found.setdefault((fault.path, fault.problem), (at.line, error))

    # ------------------------------------------------------------ extends and remove

    def documents(self, document: Document, trail: tuple[Document, ...]) -> Iterator[Document]:
        """The document, behind all that it extends."""
        written = document.data.get("extends", [])
        several = isinstance(written, list)
        siblings: list[Document] = []
        for place, name in enumerate(written if several else [written]):
            path: Path = ("extends", place) if several else ("extends",)
            try:
                base = self.base(document, name, trail)
            except _RefusedError as refused:
                self.tell(document.at(path), Fault(path, *refused.args))
                self.whole = False
            except BookErrors as errors:
                self.found |= {((e.place,), e.problem): (0, e) for e in errors.errors}
                self.whole = False
            else:
                self.refuse_disagreement(siblings, base)
                siblings.append(base)
                yield from self.documents(base, (*trail, base))
        earlier = self.renamed
        self.renamed = earlier | dict(self.renames(document))
        yield in_new_names(document, earlier)

    def renames(self, document: Document) -> Iterator[tuple[str, str]]:
        """What a document says under ``renamed``: a name of old, and the name now."""
        written = document.data.get("renamed", {})
        for old, new in written.items() if isinstance(written, dict) else [("", written)]:
            if isinstance(new, str) and is_renaming(old, new):
                yield old, new
            else:
                path: Path = ("renamed", old) if old else ("renamed",)
                expected = 'write [renamed] with "figures.old_name" = "figures.new_name"'
                self.tell(document.at(path), Fault(path, "not two names of one table", expected))

    def refuse_disagreement(self, siblings: list[Document], one: Document) -> None:
        """Tell where documents that are extended side by side say different things."""
        for other in siblings:
            for path in disagreements(other.data, one.data):
                if path[0] not in (*OWN, "build"):
                    before = other.at(path)
                    problem = f"{before.file}:{before.line} says otherwise"
                    expected = "let one of the two say it"
                    self.tell(one.at(path), Fault(path, problem, expected))

    def less_removed(self, document: Document, layers: Layers) -> Layers:
        """What a document builds on, less what it removes."""
        if "remove" in document.data and not layers.data:
            fault = Fault(("remove",), "nothing to remove from", "say what the book extends")
            self.tell(document.at(fault.path), fault)
            return layers
        for place, path in islice(self.removals(document), MOST_TOLD):
            try:
                layers = removed(layers, path, document.at(("remove", place)))
            except KeyError:
                self.tell(document.at(("remove", place)), _not_there(layers.data, place, path))
        return layers

    def base(self, document: Document, name: Any, trail: tuple[Document, ...]) -> Document:
        """A document that this one extends."""
        path, label = self.extended(document, name)
        if any(same_file(path, earlier.file) for earlier in trail):
            raise _RefusedError("it comes back to itself", "let the first of the chain extend none")
        if len(trail) >= MOST_FILES:
            raise _RefusedError(f"more than {MOST_FILES} files in a row", "extend fewer in a row")
        return document_in(path, label)

    def extended(self, document: Document, name: Any) -> tuple[FilePath, str]:
        """The file that a name under `extends` means, and how people know it."""
        if not isinstance(name, str):
            raise _RefusedError(
                f"{name} is no name", 'give an archetype, or a path like "base.toml"'
            )
        names = archetypes()
        if name in names:
            return names[name], f"archetypes/{name}.toml"
        if not name.endswith(".toml"):
            raise _RefusedError(f'no archetype "{name}"', _archetype_or_path(name, list(names)))
        if document.file is None or self.root is None:
            expected = f"archetypes are {', '.join(names)}"
            raise _RefusedError("a pasted book cannot extend a file", expected)
        path = self.beside(document.file, name)
        if not is_there(path):
            raise _RefusedError(f'no file "{name}"', known("book", name, documents_in(self.root)))
        return path, str(document.file.parent / name)

    def beside(self, file: FilePath, name: str) -> FilePath:
        """The file of that relative path, which must not leave the folder of the book."""
        root = folder_of(file, self.root or file.parent)
        path = below(root, file, name)
        if path is None:
            expected = f"keep it in {root.name or root}/ or below, and give the path from this file"
            raise _RefusedError(f'"{name}" lies outside the folder of the book', expected)
        return path

    def removals(self, document: Document) -> Iterator[tuple[int, Path]]:
        """The paths under `remove`, each with its place in the list."""
        given = document.data.get("remove", [])
        if not isinstance(given, list):
            fault = Fault(("remove",), "not a list", 'give paths in brackets, ["jobs.chain"]')
            self.tell(document.at(fault.path), fault)
            return
        for place, entry in enumerate(given):
            path = path_written(entry)
            if path is None:
                problem, at = f"{entry!r} is no path", ("remove", place)
                self.tell(document.at(at), Fault(at, problem, 'write it like "jobs.chain"'))
            else:
                yield place, path


@lru_cache(maxsize=16)  # a page asks for the same book again; none may be changed
def _sound(documents: tuple[Document, ...]) -> Book | None:
    """The book of a whole chain; None where anything is wrong with it: what and where is seen in a second look."""
    one = _Chain(None, placed=False)
    book = one.laid_together(documents)
    return None if one.found else book


_CHAINING = ("extends", "remove", "build", "renamed")


class _RefusedError(Exception):
    """What `extends` says cannot be followed: what is wrong, what would be right."""


def _line(placed: tuple[Origin, Fault]) -> int:
    return placed[0].line


def _archetype_or_path(name: str, names: list[str]) -> str:
    like = nearest(name, names)
    expected = f'did you mean "{like}"?' if like else f"archetypes are {', '.join(names)}"
    return f"{expected} (a path ends in .toml)"


def _not_there(data: dict[str, Any], place: int, path: Path) -> Fault:
    """What is said of a path to remove that names nothing."""
    depth = next(n for n in range(len(path)) if path[n] not in names_at(data, path[:n]))
    names = names_at(data, path[:depth])
    like = nearest(str(path[depth]), names)
    expected = f'did you mean "{dotted((*path[:depth], like))}"?' if like else "drop it"
    return Fault(("remove", place), f'nothing to remove at "{dotted(path)}"', expected)


# ---------------------------------------------------------------- validation and blame


def _validated(data: dict[str, Any]) -> tuple[Book | None, list[Fault]]:
    try:
        book = Book.model_validate(_in_order(data))
    except ValidationError as error:
        faults = wording.faults(error, data, MOST_TOLD)
        if len(faults) < MOST_TOLD:
            faults += _of_the_rest(data, {fault.path[:2] for fault in faults})
        return None, faults[:MOST_TOLD]
    return book, list(islice(refer.faults(book), MOST_TOLD))


_STAND_INS: dict[str, Any] = {
    "format": 1,
    "name": "stand_in",
    "title": "stand-in",
    "archetype": True,
}


def _of_the_rest(data: dict[str, Any], bad: set[Path]) -> list[Fault]:
    """What is wrong with the entries that have their shape, when those at `bad` have not."""
    rest = {key: value for key, value in data.items() if key in Book.model_fields}
    for path in bad:
        if len(path) == 1 or path[0] == "machine":
            rest = {key: value for key, value in rest.items() if key != path[0]}
        elif path[1] in names_at(rest, path[:1]):
            rest = without(rest, path)
    try:
        book = Book.model_validate(_in_order(_STAND_INS | rest))
    except ValidationError:
        return []
    no_ids = {path[:1] for path in bad if len(path) > 1 and not re.match(ID_PATTERN, str(path[1]))}
    left_out = bad | no_ids | ({("machine",)} if any(p[0] == "machine" for p in bad) else set())
    every = chain(refer.name_faults(book), amounts.faults(book), fastener_checks.faults(book))
    others = (
        fault
        for fault in every
        if not {fault.path[:2], (fault.other or ())[:2], (fault.other or ())[:1]} & left_out
    )
    return list(islice(others, MOST_TOLD))


def _in_order(value: Any) -> Any:
    """Tables in the order of their keys: the order of writing is no information."""
    if isinstance(value, dict):
        return {
            key: _in_order(entry) if isinstance(entry := value[key], _HELD) else entry
            for key in sorted(value)
        }
    return [_in_order(entry) for entry in value] if isinstance(value, list) else value


_HELD = (dict, list)


def _blamed(fault: Fault, layers: Layers, document: Document) -> tuple[Origin, Fault]:
    """The line of `document` that made the fault: what it says, changed or removed."""
    for path in (fault.path, fault.other):
        if path is None:
            continue
        for gone, at in layers.gone.items():
            if path[: len(gone)] == gone and path not in layers.said:
                expected = f'keep "{dotted(gone)}", or leave out what needs it too'
                return at, fault if path == fault.path else fault._replace(expected=expected)
        said = _nearest_said(layers.said, path)
        if said.file == document.label:
            return said, fault
    return document.at(("extends",)), fault


def _nearest_said(said: dict[Path, Origin], path: Path) -> Origin:
    while path not in said:
        path = path[:-1]
    return said[path]
