"""Ours against general planners and rules of thumb, on the same cases, in one run.

Processor seconds of whole calls: ours with checking and reasons, theirs with the programs they start.
A time-out of the classical planner counts as a lower limit of its time.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from benchmarks.instances import problems
from benchmarks.rules_of_thumb import nearest_next, one_by_one
from benchmarks.stopwatch import timed
from tests.outside.planning import classical, temporal
from witnessmark.planner import Answer, Problem, plan

ROW = "{:<22} {:>5} {:>9} {:>8} {:>9} {:>9} {:>9} {:>8} {:>8}"
MANY = 6  # jobs: from here on a selection is more than a person orders in his head
TIMED = ("battery", "engine oil", "drive oil", "rear brake", "rear end", "drawn 1, 3 jobs")


@dataclass(frozen=True)
class Compared:
    """One case: our proven minutes and seconds, theirs, and whether theirs is only a lower limit."""

    jobs: int
    ours_s: float
    theirs_s: float
    at_least: bool

    @property
    def ratio(self) -> float:
        """How many times as long theirs took."""
        return self.theirs_s / max(self.ours_s, 0.001)


def attended(seconds: float) -> None:
    """Least attended minutes, one technician: ours, Fast Downward optimal, and two rules of thumb."""
    print("\nLeast attended minutes, one technician, against the optimal classical planner "
          f"(Fast Downward, A* with LM-cut, {seconds:g} s)")  # fmt: skip
    print(ROW.format("case", "steps", "attended", "ours s", "theirs", "theirs s", "ratio",
                     "1 by 1", "nearest"))  # fmt: skip
    compared = [_attended(title, problem, seconds) for title, problem in problems()]
    _told("all", compared)
    _told(f"{MANY} jobs or more", [case for case in compared if case.jobs >= MANY])


def _told(which: str, compared: list[Compared]) -> None:
    ratios, ours = [case.ratio for case in compared], [case.ours_s for case in compared]
    ended = sum(not case.at_least for case in compared)
    print(
        f"{which}: {len(compared)} cases, ours median {statistics.median(ours):.3f} s, most {max(ours):.2f} s; "
        f"it ended {ended}; ratio at least: median {statistics.median(ratios):.0f}, least {min(ratios):.0f}"
    )


def _attended(title: str, problem: Problem, seconds: float) -> Compared:
    ours, ours_s = timed(lambda: plan(problem, objective="attended"))
    theirs, theirs_s = timed(lambda: _classical(problem, seconds))
    at_least = isinstance(theirs, TimeoutError)
    theirs_s = max(theirs_s, seconds) if at_least else theirs_s  # what is killed tells no time
    jobs = len({operation.job for operation in problem.operations})
    case = Compared(jobs, ours_s, theirs_s, at_least)
    print(
        ROW.format(
            title,
            len(ours.steps),
            _minutes(ours.attended_minutes, proven=ours.status in {"optimal", "impossible"}),
            f"{ours_s:.3f}",
            "no end" if isinstance(theirs, TimeoutError) else _minutes(theirs.attended_minutes),
            f"{'≥' if at_least else ''}{theirs_s:.2f}",
            f"{'≥' if at_least else ''}{case.ratio:.0f}",
            _share(lambda: one_by_one(problem, ours), ours),
            _share(lambda: nearest_next(problem), ours),
        ),
        flush=True,
    )
    return case


def _classical(problem: Problem, seconds: float) -> classical.Optimum | TimeoutError:
    try:
        return classical.optimum(problem, seconds)
    except TimeoutError as late:
        return late


def _minutes(value: float | None, *, proven: bool = True) -> str:
    return "none" if value is None else f"{value:.1f}{'' if proven else '?'}"


def _share(rule: Callable[[], float | None], ours: Answer) -> str:
    """Its minutes as a multiple of ours; `-` where the rule ends in a blind alley."""
    if not ours.attended_minutes:
        return "-"
    minutes = rule()
    return "-" if minutes is None else f"×{minutes / ours.attended_minutes:.2f}"


def finish(seconds: float, titles: Iterable[str] = TIMED) -> None:
    """Finish, then attended minutes, one technician: ours with proof, and the temporal planner's best."""
    print("\nFinish, then attended minutes, one technician; the temporal planner Aries is asked on some "
          f"until it finds our finish, at most {seconds:g} s (it proves none)")  # fmt: skip
    row = "{:<22} {:>5} {:>9} {:>8} {:>9} {:>9} {:>9}"
    print(row.format("case", "steps", "finish", "ours s", "theirs", "clock s", "ratio"))
    all_ours = []
    for title, problem in problems():
        ours, ours_s = timed(lambda problem=problem: plan(problem))
        all_ours.append(ours_s)
        said = ["", "", ""]
        if title in titles and ours.finish_minutes is not None:
            enough = round(ours.finish_minutes * 10)
            began = time.monotonic()  # its program is killed, not ended: no processor time is told
            found = temporal.best(problem, seconds, enough)
            theirs_s = time.monotonic() - began
            said = [
                "none" if found is None else f"{found.finish_tenths / 10:.1f}",
                f"{theirs_s:.2f}",
                f"{theirs_s / max(ours_s, 0.001):.0f}",
            ]
        proven = ours.status in {"optimal", "impossible"}
        minutes = _minutes(ours.finish_minutes, proven=proven)
        print(row.format(title, len(ours.steps), minutes, f"{ours_s:.3f}", *said), flush=True)
    print(f"ours: median {statistics.median(all_ours):.3f} s, most {max(all_ours):.2f} s")
