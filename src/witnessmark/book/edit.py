"""Change one thing of a book: what its text then says, and nothing in it that the blocks say as well.

A `Standing` is a book as it is written: its text, what the blocks and archetypes below it say, and what comes of both.
Each change is worked out as paths of the text with their new values (`text_edit.Changes`), and made by `edited`.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Any, NamedTuple

from witnessmark.book import rules
from witnessmark.book.differences import Difference, differences
from witnessmark.book.document import parsed
from witnessmark.book.errors import BookErrors, dotted
from witnessmark.book.load import load_book_text, path_written
from witnessmark.book.model import Book, Operation
from witnessmark.book.model_step import before
from witnessmark.book.own_job import OWN, free_id, own_job_of
from witnessmark.book.rebuild import as_comments
from witnessmark.book.select import in_turn, job_of, operations
from witnessmark.book.text_edit import GONE, Changes, Keys, in_toml, with_changes


class Standing(NamedTuple):
    """A book as it is written. `beneath`: the book without a word of the text's own; None where it extends nothing."""

    text: str
    said: Mapping[str, Any]
    beneath: Book | None
    book: Book


class Edited(NamedTuple):
    """What a change would make of a book, the differences in words, and the rules of the trade newly broken."""

    text: str
    book: Book
    differences: list[Difference]
    broken: list[rules.Finding]


def standing(text: str, book: Book) -> Standing:
    """A book with the text it was written as."""
    said = parsed(text, book.name).data
    return Standing(text, said, beneath(said), book)


def beneath(said: Mapping[str, Any]) -> Book | None:
    """What a document builds on, by what it says under `build` and `extends`.

    None where it says neither, and where that is sound no more: then no change of the document is, either.
    """
    building = {key: said[key] for key in ("extends", "build") if key in said}
    if not building:
        return None
    head = {"format": 1, "name": "beneath", "title": "beneath", "archetype": True}
    return _loaded("\n".join(f"{key} = {in_toml(one)}" for key, one in (head | building).items()))


@lru_cache(maxsize=16)
def _loaded(text: str) -> Book | None:
    try:
        return load_book_text(text)
    except BookErrors:
        return None


def edited(now: Standing, changes: Changes) -> Edited:
    """The book with these changes in its text. Raises BookErrors with what is then wrong with it."""
    return became(now, with_changes(now.text, changes))


def became(now: Standing, text: str) -> Edited:
    """The book with another text. Raises BookErrors with what is wrong with it.

    A translation that the text gives of words that are gone is kept aside in it, as another build does.
    """
    name = now.book.name
    try:
        book = load_book_text(text, name)
    except BookErrors as errors:
        stale = [error.path for error in errors.errors if error.path[:1] == ("translations",)]
        if len(stale) < len(errors.errors):
            raise
        text = as_comments(text, parsed(text, name), stale)
        book = load_book_text(text, name)
    known = {(one.rule.name, one.fault) for one in rules.findings(now.book)}
    broken = [
        one
        for one in rules.findings(book)
        if one.answer is None and (one.rule.name, one.fault) not in known
    ]
    return Edited(text, book, list(differences(now.book, book)), broken)


def otherwise(now: Standing) -> list[Difference]:
    """What the book says otherwise than the blocks; nothing for one that builds on none."""
    return [] if now.beneath is None else list(differences(now.beneath, now.book))


def id_of(words: str, taken: Collection[str]) -> str:
    """An id made of words, that is not taken. Example: ``Hot brake disc!`` gives ``hot_brake_disc``."""
    plain = unicodedata.normalize("NFKD", words.lower()).encode("ascii", "ignore").decode()
    name = re.sub(r"[^a-z0-9]+", "_", plain).strip("_")[:40].rstrip("_")
    return free_id(name if name[:1].isalpha() else f"own_{name}".rstrip("_"), taken)


# ---------------------------------------------------------------- the changes


def says(now: Standing, path: Keys, values: Mapping[str, Any]) -> Changes:
    """Other values for keys of one thing: a step, a job, a caution. None: nothing, whatever the blocks say."""
    made = _Made(now)
    made.say(path, values)
    return made.changes()


def entries(now: Standing, path: Keys, table: str, values: Mapping[str, Any]) -> Changes:
    """Other values inside of a table of one thing: what a step needs, its parts, circuits. None: not there."""
    made = _Made(now)
    made.say((*path, table), values)
    return made.changes()


def in_order(now: Standing, job: str, names: Sequence[str]) -> Changes:
    """The steps of a job in this order. Only what that turns round is written: the rest stays as free as it was.

    `names`: every step of the job, once.
    """
    own, shown = now.book.jobs[job].operations, in_turn(now.book, job)
    assert sorted(names) == sorted(shown), names
    place = {name: at for at, name in enumerate(names)}
    inside = {
        name: {full.partition("/")[2] for full in _full(job, own[name].after)
               if job_of(full) == job} & own.keys()
        for name in shown
    }  # fmt: skip
    ahead = _closed(inside, shown)
    wanted = {name: {one for one in ahead[name] if place[one] < place[name]} for name in shown}
    for at, first in enumerate(shown):
        wanted[first] |= {later for later in shown[at:] if place[later] < place[first]}
    wanted = _closed(wanted, names)
    made = _Made(now)
    for name in names:
        reached = inside[name] | {one for near in inside[name] for one in wanted[near]}
        if inside[name] <= wanted[name] and reached == wanted[name]:
            continue
        near = [one for one in names if one in wanted[name]]
        near = [one for one in near if not any(one in wanted[other] for other in near)]
        others = [one for one in own[name].after if job_of(before(job, one)) != job]
        made.say(("jobs", job, "operations", name), {"after": [*near, *others]})
    return made.changes()


def left_out(now: Standing, job: str, names: Collection[str]) -> Changes:
    """Exactly these steps of the job left out of it. What came after one of them comes after what that came after."""
    made = _Made(now)
    below = now.beneath.jobs.get(job) if now.beneath else None
    for step in {**now.book.jobs[job].operations, **(below.operations if below else {})}:
        path = ("jobs", job, "operations", step)
        if step in names:
            made.leave_out(path)
        elif path in made.gone:
            made.take_back(path)
    made.follow()
    return made.changes()


def job_left_out(now: Standing, job: str) -> Changes:
    """The job left out of the book, and of the services that name it; with a job of its own what it alone declares."""
    made = _Made(now)
    made.leave_out(("jobs", job))
    if now.beneath is None or job not in now.beneath.jobs:
        alone = own_job_of(now.book, job)
        for table in OWN:
            for name in getattr(alone, table):
                if not now.beneath or name not in getattr(now.beneath, table):
                    made.leave_out((table, name))
    made.follow()
    return made.changes()


def as_the_block_says(now: Standing, path: Keys) -> Changes:
    """Nothing of the text's own at a path or below: the override is taken away, what was left out is back."""
    made = _Made(now)
    made.take_back(path)
    made.follow()
    return made.changes()


class _Made:
    """Changes being put together, with the paths that the text removes from what is below it."""

    def __init__(self, now: Standing) -> None:
        self.now = now
        written = (path_written(one) or () for one in now.said.get("remove", []))
        self.removed: list[Keys] = [tuple(map(str, path)) for path in written]
        self.gone = {path for path in self.removed if path}
        self.was_gone = set(self.gone)
        self.put: dict[Keys, Any] = {}

    def say(self, path: Keys, values: Mapping[str, Any]) -> None:
        base, own = _thing(self.now.beneath, path), _thing(self.now.book, path)
        for key, value in values.items():
            here = (*path, key)
            if isinstance(base, Mapping) or isinstance(own, Mapping):
                self.gone.discard(here)
                usual = (base or {}).get(key)
            elif base is not None:
                self.gone.discard(here)
                usual = getattr(base, key)
            else:
                usual = type(own).model_fields[key].default if own is not None else None
            if value == usual or (not value and not usual and not isinstance(value, float)):
                self.put[here] = GONE
            elif value is None:
                self.put[here] = GONE
                self.gone.add(here)
            else:
                self.put[here] = value

    def leave_out(self, path: Keys) -> None:
        self.put[path] = GONE
        self.gone = {one for one in self.gone if one[: len(path)] != path}
        if _thing(self.now.beneath, path) is not None:
            self.gone.add(path)

    def take_back(self, path: Keys) -> None:
        self.put[path] = GONE
        self.gone = {one for one in self.gone if one[: len(path)] != path}

    def follow(self) -> None:
        """Let what names a step or a job that comes or goes name what is there: `after`, `brings`, services."""
        self._follow_steps()
        gone_before = {path[1] for path in self.was_gone if _is_job(path)}
        gone = {path[1] for path in self.gone if _is_job(path)}
        gone |= {
            path[1]
            for path, value in self.put.items()
            if _is_job(path) and value is GONE and _thing(self.now.beneath, path) is None
        }
        for table, key in (("services", "jobs"), ("jobs", "brings")):
            for name in {**getattr(self.now.book, table), **getattr(self.now.beneath, table, {})}:
                self._follow_jobs((table, name), key, gone_before, gone)

    def _follow_jobs(
        self, path: Keys, key: str, gone_before: Collection[str], gone: Collection[str]
    ) -> None:
        below, here = _thing(self.now.beneath, path), _thing(self.now.book, path)
        usual = None if below is None else getattr(below, key)
        stands = usual if here is None or self._taken_back(path) else getattr(here, key)
        if path in self.gone or stands is None:
            return
        if usual is not None and stands == _less(usual, gone_before):
            stands = usual
        self._say_list(path, key, _less(stands, gone))

    def _follow_steps(self) -> None:
        below = _operations(self.now.beneath)
        every = {**_operations(self.now.book), **below}
        old = _out(below, self.was_gone)
        new = _out(below, self.gone)
        new |= {name for name in every.keys() - below.keys() if self._taken_back(_at(name))}
        for name in every.keys() - new:
            job, path = job_of(name), _at(name)
            usual = list(below[name].after) if name in below else None
            here = None if self._taken_back(path) else _thing(self.now.book, path)
            stands = usual if here is None else here.after
            if stands is None:
                continue
            if usual is not None and stands == _without(job, usual, old, every):
                stands = usual
            self._say_list(path, "after", _without(job, stands, new, every))

    def changes(self) -> Changes:
        if self.gone != self.was_gone:
            kept = [path for path in self.removed if path in self.gone]
            fresh = sorted(self.gone - self.was_gone)
            names = [dotted(path) for path in (*kept, *fresh)]
            self.put[("remove",)] = names or GONE
        return self.put

    def _say_list(self, path: Keys, key: str, value: list[str]) -> None:
        thing = _thing(self.now.book, path)
        if thing is None or getattr(thing, key) != value or self._taken_back(path):
            self.say(path, {key: value})

    def _taken_back(self, path: Keys) -> bool:
        """Whether these changes take away what the text says of it."""
        return any(self.put.get(path[:depth]) is GONE for depth in range(len(path) + 1))


def _thing(book: Book | None, path: Keys) -> Any:
    """The thing at a path of a book; None where there is none."""
    here: Any = book
    for part in path:
        here = here.get(part) if isinstance(here, dict) else getattr(here, part, None)
    return here


def _is_job(path: Keys) -> bool:
    return path[0] == "jobs" and len(path) == len(("jobs", "job"))


def _less(jobs: Sequence[str], gone: Collection[str]) -> list[str]:
    return [job for job in jobs if job not in gone]


def _operations(book: Book | None) -> dict[str, Operation]:
    return operations(book, book.jobs) if book else {}


def _at(name: str) -> Keys:
    job, _, step = name.partition("/")
    return ("jobs", job, "operations", step)


def _out(below: Collection[str], gone: Collection[Keys]) -> set[str]:
    """The operations of the blocks that are left out, by themselves or with their job."""
    return {name for name in below if _at(name) in gone or _at(name)[:2] in gone}


def _without(
    job: str, after: Sequence[str], gone: Collection[str], every: Mapping[str, Operation]
) -> list[str]:
    """What a step comes after, where some of that is not there: what that came after."""
    if not any(full in gone for full in _full(job, after)):
        return list(after)
    found = dict.fromkeys(_instead(_full(job, after), gone, every))
    return [name.removeprefix(f"{job}/") for name in found]


def _instead(
    names: Sequence[str], gone: Collection[str], every: Mapping[str, Operation]
) -> Iterator[str]:
    for name in names:
        if name not in gone:
            yield name
        elif name in every:
            yield from _instead(_full(job_of(name), every[name].after), gone, every)


def _full(job: str, after: Sequence[str]) -> list[str]:
    return [before(job, one) for one in after]


def _closed(ahead: Mapping[str, Collection[str]], order: Sequence[str]) -> dict[str, set[str]]:
    """With what is before what is before: `order` has each behind all of them."""
    closed: dict[str, set[str]] = {}
    for name in order:
        closed[name] = set(ahead[name]) | {one for near in ahead[name] for one in closed[near]}
    return closed
