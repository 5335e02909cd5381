"""What calculators of metric threads have in common."""

from __future__ import annotations

from contextlib import suppress

from witnessmark.calculators.model import Asked, CalculationError, Inputs
from witnessmark.fasteners import (
    FastenerError,
    InchThread,
    PipeThread,
    Thread,
    alike,
    read_inch_thread,
    read_pipe_thread,
    read_thread,
)

THREAD = Asked("thread", "Thread", "words", "M10x1.25", help="M8 has the coarse pitch.")


def metric_thread(inputs: Inputs) -> Thread:
    """The metric thread that was put in; an inch or pipe thread is sent to its own calculator."""
    text = str(inputs["thread"])
    try:
        return read_thread(text)
    except FastenerError:
        for read, calculator in (
            (read_inch_thread, "Sizes of an inch thread (inch-thread)"),
            (read_pipe_thread, "Pipe thread of a plug (pipe-thread)"),
        ):
            with suppress(FastenerError):
                problem = f"{read(text).name} is no metric thread"
                raise CalculationError("thread", problem, f"it has its own: {calculator}") from None
        raise


def mixed_up(thread: Thread | InchThread | PipeThread) -> list[tuple[str, str]]:
    """Threads of other systems that start on it, then jam, strip or leak."""
    return [
        (f"not {other.name}", f"{other.diameter_mm:.2f} mm, pitch {other.pitch_mm:.3f} mm")
        for other in alike(thread)
    ]


def kn(newton: float) -> str:
    """A force as tables of bolts show it. Example: ``29.3 kN``."""
    return f"{newton / 1000:.3g} kN"
