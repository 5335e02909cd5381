"""The quantities of a book can be read, are of the kind wanted, and agree with one another."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import suppress

from witnessmark import units
from witnessmark.book.errors import Fault, Path
from witnessmark.book.model import ENTRIES, PER_CENT, Book, Figure, FluidUse, Reading
from witnessmark.book.select import path_of, steps
from witnessmark.units import Amount, Quantity, QuantityError


def faults(book: Book) -> Iterator[Fault]:
    """Figures that cannot be read or contradict themselves, or are of another kind than wanted."""
    for name, figure in book.figures.items():
        yield from figure_faults(("figures", name), figure)
    for path, name, quantity in _wanted(book):
        figure_named = book.figures.get(name)
        if figure_named is not None and figure_named.quantity != quantity:
            problem = f'figure "{name}" is {units.with_article(figure_named.quantity)}'
            other = ("figures", name, "quantity")
            yield Fault(path, problem, f"name {units.with_article(quantity)}", other)
    for path, use in _fluid_uses(book):
        yield from _fluid_use(book, path, use)
    yield from _top_ups(book)
    for name, reading in book.readings.items():
        if reading.quantity != "words":
            yield from _reading(("readings", name), reading)
    for name, shims in book.shims.items():
        for key in ("least", "most", "step"):
            if (text := getattr(shims, key)) is not None:
                yield from _readable(("shims", name, key), text, "length")


# ---------------------------------------------------------------- figures


def _readable(path: Path, text: str, quantity: Quantity) -> Iterator[Fault]:
    try:
        units.read(text, quantity)
    except QuantityError as error:
        yield Fault(path, error.problem, error.expected)


def figure_faults(path: Path, figure: Figure) -> Iterator[Fault]:
    """What of one figure cannot be read, or contradicts itself; the path ends with the entry meant."""
    for key in ENTRIES:
        if (text := getattr(figure, key)) is not None:
            yield from _readable((*path, key), text, figure.quantity)
    yield from _fitting(path, figure)
    if figure.checked is not None and figure.source is None:
        yield Fault((*path, "checked"), "checked against nothing", "give the source as well")
    with suppress(QuantityError):  # told where it stands
        yield from _in_order(path, figure.amounts)


def _fitting(path: Path, figure: Figure) -> Iterator[Fault]:
    """Entries that do not go together."""
    if figure.quantity == "words":
        for key in ("low", "high", "tolerance"):
            if getattr(figure, key) is not None:
                yield Fault((*path, key), "words have no range", "put it all into value")
    elif figure.tolerance is not None:
        if figure.value is None:
            yield Fault((*path, "tolerance"), "a tolerance of no value", "give the value")
        elif figure.low is not None or figure.high is not None:
            problem = "a tolerance beside a range"
            yield Fault((*path, "tolerance"), problem, "keep either low and high, or the tolerance")
        elif not PER_CENT.fullmatch(figure.tolerance):
            try:
                units.read_difference(figure.tolerance, figure.quantity)
            except QuantityError as error:
                yield Fault((*path, "tolerance"), error.problem, f'{error.expected}, or "10 %"')


def _in_order(path: Path, amounts: dict[str, Amount]) -> Iterator[Fault]:
    for less, more in (("low", "high"), ("low", "value"), ("value", "high")):
        if less in amounts and more in amounts and amounts[less].value > amounts[more].value:
            if (less, more) != ("low", "high") and not _ends_in_order(amounts):
                continue
            problem = f"{less} ({amounts[less].text}) is above {more} ({amounts[more].text})"
            key = "value" if "value" in (less, more) else less
            yield Fault((*path, key), problem, "compare both with the source")


def _ends_in_order(amounts: dict[str, Amount]) -> bool:
    ends = [amounts[key].value for key in ("low", "high") if key in amounts]
    return ends == sorted(ends)


# ---------------------------------------------------------------- where figures are used


def _wanted(book: Book) -> Iterator[tuple[Path, str, Quantity]]:
    """Every place that names a figure of a certain kind: the place, the figure, the kind."""
    for name, reading in book.readings.items():
        for key, limit in (("low", reading.low), ("high", reading.high)):
            if limit is not None:
                yield ("readings", name, key), limit, reading.quantity
    for path, use in _fluid_uses(book):
        yield (*path, "figure"), use.figure, "volume"
    for name, fastener in book.fasteners.items():
        for place, stage in enumerate(fastener.stages):
            yield ("fasteners", name, "stages", place), stage, "torque"
    for table, key, quantity in _FIGURE_KEYS:
        for name, thing in getattr(book, table).items():
            figure = getattr(thing, key)
            if figure is not None:
                yield (table, name, key), figure, quantity


_FIGURE_KEYS: tuple[tuple[str, str, Quantity], ...] = (
    ("fasteners", "figure", "torque"),
    ("fasteners", "turn", "angle"),
    ("jobs", "every_distance", "distance"),
    ("jobs", "every_time", "duration"),
    ("fluids", "grade", "words"),
    ("shims", "target", "length"),
)


def _fluid_uses(book: Book) -> Iterator[tuple[Path, FluidUse]]:
    for name, step in steps(book).items():
        for fluid, use in step.fluids.items():
            yield (*path_of(name), "fluids", fluid), use


def _fluid_use(book: Book, path: Path, use: FluidUse) -> Iterator[Fault]:
    for key in ("syringe", "hold_back"):
        if (text := getattr(use, key)) is not None:
            yield from _readable((*path, key), text, "volume")
    if use.stage == "all" and use.hold_back is not None:
        problem = "all of it goes in, and some is held back"
        yield Fault((*path, "hold_back"), problem, 'give stage = "first" or "top up"')
    elif use.stage != "all" and use.hold_back is None:
        problem = f'stage "{use.stage}" without how much is held back'
        yield Fault((*path, "stage"), problem, 'give hold_back = "…" with its unit')
    elif use.hold_back is not None and use.figure in book.figures:
        with suppress(QuantityError):  # told where it stands
            yield from _more_than_all(path, use, book.figures[use.figure])


def _more_than_all(path: Path, use: FluidUse, figure: Figure) -> Iterator[Fault]:
    held_back, whole = use.hold_back_ml, figure.in_base("value")
    if figure.quantity == "volume" and held_back is not None and held_back >= (whole or math.inf):
        problem = f"{use.hold_back} is held back of {figure.value} in all"
        other = ("figures", use.figure, "value")
        yield Fault((*path, "hold_back"), problem, "hold back less than the filling", other)


def _top_ups(book: Book) -> Iterator[Fault]:
    """A first stage is followed by its top up in the same job, of as much as it held back."""
    for job, text in book.jobs.items():
        stages = {
            (fluid, use.stage, use.figure): ((*path_of(f"{job}/{name}"), "fluids", fluid), use)
            for name, operation in text.operations.items()
            for fluid, use in operation.fluids.items()
        }
        for (fluid, stage, figure), (path, use) in stages.items():
            other = {"first": "top up", "top up": "first"}.get(stage)
            if other is not None and (fluid, other, figure) not in stages:
                expected = f'let an operation of the job have stage = "{other}" of that figure'
                yield Fault((*path, "stage"), f'stage "{stage}" without its "{other}"', expected)
            elif stage == "top up":
                first_path, first = stages[fluid, "first", figure]
                with suppress(QuantityError):  # told where it stands
                    yield from _as_much(path, use, first_path, first)


def _as_much(path: Path, use: FluidUse, first_path: Path, first: FluidUse) -> Iterator[Fault]:
    if use.hold_back and first.hold_back and use.hold_back_ml != first.hold_back_ml:
        problem = f"{first.hold_back} was held back, and {use.hold_back} is topped up"
        other = (*first_path, "hold_back")
        yield Fault((*path, "hold_back"), problem, "give the same in both stages", other)


def _reading(path: Path, reading: Reading) -> Iterator[Fault]:
    if reading.unit and not _is_unit(reading.unit, reading.quantity):
        problem = f'"{reading.unit}" is no unit of {reading.quantity}'
        expected = f"units are {', '.join(units.UNITS[reading.quantity])}"
        yield Fault((*path, "unit"), problem, expected)
    for key, written in (("resolution", reading.resolution), ("error", reading.error)):
        if written is not None:
            yield from _readable((*path, key), written, reading.quantity)


def _is_unit(text: str, quantity: Quantity) -> bool:
    try:
        units.read(f"1 {text}", quantity)
    except QuantityError:
        return False
    return True
