"""Threads, heads and bolts: sizes, marks, order, and whether a torque can be right. Never what a torque must be."""

from __future__ import annotations

import math
from typing import cast

from witnessmark import units
from witnessmark.calculators import fastener_pictures as pictures
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    amount,
    number,
)
from witnessmark.calculators.threads import THREAD, kn, metric_thread, mixed_up
from witnessmark.fasteners import (
    CLASSES,
    MATERIALS,
    NO_VERDICT,
    UP_TO_16_MM,
    FastenerKind,
    Friction,
    Joint,
    PropertyClass,
    Thread,
    bolt_class,
    drives_of,
    friction_of,
    judge_torque,
    least_ultimate_load_n,
    marking,
    material,
    needed_engagement_mm,
    preload_of_torque_n,
    proof_load_n,
    star,
)
from witnessmark.units import Amount, Span

_ISO = "ISO 68-1, ISO 261 and ISO 724; stress area ISO 898-1:2013 clause 9.1.6.1; the table of threads is from memory"
_VDI = "VDI 2230 Part 1, formulas and friction classes from memory; classes ISO 898-1:2013 Table 3"
_MANUAL = (
    "The torque is the one in the machine's own manual. This only looks for a slip of the pen."
)
_CLASS = Asked("class", "Property class, on the head", "choice", "8.8", CLASSES, optional=True)
_INTO = Asked(
    "into", "Screwed into", "choice", "aluminium casting", tuple(MATERIALS), optional=True
)
_DEPTH = Asked("depth", "How deep", "length", "14 mm", optional=True, help="The length screwed in.")
_TREATED = Asked(
    "treated", "Thread", "choice", "dry", ("dry", "oiled", "locking compound"), optional=True
)
_KINDS: tuple[str, ...] = ("bolt", "nut", "stud", "pinch", "axle", *NO_VERDICT)
MOST_BOLTS = 24  # judged by us: no circle of a motorcycle has more


def _bolt(inputs: Inputs, thread: Thread) -> PropertyClass | None:
    return bolt_class(str(inputs["class"]), thread.diameter_mm) if "class" in inputs else None


def _put_in(inputs: Inputs, thread: Thread | None = None) -> tuple[tuple[str, str], ...]:
    """What was understood, field by field."""
    said = []
    for name, value in inputs.items():
        text = value.understood if isinstance(value, Amount) else f"{value}"
        text = f"{value:g}" if isinstance(value, float) else text
        said.append((name, thread.name if name == "thread" and thread else text))
    return tuple(said)


def _mm(value: float) -> str:
    return f"{value:.3f} mm"


# ---------------------------------------------------------------- sizes


def _sizes(inputs: Inputs) -> Calculated:
    thread = metric_thread(inputs)
    bolt = _bolt(inputs, thread)
    lines = [
        ("pitch", f"{thread.pitch_mm:g} mm, {'coarse' if thread.coarse else 'fine'}"),
        ("pitch diameter d2", _mm(thread.pitch_diameter_mm)),
        ("minor diameter of the nut D1", _mm(thread.minor_diameter_mm)),
        ("root of the bolt d3", _mm(thread.root_diameter_mm)),
        ("tapping drill, d − P", f"{thread.diameter_mm - thread.pitch_mm:.2f} mm"),
    ]
    if bolt is not None:
        proof = proof_load_n(thread.stress_area_mm2, bolt)
        lines += [(f"proof load, class {bolt.name}", kn(proof))] if proof else []
        least = least_ultimate_load_n(thread.stress_area_mm2, bolt)
        lines.append((f"breaks at no less than, class {bolt.name}", kn(least)))
    return Calculated(
        said=f"{thread.name}: {thread.diameter_mm:g} mm across, one turn moves it {thread.pitch_mm:g} mm; "
        f"stress area {thread.stress_area_mm2:.1f} mm².",
        lines=(*lines, *mixed_up(thread)),
        formula="H = P·√3/2; d2 = d − 3/4·H; D1 = d − 5/4·H; d3 = d − 17/12·H; A = π/4·((d2 + d3)/2)²",
        put_in=_put_in(inputs, thread),
        source=_ISO,
        picture=pictures.thread(thread),
    )


def _drive(inputs: Inputs) -> Calculated:
    thread = metric_thread(inputs)
    drives = drives_of(thread)
    if not drives:
        raise CalculationError(
            "thread", f"no head of {thread.name} is listed here", "measure the head"
        )
    return Calculated(
        said=f"An {thread.name} takes another tool for each kind of head; {len(drives)} are listed.",
        lines=tuple((f"{drive.head} ({drive.standard})", drive.size) for drive in drives),
        formula="looked up by the nominal diameter",
        put_in=_put_in(inputs, thread),
        source="ISO 4014, 15071, 4762, 7380-1, 10642, 14579 and DIN 931, from memory, held against a general library; "
        "narrow hexagons and pan heads: common practice, no source",
        warnings=(
            "A head does not tell its thread: a 12 mm hexagon sits on an M8 of one maker, 13 mm on another's.",
        ),
    )


def _mark(inputs: Inputs) -> Calculated:
    bolt = bolt_class(str(inputs["class"]))
    large = bolt_class(bolt.name, 20.0) if bolt.name not in UP_TO_16_MM else None
    lines = [
        ("tensile strength, at least", f"{bolt.tensile_mpa:g} MPa"),
        ("yield, at least", f"{bolt.yield_mpa:g} MPa"),
    ]
    if bolt.proof_mpa is not None:
        lines.append(("proof stress", f"{bolt.proof_mpa:g} MPa"))
    if large is None:
        lines.append(("above 16 mm", "the standard has no such class"))
    elif large.tensile_mpa != bolt.tensile_mpa:
        above = f"{large.tensile_mpa:g} and {large.yield_mpa:g} MPa"
        lines.append(("above 16 mm, strength and yield", above))
    return Calculated(
        said=f"{bolt.name}: {marking(bolt)}.",
        lines=tuple(lines),
        formula="first number × 100 = tensile strength in MPa; × second number / 10 = yield",
        put_in=_put_in(inputs),
        source=f"{bolt.source}; 8.8, 10.9 and 12.9 seen in published tables, the others from memory",
        warnings=(
            "Never put a weaker bolt in place of a stronger one, nor a stronger in place of one made to stretch.",
        ),
        picture=pictures.head(bolt.name),
    )


def _star(inputs: Inputs) -> Calculated:
    count = number(inputs, "count")
    if count != int(count) or not 2 <= count <= MOST_BOLTS:
        expected = f"give a whole number from 2 to {MOST_BOLTS}"
        raise CalculationError("count", f"{count:g} bolts make no star", expected)
    order = star(int(count))
    return Calculated(
        said=f"Tighten them in the order {', '.join(map(str, order))}, counted round the circle.",
        lines=(("by stages", "the whole star to one stage, then the whole star to the next"),),
        formula="each next one as far across the circle as goes, every one once",
        put_in=_put_in(inputs),
        source="common practice, no source; a manual's own order goes before",
        picture=pictures.star(order),
    )


# ---------------------------------------------------------------- torque


def _check(inputs: Inputs) -> Calculated:
    thread, torque = metric_thread(inputs), amount(inputs, "torque")
    joint = Joint(
        thread=thread,
        bolt=_bolt(inputs, thread),
        into=material(str(inputs["into"])) if "into" in inputs else None,
        engaged_mm=_deep(inputs, thread),
        kind=cast("FastenerKind", inputs.get("kind", "bolt")),
        treatment=str(inputs.get("treated", "")),
    )
    judged = [judge_torque(end, joint) for end in units.ends(torque)]
    doubtful = [one.words for one in judged if one.doubtful]
    low, high = friction_of(joint.treatment)
    lines = [("friction calculated with", f"{low:g} to {high:g}, in the thread and under the head")]
    if isinstance(torque, Span):
        lines.append(("to set", torque.middle))
    return Calculated(
        said=" ".join(doubtful) or f"{judged[0].words}{_to_set(torque)}",
        lines=tuple(lines),
        formula="F = A·R/√(1 + 3·[3/2·d2/d0·(P/(π·d2) + 1.155·µ)]²); M = F·(0.16·P + 0.58·d2·µ + D/2·µ), "
        "held against yield, breaking and stripping",
        put_in=_put_in(inputs, thread),
        source=f"{_VDI}; strengths of materials from memory; the width of the band is common practice, no source",
    )


def _to_set(torque: Amount) -> str:
    """What is set of a range: its middle, as common practice has it (no source)."""
    return f" Set the middle, {torque.middle}." if isinstance(torque, Span) else ""


def _deep(inputs: Inputs, thread: Thread) -> float | None:
    if "depth" not in inputs:
        return None
    deep = amount(inputs, "depth").value
    if not 0 < deep <= 5 * thread.diameter_mm:
        raise CalculationError(
            "depth", f"{deep:g} mm is no depth for {thread.name}", "give the length screwed in"
        )
    return deep


def _preload(inputs: Inputs) -> Calculated:
    thread, torque = metric_thread(inputs), amount(inputs, "torque")
    bolt = _bolt(inputs, thread)
    if torque.value <= 0:
        raise CalculationError("torque", "no torque, no preload", "give a torque above 0")
    low, high = friction_of(str(inputs.get("treated", "")))
    ends = units.ends(torque)
    most = preload_of_torque_n(thread, ends[-1].value, Friction(low, low))
    least = preload_of_torque_n(thread, ends[0].value, Friction(high, high))
    lines = [
        (f"friction {high:g}", units.show(least, "force", unit="kN")),
        (f"friction {low:g}", units.show(most, "force", unit="kN")),
    ]
    warnings: tuple[str, ...] = ()
    if bolt is not None:
        share = [force / (thread.stress_area_mm2 * bolt.yield_mpa) for force in (least, most)]
        lines.append((f"of the yield of class {bolt.name}", f"{share[0]:.0%} to {share[1]:.0%}"))
        if share[0] <= 1 < share[1]:
            warnings = (f"At a friction of {low:g} it is past the yield of class {bolt.name}.",)
    held = judge_torque(ends[-1], Joint(thread, bolt, treatment=str(inputs.get("treated", ""))))
    if held.outcome in ("would stretch", "would break"):
        said = f"{held.words} The loads are calculated as if it held."
    else:
        said = (
            f"{torque.understood} on an {thread.name} leaves {least / 1000:.3g} to {most / 1000:.3g} kN in the bolt, "
            f"by friction {'and range' if len(ends) > 1 else 'alone'} a spread of {most / least:.1f} times."
        )
    return Calculated(
        said=said,
        lines=tuple(lines),
        formula="F = M / (0.16·P + 0.58·d2·µ + D/2·µ)",
        put_in=_put_in(inputs, thread),
        source=f"{_VDI}; bearing faces ISO 4014, holes ISO 273 medium, from memory",
        warnings=warnings,
    )


def _depth(inputs: Inputs) -> Calculated:
    thread = metric_thread(inputs)
    bolt = bolt_class(str(inputs["class"]), thread.diameter_mm)
    into = material(str(inputs["into"]))
    deep = needed_engagement_mm(thread, bolt, into)
    return Calculated(
        said=f"In {into.name} an {thread.name} {bolt.name} breaks before its thread strips from about "
        f"{deep:.1f} mm on, {deep / thread.diameter_mm:.1f} times its diameter.",
        lines=(
            ("shear strength calculated with", f"{into.shear_least_mpa:g} MPa, the least likely"),
            ("turns engaged", f"{math.ceil(deep / thread.pitch_mm)}"),
        ),
        formula="F = τ·π·d·(l − 0.8·P)/P·(P/2 + (d − d2)·tan 30°)·C, set equal to A·R_m",
        put_in=_put_in(inputs, thread),
        source=f"VDI 2230-1 clause 5.5.5 after Alexander, from memory; {into.source}",
        warnings=(
            "A worn or repaired thread holds less. A thread insert has its maker's own table.",
        ),
    )


CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        "torque-check", "Can this torque be right?",
        "Holds a torque against what its thread bears, and looks for a slip of decimal point or unit.",
        (
            Asked("torque", "Torque, as written", "torque", "60 N·m", span=True, help="Or a range: 45–55 N·m."),
            THREAD, _CLASS, _INTO, _DEPTH, _TREATED,
            Asked("kind", "What it is", "choice", "bolt", _KINDS, optional=True),
        ),
        _check, caution=_MANUAL,
        also=("tightening torque", "too tight", "plausible", "screw"),
    ),
    Calculator(
        "preload", "Preload of a torque", "How hard a torque pulls, with the least and the most friction.",
        (Asked("torque", "Torque", "torque", "50 N·m", span=True), THREAD, _CLASS, _TREATED), _preload,
        caution=_MANUAL,
        also=("clamp load", "clamping force", "tension"),
    ),
    Calculator(
        "thread", "Sizes of a thread", "Diameters, stress area, tapping drill and loads of a metric thread.",
        (THREAD, _CLASS), _sizes,
        also=("pitch", "drill size", "tap", "fine", "coarse", "core diameter", "screw"),
    ),
    Calculator(
        "thread-depth", "How deep a thread must be", "From which depth on the bolt breaks before its thread strips.",
        (THREAD, Asked("class", "Property class", "choice", "8.8", CLASSES),
         Asked("into", "Screwed into", "choice", "aluminium casting", tuple(MATERIALS))), _depth,
        also=("engagement", "stripped thread", "thread insert", "tapped hole"),
    ),
    Calculator(
        "bolt-star", "Bolts in a star", "In which order the bolts of a circle are made tight.",
        (Asked("count", "How many", "number", "5"),), _star,
        also=("tightening sequence", "crosswise", "wheel bolts", "cover screws", "pattern"),
    ),
    Calculator(
        "drive-size", "Which tool for a bolt", "Widths, keys and stars by the thread and the kind of head.",
        (THREAD,), _drive,
        also=("allen key", "hex key", "hexagon", "spanner", "socket", "across flats", "jaw size", "screw"),
    ),
    Calculator(
        "class-mark", "The mark on a head", "What 8.8, 10.9 or A2-70 say of a bolt's strength.",
        (Asked("class", "Mark", "words", "10.9"),), _mark,
        also=("property class", "strength class", "grade", "stainless", "screw"),
    ),
)  # fmt: skip
