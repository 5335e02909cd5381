"""What the planner has from the system: the clock, and Ctrl-C."""

from __future__ import annotations

import signal
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field


def seconds_now() -> float:
    """Seconds on a clock that is never set back; only differences mean something."""
    return time.monotonic()


@dataclass
class Budget:
    """What may be spent: seconds of wall-clock time, and deterministic time, each over all searches."""

    seconds: float | None = None
    deterministic: float | None = None
    spent: float = 0.0  # deterministic
    began: float = field(default_factory=seconds_now)

    def left(self) -> tuple[float | None, float | None]:
        """Seconds and deterministic time left; None where there is no limit."""
        clock = None if self.seconds is None else self.seconds - (seconds_now() - self.began)
        return clock, None if self.deterministic is None else self.deterministic - self.spent

    def scarcer(self) -> float:
        """What is left of whichever is scarcer."""
        return min(1e9 if left is None else left for left in self.left())


@contextmanager
def on_interrupt(stop: Callable[[], None]) -> Iterator[None]:
    """Let Ctrl-C call `stop` meanwhile (main thread only)."""
    if not _in_main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, lambda *_: stop())
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def heed_interrupts_again() -> None:
    """A solver that caught Ctrl-C itself leaves the system's own answer behind: an end without a word."""
    if _in_main_thread():
        signal.signal(signal.SIGINT, signal.getsignal(signal.SIGINT))


def _in_main_thread() -> bool:
    return threading.current_thread() is threading.main_thread()
