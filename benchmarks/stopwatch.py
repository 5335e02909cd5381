"""Processor seconds: of this process and of the programs it starts, whoever else loads the machine."""

from __future__ import annotations

import resource
import time
from collections.abc import Callable
from typing import TypeVar

Result = TypeVar("Result")


def timed(what: Callable[[], Result]) -> tuple[Result, float]:
    """What it returned, and the processor seconds it took, those of ended child processes included."""
    before = _used()
    result = what()
    return result, _used() - before


def _used() -> float:
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime
