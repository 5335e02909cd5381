"""How long to search, and one search: one worker, a fixed seed, within the limits."""

from __future__ import annotations

import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from ortools.sat.python import cp_model


@dataclass
class Limits:
    """How long to search: wall-clock seconds and CP-SAT's deterministic time, each over all searches."""

    seconds: float | None = None
    deterministic: float | None = None
    seed: int = 1
    interruptible: bool = False
    stopped: bool = False
    spent: float = 0.0
    began: float = field(default_factory=time.monotonic)

    def left(self) -> tuple[float | None, float | None]:
        """Seconds and deterministic time left."""
        seconds = None if self.seconds is None else self.seconds - (time.monotonic() - self.began)
        return seconds, None if self.deterministic is None else self.deterministic - self.spent

    @contextmanager
    def heeding(self) -> Iterator[None]:
        """Let Ctrl-C between two searches stop them too, with the best plan so far (main thread only)."""
        if not self.interruptible or threading.current_thread() is not threading.main_thread():
            yield
            return
        before = signal.signal(signal.SIGINT, lambda *_: self.stop())
        try:
            yield
        finally:
            signal.signal(signal.SIGINT, before)

    def heed_again(self) -> None:
        """A solver that caught Ctrl-C itself leaves the system's own answer behind: an end without a word."""
        if self.interruptible and threading.current_thread() is threading.main_thread():
            signal.signal(signal.SIGINT, signal.getsignal(signal.SIGINT))

    def stop(self) -> None:
        """Search no more."""
        self.stopped = True

    def over(self) -> bool:
        return self.stopped or any(left is not None and left <= 0 for left in self.left())


def run(
    cp: cp_model.CpModel,
    limits: Limits,
    *,
    goal: str,
    share: float = 1.0,
    most: float | None = None,
    whether: bool = False,
) -> tuple[cp_model.CpSolver, int]:
    """Solve with one worker and a fixed seed, within ``share`` of the limits left.

    ``most``: an allowance of its own in deterministic time, whatever is left of that. A search that
    ends early within its limits was interrupted.
    """
    solver = cp_model.CpSolver()
    parameters = solver.parameters
    parameters.num_workers = 1
    parameters.random_seed = limits.seed
    parameters.symmetry_level = 0
    parameters.cp_model_probing_level = 0 if goal == "attended" else 1
    # measured: a bound on the effort wants the linear relaxation, showing that there is nothing does not
    parameters.linearization_level = 1 if goal == "attended" and not whether else 0
    if goal == "finish" and not whether:
        parameters.binary_search_num_conflicts = 10
    parameters.catch_sigint_signal = limits.interruptible
    seconds, deterministic = limits.left()
    if seconds is not None:
        parameters.max_time_in_seconds = max(0.0, seconds) * share
    if most is not None:
        parameters.max_deterministic_time = most
    elif limits.stopped:
        parameters.max_deterministic_time = 0.0
    elif deterministic is not None:
        parameters.max_deterministic_time = max(0.0, deterministic) * share
    status = int(solver.solve(cp))
    limits.spent += solver.response_proto.deterministic_time
    limits.stopped |= limits.interruptible and _interrupted(solver, status)
    limits.heed_again()
    return solver, status


def _interrupted(solver: cp_model.CpSolver, status: int) -> bool:
    """Whether the search ended before its limits without an end of its own."""
    ended = status in (cp_model.OPTIMAL, cp_model.INFEASIBLE)
    slow = solver.wall_time > 0.98 * solver.parameters.max_time_in_seconds
    long = solver.response_proto.deterministic_time > 0.9 * solver.parameters.max_deterministic_time
    return not (ended or slow or long)
