"""How long to search, and one search: one worker, a fixed seed, within the limits."""

from __future__ import annotations

from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass

from ortools.sat.python import cp_model

from witnessmark.planner.system import Budget, heed_interrupts_again, on_interrupt

SMALL = 1000  # variables of a model


@dataclass
class SearchLimits(Budget):
    """How long to search, and how."""

    seed: int = 1
    interruptible: bool = False
    stopped: bool = False

    def heeding(self) -> AbstractContextManager[None]:
        """Let Ctrl-C between two searches stop them too, with the best plan so far (main thread only)."""
        return on_interrupt(self.stop) if self.interruptible else nullcontext()

    def stop(self) -> None:
        """Search no more."""
        self.stopped = True

    def over(self) -> bool:
        return self.stopped or any(left is not None and left <= 0 for left in self.left())


def run(
    cp: cp_model.CpModel,
    limits: SearchLimits,
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
    # measured: upwards from the bound is quickest for a large model, as the bound is most often met; a small one is
    # quick either way, and the orders found downwards leave a board nearer its bound
    parameters.use_objective_lb_search = goal == "finish" or len(cp.proto.variables) > SMALL
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
    if limits.interruptible:
        heed_interrupts_again()
    return solver, status


def _interrupted(solver: cp_model.CpSolver, status: int) -> bool:
    """Whether the search ended before its limits without an end of its own."""
    ended = status in (cp_model.OPTIMAL, cp_model.INFEASIBLE)
    slow = solver.wall_time > 0.98 * solver.parameters.max_time_in_seconds
    long = solver.response_proto.deterministic_time > 0.9 * solver.parameters.max_deterministic_time
    return not (ended or slow or long)
