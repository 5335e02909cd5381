"""What the shop and a visit know that a calculator asks for: each value as it stands there, and where it comes from.

A reading is taken for what the calculator asks by the name the archetypes give it. A figure is the book's, with the
visit's own over it. What is not known stays empty: nothing is made up.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from itertools import groupby

from django.utils import formats, timezone
from django.utils.translation import gettext as _

from witnessmark import units
from witnessmark.book.figures import figure_state, limits, only_sent
from witnessmark.book.model import Book, Fluid, FluidUse, Reading, Shims
from witnessmark.calculators import find
from witnessmark.decode import DecodeError, read_marking
from witnessmark.ledger.bodies import Arrived
from witnessmark.ledger.worked import ReadingState
from witnessmark.shop.models import ReadingRow, ShimStock
from witnessmark.shop.projections import arrival
from witnessmark.shop.scope import Desk
from witnessmark.shop.work.cards import FastenerShown, card_of
from witnessmark.shop.work.codes import AFTER, BEFORE, codes_of
from witnessmark.shop.work.frame_and_tyre_numbers import TYRES
from witnessmark.shop.work.visit import Work
from witnessmark.shop.work.wearing import FORECAST, worn


@dataclass(frozen=True)
class Takes:
    """A calculator that takes a reading: the fields of its value, its limits, and what the instrument resolves."""

    reading: re.Pattern[str]  # the end of its name in the book
    calculator: str
    value: str
    least: str = ""
    resolution: str = ""


# What of a book fills which field: the one table to add to.
READINGS = (
    Takes(re.compile(r"tread$"), "tread-depth", "depth", resolution="resolution"),
    Takes(re.compile(r"pads?$"), "brake-pad", "lining", least="least", resolution="resolution"),
    Takes(
        re.compile(r"discs?$"), "brake-disc", "thickness", least="least", resolution="resolution"
    ),
    Takes(re.compile(r"battery_rest$"), "battery-charge", "voltage"),
    Takes(re.compile(r"battery_rest$"), "charging", "rest"),
    Takes(re.compile(r"fork(_oil)?_gap$"), "air-gap", "measured", least="wanted"),
)
FASTENERS = (
    "torque-check",
    "preload",
    "crow-foot",
)  # fields of the same names as in `_of_fastener`
FLUIDS = ("stages", "strokes", "packs", "bottle", "brake-fluid")  # the same, `_of_fluid`
AT_LEAST = {
    "stages": "held_back",
    "strokes": "syringe",
    "bottle": "wanted",
    "brake-fluid": "label",
}  # else of no use


@dataclass(frozen=True)
class Known:
    """A value as it is put into the field, and where it comes from, in words."""

    text: str
    origin: str


@dataclass(frozen=True)
class Filling:
    """One way to fill a calculator. ``key`` names it in an address, ``about`` says of what it is."""

    calculator: str
    key: str
    about: str
    known: Mapping[str, Known] = field(default_factory=dict)

    @property
    def title(self) -> str:
        """Of the calculator."""
        return find(self.calculator).title


def of_shop(desk: Desk) -> list[Filling]:
    """What the shop itself knows: its boxes of shims."""
    rows = desk.all(ShimStock).exclude(count=0)
    return [
        Filling("shims", kind, kind, {"box": _box(kind, box)})
        for kind, box in groupby(rows, key=lambda row: row.kind)
    ]


def of_visit(desk: Desk, work: Work, step: str = "") -> list[Filling]:
    """What is known of the machine on a visit; `step`: the card in hand, whose figures come first."""
    made = [*_of_card(work, step)] if step in work.steps else []
    made += [
        *_of_readings(work),
        *_of_shims(desk, work),
        *_of_wear(desk, work),
        *_of_marks(work),
        *_of_codes(work),
    ]
    return [one for one in map(_fitting, made) if one.known]


def _fitting(one: Filling) -> Filling:
    """Without what its calculator does not ask for, and what is none of its choices."""
    asked = {asked.name: asked for asked in find(one.calculator).asked}
    known = {
        name: value
        for name, value in one.known.items()
        if value.text
        and name in asked
        and (not asked[name].choices or value.text in asked[name].choices)
    }
    return Filling(one.calculator, one.key, one.about, known)


# ---------------------------------------------------------------- the card in hand


def _of_card(work: Work, step: str) -> Iterator[Filling]:
    for group in card_of(work, step).fasteners:
        known = _of_fastener(work.book, group)
        if "torque" in known:
            yield from (Filling(name, group.id, group.fastener.text, known) for name in FASTENERS)
    for name, use in work.steps[step].fluids.items():
        fluid = work.book.fluids[name]
        known = _of_fluid(work.book, fluid, use)
        for calculator in FLUIDS:
            if AT_LEAST.get(calculator, "volume") in known:
                yield Filling(calculator, name, fluid.text, known)


def _of_fastener(book: Book, group: FastenerShown) -> dict[str, Known]:
    one, figure = group.fastener, group.figure
    from_book = _("From the service book.")
    written = {
        "thread": one.thread,
        "class": one.property_class,
        "into": one.screwed_into,
        "depth": one.engagement,
        "treated": one.treatment,
        "kind": one.kind,
    }
    known = {name: Known(text, from_book) for name, text in written.items() if text}
    if figure is not None and figure.aim is not None:
        of_range = units.exact(figure.aim, "torque", "N·m")
        text = of_range if figure.value is None else figure.written
        known["torque"] = Known(text, _of_figure(book, figure.id))
    return known


def _of_fluid(book: Book, fluid: Fluid, use: FluidUse) -> dict[str, Known]:
    from_book = _("From the service book.")
    known = {"family": Known(fluid.family, from_book)}
    volume = book.figures[use.figure]
    if volume.value:
        known["volume"] = Known(volume.value, _of_figure(book, use.figure))
        for name, text in (("held_back", use.hold_back), ("syringe", use.syringe)):
            known |= {name: Known(text, from_book)} if text else {}
    grade = book.figures[fluid.grade].value if fluid.grade else None
    if fluid.grade and grade:
        wanted = Known(grade, _of_figure(book, fluid.grade))
        brake = fluid.family.endswith("brake fluid")
        known |= {"wanted": wanted, **({"label": wanted} if brake else {})}
    return known | ({"clutch": Known("in the oil", from_book)} if fluid.wet_clutch else {})


def _of_figure(book: Book, name: str) -> str:
    figure = book.figures[name]
    if figure_state(figure) == "unproven" and not only_sent(figure):
        return _("From the service book: {figure}; it has no source.").format(figure=figure.text)
    words = _("From the service book: {figure}; {source}.")
    return words.format(figure=figure.text, source=figure.source)


# ---------------------------------------------------------------- what was read


def _of_readings(work: Work) -> Iterator[Filling]:
    for name, several in groupby(_newest(work), key=lambda one: one.reading):
        rule, taken = work.book.readings[name], list(several)
        for takes in READINGS:
            if takes.reading.search(name):
                yield from _taken(work, takes, rule, name, taken)


def _newest(work: Work) -> list[ReadingState]:
    """Of each reading of the book its last value at each place, in the order of its name and place."""
    newest = {(one.reading, one.index): one for one in work.state.readings if one.value is not None}
    return [newest[key] for key in sorted(newest) if key[0] in work.book.readings]


def _taken(
    work: Work, takes: Takes, rule: Reading, name: str, taken: list[ReadingState]
) -> Iterator[Filling]:
    least, beside = limits(work.book, rule).low, {}
    if takes.least and rule.low and least is not None:
        text = units.exact(least, rule.quantity, rule.unit or units.BASE[rule.quantity])
        beside[takes.least] = Known(text, _of_figure(work.book, rule.low))
    if takes.resolution and rule.resolution:
        beside[takes.resolution] = Known(rule.resolution, _("From the service book."))
    asked = next(one for one in find(takes.calculator).asked if one.name == takes.value)
    if asked.kind == "lines":
        text = "\n".join(_written(rule, one) for one in taken)
        value = Known(text, _read_words(work, rule.text, taken[-1].at))
        yield Filling(takes.calculator, name, rule.text, {takes.value: value, **beside})
        return
    for one in taken:
        about = f"{rule.text}, {one.index}" if rule.repeat > 1 else rule.text
        value = Known(_written(rule, one), _read_words(work, about, one.at))
        yield Filling(
            takes.calculator, f"{name}-{one.index}", about, {takes.value: value, **beside}
        )


def _written(rule: Reading, one: ReadingState) -> str:
    """As it was typed, with its unit."""
    assert one.value is not None
    return one.text or units.exact(one.value, rule.quantity, rule.unit or units.BASE[rule.quantity])


def _of_shims(desk: Desk, work: Work) -> Iterator[Filling]:
    taken = _newest(work)
    for name, group in work.book.shims.items():
        known = {}
        rule, read = (
            work.book.readings[group.found],
            [one for one in taken if one.reading == group.found],
        )
        if read:
            lines = [
                f"{group.text} {one.index}: {_written(rule, one)} {_fitted(work, group, one.index)}"
                for one in read
            ]
            origin = _read_words(work, rule.text, read[-1].at)
            known["valves"] = Known("\n".join(lines), origin)
        known |= _window(work.book, group)
        box = list(desk.all(ShimStock).filter(kind=group.kind).exclude(count=0))
        known |= {"box": _box(group.kind, box)} if box else {}
        if group.step:
            known["step"] = Known(group.step, _("From the service book."))
        if read or box:
            yield Filling("shims", name, group.text, known)


def _fitted(work: Work, group: Shims, place: int) -> str:
    """The shim that was written down last; empty before, and to be typed."""
    name = f"{group.text} {place}"
    every = [v for said in work.state.shims.values() for v in said.valves if v.valve == name]
    return f"{every[-1].now_mm:.3f}" if every else ""


def _window(book: Book, group: Shims) -> dict[str, Known]:
    rule = book.readings[group.found]
    ends = zip(("least", "most"), (rule.low, rule.high), limits(book, rule), strict=True)
    return {
        name: Known(units.exact(value, "length", "mm"), _of_figure(book, figure))
        for name, figure, value in ends
        if figure and value is not None
    }


def _box(kind: str, rows: Iterable[ShimStock]) -> Known:
    lines = [f"{row.size_um / 1000:.3f}" for row in rows for _one in range(row.count)]
    return Known("\n".join(lines), _("From the shop’s box of shims: {kind}.").format(kind=kind))


def _of_wear(desk: Desk, work: Work) -> Iterator[Filling]:
    """Of what wears down: this visit's reading, and the one before."""
    rows = desk.all(ReadingRow).filter(machine=work.machine, visit__number__lte=work.visit.number)
    rows = rows.select_related("visit").order_by("reading", "place", "visit__number")
    for (name, place), several in groupby(rows, key=lambda row: (row.reading, row.place)):
        taken = list(several)
        put_in = worn(taken, work.book)
        if not put_in:
            continue
        rule = work.book.readings[name]
        about = f"{rule.text}, {place}" if rule.repeat > 1 else rule.text
        then, now = (_on_visit(row) for row in taken[-2:])
        origins = {"then": then, "then_at": then, "now": now, "now_at": now}
        other = _("From the service book.")
        known = {key: Known(text, origins.get(key, other)) for key, text in put_in.items()}
        yield Filling(FORECAST, f"{name}-{place}", about, known)


def _on_visit(row: ReadingRow) -> str:
    day = formats.date_format(row.on, "DATE_FORMAT")
    return _("From visit {number}, read on {day}.").format(number=row.visit.number, day=day)


# ---------------------------------------------------------------- what stands on the machine


def _of_marks(work: Work) -> Iterator[Filling]:
    origin = _("From the visit of {day}: read off at arrival.").format(day=_day(work))
    told = arrival(work.entries, work.state)
    look = told.said.look if told and isinstance(told.said, Arrived) else {}
    for name, where in TYRES.items():
        marking = look.get(name, "")
        yield Filling("tyre-marking", name, str(where), {"marking": Known(marking, origin)})
        yield Filling("tyre-age", name, str(where), {"code": Known(_date_code(marking), origin)})
    number = Known(work.machine.identification, _("From the machine’s own page."))
    yield Filling("identification-number", "machine", str(work.machine), {"number": number})


def _date_code(marking: str) -> str:
    try:
        made = read_marking(marking, timezone.localdate()).made if marking.strip() else None
    except DecodeError:
        return ""
    return made.written if made else ""


def _of_codes(work: Work) -> Iterator[Filling]:
    readings = codes_of(work).readings
    last = {one.moment: one for one in readings}
    shown = {
        moment: Known(
            "\n".join(entry.body["pasted"] for entry in one.entries),
            _read_words(work, _("Trouble codes"), one.entries[-1].at),
        )
        for moment, one in last.items()
    }
    if shown:
        newest = readings[-1].moment
        yield Filling("trouble-codes", "newest", _(newest), {"shown": shown[newest]})
    if BEFORE in shown and AFTER in shown:
        known = {"before": shown[BEFORE], "after": shown[AFTER]}
        yield Filling("codes-compared", "visit", _("before and after"), known)


# ---------------------------------------------------------------- words


def _read_words(work: Work, what: str, at: str) -> str:
    """Example: From the visit of 3 Mar 2026: Battery at rest, read 3 Mar 2026, 14:20."""
    when = timezone.localtime(datetime.fromisoformat(at))
    words = _("From the visit of {day}: {what}, read {when}.")
    return words.format(
        day=_day(work), what=what, when=formats.date_format(when, "DATETIME_FORMAT")
    )


def _day(work: Work) -> str:
    return formats.date_format(timezone.localtime(work.visit.opened_at), "DATE_FORMAT")
