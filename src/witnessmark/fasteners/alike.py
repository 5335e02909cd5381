"""Threads that start on one another and then jam, strip or leak: metric, Unified and parallel pipe threads."""

from __future__ import annotations

from typing import Protocol

from witnessmark.fasteners.inch import THREADS, InchThread, inches
from witnessmark.fasteners.pipe import SIZES, PipeThread
from witnessmark.fasteners.threads import threads

NEAR_MM = 0.5  # of the diameter; judged by us
NEAR_PITCH = 0.12  # of the larger pitch: a few turns go; judged by us


class AnyThread(Protocol):
    """What a thread of any system has."""

    @property
    def name(self) -> str: ...
    @property
    def diameter_mm(self) -> float: ...
    @property
    def pitch_mm(self) -> float: ...


def alike(thread: AnyThread) -> list[AnyThread]:
    """Threads of other systems that are near in diameter and pitch, the nearest diameter first."""
    every: list[AnyThread] = [*threads(), *(PipeThread("G", size) for size in SIZES)]
    every += [InchThread(s, inches(s), n) for s, pair in THREADS.items() for n in pair if n]
    near = [
        other
        for other in every
        if type(other) is not type(thread)
        and abs(other.diameter_mm - thread.diameter_mm) <= NEAR_MM
        and abs(other.pitch_mm - thread.pitch_mm)
        <= NEAR_PITCH * max(other.pitch_mm, thread.pitch_mm)
    ]
    return sorted(near, key=lambda other: abs(other.diameter_mm - thread.diameter_mm))
