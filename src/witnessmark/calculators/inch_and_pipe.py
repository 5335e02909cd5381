"""Inch threads and the pipe threads of plugs: sizes, grades, and what they are mixed up with."""

from __future__ import annotations

from witnessmark import units
from witnessmark.calculators import fastener_pictures as pictures
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    maybe_amount,
)
from witnessmark.calculators.threads import mixed_up
from witnessmark.fasteners import (
    GRADED_FROM_IN,
    HEAD_IN,
    KINDS,
    MARKS,
    STANDARDS,
    TAPER,
    PipeThread,
    inch_grade,
    pipe_threads,
    read_inch_thread,
    read_pipe_thread,
)

# How much less, and more, than its size a thread measures over the crests of the plug; judged by us.
UNDER_MM, OVER_MM = 0.4, 0.1
_MARKED = {"2": "no lines on the head", "5": "three lines", "8": "six lines"}


def _inch(inputs: Inputs) -> Calculated:
    thread = read_inch_thread(str(inputs["thread"]))
    lines = [
        ("diameter", _both(thread.diameter_in)),
        ("pitch", f"{thread.per_inch} to the inch, {thread.pitch_mm:.3f} mm"),
        ("pitch diameter", _both(thread.pitch_diameter_in)),
        ("minor diameter of the nut", _both(thread.minor_diameter_in)),
        ("tapping drill, D − 1/n", _both(thread.diameter_in - 1 / thread.per_inch)),
    ]
    if thread.size in HEAD_IN:
        lines.append(("hexagon head", f"{HEAD_IN[thread.size]} in across flats"))
    warnings: list[str] = []
    grade = str(inputs.get("grade", "")).partition(":")[0]
    if grade:
        held = inch_grade(grade, thread.diameter_in)
        lines += [
            (f"proof load, grade {grade}", _load(held.proof_mpa * thread.stress_area_mm2)),
            (f"breaks at no less than, grade {grade}", _load(held.tensile_mpa * thread.stress_area_mm2)),
            ("stresses: proof, yield, breaking",
             f"{held.proof_mpa:.0f}, {held.yield_mpa:.0f}, {held.tensile_mpa:.0f} MPa"),
        ]  # fmt: skip
        if thread.diameter_in < GRADED_FROM_IN:
            warnings.append(
                "SAE J429 begins at 1/4 in: of a smaller one its grade promises nothing."
            )
    return Calculated(
        said=f"{thread.name}: {thread.diameter_mm:.2f} mm across, one turn moves it {thread.pitch_mm:.2f} mm; stress "
        f"area {thread.stress_area_mm2:.1f} mm² ({thread.stress_area_mm2 / 25.4**2:.4f} in²).",
        lines=(*lines, *mixed_up(thread)),
        formula="A = π/4·(D − 0.9743/n)²; pitch diameter D − 0.6495/n; minor diameter D − 1.0825/n; load = stress × A",
        put_in=(("thread", thread.name),),
        source="ASME B1.1; heads ASME B18.2.1; grades SAE J429; tables from memory",
        warnings=tuple(warnings),
        picture=pictures.grades(MARKS, grade),
    )


def _both(inches: float) -> str:
    return f"{inches:.4f} in, {inches * 25.4:.3f} mm"


def _load(newton: float) -> str:
    return f"{units.show(newton, 'force', unit='kN')}, {units.show(newton, 'force', unit='lbf')}"


# ---------------------------------------------------------------- pipe threads


def _pipe(inputs: Inputs) -> Calculated:
    thread = read_pipe_thread(str(inputs["thread"]))
    way = f"tapered {TAPER}" if thread.tapered else "parallel"
    lines = [
        ("kind", f"{KINDS[thread.kind]}; {STANDARDS[thread.kind]}"),
        ("threads", f"{thread.per_inch:g} to the inch, pitch {thread.pitch_mm:.3f} mm, flanks {thread.flank_deg}°"),
        ("over the crests", _crests(thread)),
    ]  # fmt: skip
    if thread.minor_diameter_mm and not thread.tapered:
        lines.append(("bore", f"{thread.minor_diameter_mm:.2f} mm at least"))
    lines += [
        (f"{other.name} is another", _told_apart(other))
        for other in pipe_threads()
        if other.size == thread.size and other.kind != thread.kind
    ]
    warnings: list[str] = []
    if measured := maybe_amount(inputs, "across"):
        told = _measured(thread, measured.value)
        lines.append(("measured", told))
        warnings += [f"Measured: {told}."] if told.startswith("not ") else []
    if thread.kind == "NPT":
        warnings.append("NPTF seals dry, in the thread; its size and pitch are the same.")
    return Calculated(
        said=f"{thread.name}: {way}, {thread.per_inch:g} threads to the inch, {thread.diameter_mm:.2f} mm over the "
        f"crests; it seals {thread.seals}.",
        lines=(*lines, *mixed_up(thread)),
        formula="pitch = 25.4 mm / threads to the inch; bore = d − 1.2807·P",
        put_in=(("thread", thread.name),),
        source=f"ISO 228-1, ISO 7-1, ASME B1.20.1; tables from memory; a plug {UNDER_MM:g} mm under to {OVER_MM:g} mm "
        "over its size is taken for it: judged by us",
        warnings=(
            *warnings,
            "A taper turned into a parallel thread of soft metal splits it. The torque is in the machine's own manual.",
        ),
        picture=pictures.plug(thread),
    )


def _crests(thread: PipeThread) -> str:
    where = {"NPT": " at the thick end", "R": " where it is gauged", "Rc": " where it is gauged"}
    return f"{thread.diameter_mm:.2f} mm{where.get(thread.kind, '')}"


def _told_apart(other: PipeThread) -> str:
    way = "tapered" if other.tapered else "parallel"
    return (
        f"{way}, {other.per_inch:g} to the inch, {other.diameter_mm:.2f} mm, flanks {other.flank_deg}°, "
        f"seals {other.seals}"
    )


def _measured(thread: PipeThread, across_mm: float) -> str:
    """Whether what was measured over the crests can be this thread, else which it can be."""
    if across_mm > 2 * thread.diameter_mm or across_mm < thread.diameter_mm / 2:
        shown = units.show(across_mm, "length")
        problem = f"{shown} is far from {thread.name}"
        raise CalculationError("across", problem, "measure over the crests of the plug")
    fit = [one for one in pipe_threads() if -UNDER_MM <= across_mm - one.diameter_mm <= OVER_MM]
    others = " or ".join(one.name for one in fit if one.diameter_mm != thread.diameter_mm)
    if any(one.diameter_mm == thread.diameter_mm for one in fit):
        also = f", and of {others}: count the threads along one inch" if others else ""
        return f"the size of {thread.name}{also}"
    return f"not {thread.name}; it {f'may be {others}' if others else 'is none of these'}"


CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        "inch-thread",
        "Sizes of an inch thread",
        "Diameters, stress area, tapping drill and loads of a Unified thread, coarse or fine.",
        (
            Asked("thread", "Thread", "words", "1/4-20 UNC", help="Such as 5/16-24, 3/8 UNF or #10-32."),
            Asked("grade", "Grade, by the lines on the head", "choice", "5",
                  tuple(f"{name}: {text}" for name, text in _MARKED.items()), optional=True),
        ),
        _inch,
        also=("UNC", "UNF", "imperial bolt", "tap drill", "pitch"),
    ),
    Calculator(
        "pipe-thread",
        "Pipe thread of a plug",
        "Parallel or tapered, how many to the inch, and where it seals: G, R and NPT told apart.",
        (
            Asked("thread", "Thread", "words", "G 1/4", help="Such as R 1/8, 1/4 NPT, 1/8 BSPT."),
            Asked("across", "Measured over the crests of the plug", "length", "13.0 mm", optional=True),
        ),
        _pipe,
        also=("BSP", "drain plug", "sender"),
    ),
)  # fmt: skip
