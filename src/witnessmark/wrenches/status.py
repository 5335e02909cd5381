"""How a tool stands on a day: may it be used, does it prove anything, when must it be checked or given back."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Literal

from witnessmark.days import day
from witnessmark.facts import add_months
from witnessmark.wrenches.tool import (
    CHECK_WORDS,
    Check,
    Dropped,
    TorqueTool,
    checks,
    covers_range,
    is_good,
    last_renewal,
    permitted,
)
from witnessmark.wrenches.words import per_cent

SOON = timedelta(days=30)  # ahead of the day (judged by us), and
SOON_CYCLES = 0.9  # of the cycles: said before it is due (judged by us)
Stand = Literal["calibrated", "due", "never", "dropped", "wrong", "away", "retired"]


@dataclass(frozen=True, slots=True)
class ToolStatus:
    """How a tool stands. `said` are sentences without a full stop, the gravest first; `due`: the first day it counts
    no longer as calibrated, by months; `checked`: the check its calibration rests on.
    """

    stand: Stand
    said: tuple[str, ...]
    due: date | None = None
    cycles_left: int | None = None
    checked: Check | None = None
    soon: bool = False
    overdue: bool = False  # to its owner

    @property
    def usable(self) -> bool:
        """Whether it may be taken in hand at all; out of calibration it may, and proves nothing."""
        return self.stand in {"calibrated", "due", "never"}

    @property
    def proves(self) -> bool:
        """Whether what it tightens counts as proven."""
        return self.stand == "calibrated"

    @property
    def to_mind(self) -> tuple[str, ...]:
        """The sentences about what is to be done; none where there is nothing."""
        fine = self.stand in {"calibrated", "away", "retired"} and not self.soon
        said = self.said[1:] if fine else self.said
        return () if self.quiet else said

    @property
    def quiet(self) -> bool:
        """Whether there is nothing to be done about it."""
        return self.stand in {"calibrated", "away", "retired"} and not (self.soon or self.overdue)


def tool_status(tool: TorqueTool, on: date) -> ToolStatus:
    """How a tool stands on a day: 12 months or 5,000 cycles, whichever comes first (ISO 6789); a fall ends both."""
    if tool.retired_on and tool.retired_on <= on:
        return ToolStatus("retired", (f"out of use since {day(tool.retired_on)}",))
    if tool.loan and tool.loan.returned and tool.loan.returned <= on:
        return ToolStatus("away", (f"given back on {day(tool.loan.returned)}",))
    found = _out_of_use(tool, on) or _calibration(tool, on)
    late = _to_its_owner(tool, on)
    return replace(
        found,
        said=(*found.said, *((late,) if late else ())),
        overdue=bool(tool.loan and tool.loan.back_by < on),
    )


def _out_of_use(tool: TorqueTool, on: date) -> ToolStatus | None:
    """Dropped, or found wrong, and not found or made good since."""
    ill: ToolStatus | None = None
    for one in tool.history:
        if one.on > on:
            continue
        if isinstance(one, Dropped):
            said = f"dropped or overloaded on {day(one.on)}: out of use until it is checked"
            ill = ToolStatus("dropped", (said,))
        elif is_good(one, tool):
            ill = None
        else:
            ill = ToolStatus("wrong", (_found(one, tool),))
    return ill


def _found(check: Check, tool: TorqueTool) -> str:
    return (
        f"found {per_cent(check.worst, signed=True)} off on {day(check.on)}, "
        f"more than the {per_cent(permitted(tool))} permitted: "
        "out of use until it is put right and checked"
    )


def _calibration(tool: TorqueTool, on: date) -> ToolStatus:
    base = last_renewal(tool, on)
    if base is None:
        return ToolStatus("never", (_not_renewed(tool, on),))
    due = add_months(base.on, tool.months)
    left = tool.most_cycles - tool.cycles
    if on >= due:
        return ToolStatus("due", (f"out of calibration since {day(due)}",), due, left, base)
    if left <= 0:
        said = f"{tool.cycles} cycles since {day(base.on)}, {tool.most_cycles} at most: calibration is due"
        return ToolStatus("due", (said,), due, left, base)
    said = f"{CHECK_WORDS[base.kind]} on {day(base.on)}, counts until {day(due)}"
    few = tool.cycles >= SOON_CYCLES * tool.most_cycles
    if few:
        said += f" or {left} more cycles"
    return ToolStatus("calibrated", (said,), due, left, base, soon=few or due - on <= SOON)


def _to_its_owner(tool: TorqueTool, on: date) -> str:
    if tool.loan is None:
        return ""
    by = day(tool.loan.back_by)
    return (
        f"was due back to its owner on {by}" if tool.loan.back_by < on else f"borrowed until {by}"
    )


def _not_renewed(tool: TorqueTool, on: date) -> str:
    good = [check for check in checks(tool, on) if is_good(check, tool)]
    if not good:
        return "never calibrated"
    if not covers_range(good[-1], tool):
        return "checked in house in one half of its range only: that proves nothing yet"
    return "checked in house by a method not known to be fine enough: that proves nothing yet"
