"""What a book says of its fasteners can be: threads, classes, rounds, who is tight before whom, what is renewed."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from witnessmark import units
from witnessmark.book.errors import Fault, Path
from witnessmark.book.model import NEVER_AGAIN, Book, Fastener
from witnessmark.book.select import steps
from witnessmark.errors import WitnessError, listed
from witnessmark.fasteners import bolt_class, material, read_thread

DEEPEST = 5.0  # of the diameter: nobody taps deeper (common practice, no source)


def faults(book: Book) -> Iterator[Fault]:
    """What is said of fasteners, renewals and repeated readings and cannot be so."""
    for name, fastener in book.fasteners.items():
        path: Path = ("fasteners", name)
        yield from _joint_faults(path, fastener)
        yield from _round_faults(path, fastener)
        yield from _ring_behind(book, name)
    yield from _used_again(book)
    yield from _read_again(book)


# ---------------------------------------------------------------- thread, class, material


def _joint_faults(path: Path, fastener: Fastener) -> Iterator[Fault]:
    told = list(_readable((*path, "thread"), fastener.thread, read_thread))
    size = read_thread(fastener.thread).diameter_mm if fastener.thread and not told else 8.0
    told += [
        *_readable(
            (*path, "property_class"), fastener.property_class, lambda text: bolt_class(text, size)
        ),
        *_readable((*path, "screwed_into"), fastener.screwed_into, material),
        *_readable(
            (*path, "engagement"), fastener.engagement, lambda text: units.read(text, "length")
        ),
    ]
    yield from told
    if fastener.thread is None:
        for key in ("property_class", "screwed_into", "engagement"):
            if getattr(fastener, key) is not None:
                yield Fault((*path, key), "said of no thread", 'give thread = "M8", say')
    elif not told:
        yield from _depth(path, fastener)


def _depth(path: Path, fastener: Fastener) -> Iterator[Fault]:
    joint = fastener.joint
    if joint is None or joint.engaged_mm is None:
        return
    if not 0 < joint.engaged_mm <= DEEPEST * joint.thread.diameter_mm:
        problem = f"{fastener.engagement} is no depth for {joint.thread.name}"
        yield Fault((*path, "engagement"), problem, "give the length that is screwed in, in mm")


def _readable(path: Path, text: str | None, read: Callable[[str], object]) -> Iterator[Fault]:
    if text is None:
        return
    try:
        read(text)
    except WitnessError as error:
        yield Fault(path, error.problem, error.expected)


# ---------------------------------------------------------------- rounds, and who comes first


def _round_faults(path: Path, fastener: Fastener) -> Iterator[Fault]:
    for key in ("stages", "turn"):
        if not getattr(fastener, key):
            continue
        if fastener.figure is None:
            yield Fault((*path, key), "rounds of no torque", 'give figure = "…" as well')
        elif fastener.grade != "proven":
            problem = f'grade "{fastener.grade}" shows no rounds'
            yield Fault(
                (*path, key), problem, 'let grade be "proven": each one is shown, round by round'
            )
    for place, figure in enumerate(fastener.stages):
        if figure in (*fastener.stages[:place], fastener.figure):
            problem = f'"{figure}" is gone through twice'
            yield Fault((*path, "stages", place), problem, "name each round's own figure")
    if fastener.sequence == "alternate until still" and fastener.count == 1:
        problem = "one alone cannot alternate"
        yield Fault((*path, "sequence"), problem, 'give count = 2 or more, or sequence = "any"')


def _ring_behind(book: Book, first: str) -> Iterator[Fault]:
    """A fastener must not wait for itself, be it by way of others; told at the first of the ring by name."""
    trail, name = [first], book.fasteners[first].behind
    while name in book.fasteners and name not in trail:
        trail.append(name)
        name = book.fasteners[name].behind
    if name == first == min(trail):
        problem = f"each is behind the next: {listed(trail)}, and round again"
        yield Fault(("fasteners", first, "behind"), problem, "drop one of these")


def _used_again(book: Book) -> Iterator[Fault]:
    for name, renewal in book.renewals.items():
        if renewal.reuse and (why := NEVER_AGAIN.get(renewal.kind)):
            problem = f"a {renewal.kind} is never used again: {why}"
            other = ("renewals", name, "kind")
            yield Fault(("renewals", name, "reuse"), problem, "leave reuse out", other)


def _read_again(book: Book) -> Iterator[Fault]:
    """What is read again after a fastener can be: some step makes that one tight."""
    tightened = {fastener for step in steps(book).values() for fastener in step.tightens}
    for name, reading in book.readings.items():
        for place, fastener in enumerate(reading.again_after):
            if fastener in book.fasteners and fastener not in tightened:
                problem = f'nothing makes "{fastener}" tight'
                path: Path = ("readings", name, "again_after", place)
                yield Fault(path, problem, "name one that a step tightens")
