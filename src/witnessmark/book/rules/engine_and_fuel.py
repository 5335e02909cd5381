"""Rules for engine, fuel, battery and fillings, by the places and states of the vocabulary."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.book.errors import Fault
from witnessmark.book.model import Book, Circuit
from witnessmark.book.rules.rule import Rule, assured, fault, setting
from witnessmark.book.select import steps

HYDRAULIC = ("glycol brake fluid", "silicone brake fluid", "mineral clutch oil")
SHOWN = ("bled", "level", "dry")  # of every hydraulic circuit
HELD_MINUTES = 1.0  # under load; common practice, no source


def _fuel_open(book: Book) -> Iterator[Fault]:
    for name, step in steps(book).items():
        if "fuel" not in step.opens:
            continue
        for condition, state in (("engine", "cold"), ("ignition", "off")):
            if condition in book.conditions and step.needs.get(condition) != [state]:
                expected = f'write needs = {{ {condition} = ["{state}"] }}'
                yield fault(
                    name,
                    "needs",
                    f"fuel is open and {condition} may be otherwise than {state}",
                    expected,
                )


def _fuel_seen(book: Book) -> Iterator[Fault]:
    if "fuel" not in book.circuits:
        return
    dry = book.circuits["fuel"].closed_by.get("dry")
    if dry is None or dry.gate != "starter":
        path = ("circuits", "fuel", "closed_by")
        yield Fault(
            path,
            "the engine may be started before leaks were looked for",
            'add dry = { …, gate = "starter" }',
        )
    under = any("fuel" in step.opens and "seat" in step.needs for step in steps(book).values())
    for name, step in steps(book).items():
        shown = {"dry", "all"} & set(step.closes.get("fuel", ())) and "tank" not in step.sets
        if under and shown and step.needs.get("seat") != ["off"]:
            expected = 'write needs = { seat = ["off"] }'
            yield fault(name, "needs", "the seat may be on already", expected)


def _battery_off(book: Book) -> Iterator[Fault]:
    for name, step in steps(book).items():
        if "battery_terminals" not in step.loosens:
            continue
        yield from assured(name, step, "minus off first, on last", "owner told of clock and radio")
        for condition, state in (("ignition", "off"), ("codes", "copied")):
            if condition in book.conditions and step.needs.get(condition) != [state]:
                expected = f'write needs = {{ {condition} = ["{state}"] }}'
                yield fault(name, "needs", f"{condition} may be otherwise than {state}", expected)


def _camshaft_out(book: Book) -> Iterator[Fault]:
    for name, step in setting(book, "camshaft", "out"):
        yield from assured(name, step, "piston position", "tensioner first")
        if not step.loosens:
            yield fault(name, "loosens", "nothing is loosened", "declare cam caps and tensioner")
        opened = [
            c
            for c in step.opens
            if all(r.gate == "starter" for r in book.circuits[c].closed_by.values())
        ]
        if not opened:
            expected = (
                'open a circuit that is closed by marks and two turns, each with gate = "starter"'
            )
            yield fault(name, "opens", "the starter does not wait for the timing", expected)
    for name, step in setting(book, "camshaft", "in"):
        yield from assured(name, step, "turned twice by hand", "marks in line")


def _circuits_shown(book: Book) -> Iterator[Fault]:
    for name, circuit in book.circuits.items():
        family = _family(book, circuit)
        if not family or not any(name in step.opens for step in steps(book).values()):
            continue
        path = ("circuits", name, "closed_by")
        if not any(requirement.ride for requirement in circuit.closed_by.values()):
            yield Fault(
                path, "nobody looks at it after a ride", "add a requirement with ride = true"
            )
        if family in HYDRAULIC:
            for wanted in SHOWN:
                if wanted not in circuit.closed_by:
                    yield Fault(
                        path, f'nobody shows it "{wanted}"', f"add {wanted} = {{ text = … }}"
                    )


def _held_under_load(book: Book) -> Iterator[Fault]:
    for name, step in steps(book).items():
        for circuit, closed in step.closes.items():
            held = step.minutes + step.unattended
            dry = {"dry", "all"} & set(closed)
            if dry and _family(book, book.circuits[circuit]) in HYDRAULIC and held < HELD_MINUTES:
                problem = f"{circuit} is held for {held:g} min"
                yield fault(name, "minutes", problem, "give it a minute at least")


def _family(book: Book, circuit: Circuit) -> str:
    return book.fluids[circuit.fluid].family if circuit.fluid else ""


RULES = (
    Rule(
        "fuel_open",
        "Fuel is opened with the engine cold and the ignition off.",
        "What drips on a hot engine, or meets a spark, burns.",
        _fuel_open,
    ),
    Rule(
        "fuel_seen_under_pressure",
        "Fuel that was open is looked at under pressure before the seat is on and before the starter.",
        "A leak under a seat shows as a fire.",
        _fuel_seen,
    ),
    Rule(
        "battery_off",
        "Before a battery comes off the ignition is off and the codes are copied; minus comes off first and on last; "
        "the owner is told of clock and radio.",
        "A spanner from plus to the frame welds itself fast; what the control units knew is gone.",
        _battery_off,
    ),
    Rule(
        "camshaft_out",
        "A camshaft comes out at a known piston position behind its tensioner, goes in by its marks, and is turned "
        "twice by hand before the starter.",
        "An engine started out of time bends its valves.",
        _camshaft_out,
    ),
    Rule(
        "circuit_shown_closed",
        "A filling that was open is looked at after a ride; a hydraulic one is bled, at its level and dry as well.",
        "Air and leaks show under load and heat.",
        _circuits_shown,
    ),
    Rule(
        "held_under_load",
        "A hydraulic circuit is held under load for a minute at least before it counts as dry.",
        "A small leak needs its time to show.",
        _held_under_load,
    ),
)  # fmt: skip
