"""Which tool suits a figure, and in words why another does not."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal

from witnessmark.units import show
from witnessmark.wrenches.adapters import CrowFoot, Setting, delivered, setting
from witnessmark.wrenches.standard import BEST_SHARES, RESOLUTION, WIDEST_DEVIATION
from witnessmark.wrenches.status import ToolStatus, tool_status
from witnessmark.wrenches.tool import EXACT, TorqueTool, WrenchError, permitted
from witnessmark.wrenches.words import per_cent

About = Literal["range", "standing", "error", "scale", "arm"]
WORTH_MINDING = 0.005  # rounding below half a per cent does not decide between tools (judged by us)
UNUSABLE = {"range", "scale", "arm"}


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a tool does not suit."""

    about: About
    words: str


@dataclass(frozen=True, slots=True)
class Fit:
    """A tool against a figure: what to set, the error to be expected, and why it does not suit.

    `error`: permitted deviation and rounding together, as a share of the figure.
    """

    tool: TorqueTool
    setting: Setting
    standing: ToolStatus
    error: float
    reasons: tuple[Reason, ...]

    @property
    def suits(self) -> bool:
        """Whether it proves the figure."""
        return not self.reasons

    @property
    def usable(self) -> bool:
        """Whether it can be taken in hand for it; what it tightens then closes as unproven."""
        return self.standing.usable and not any(r.about in UNUSABLE for r in self.reasons)

    @property
    def words(self) -> str:
        """In a sentence."""
        if self.suits:
            return f"{self.tool.name}: set {self.setting.text}, error up to {per_cent(self.error)}"
        return f"{self.tool.name}: " + "; ".join(reason.words for reason in self.reasons)


def suits(
    tool: TorqueTool,
    torque_nm: float,
    on: date,
    *,
    low_nm: float | None = None,
    high_nm: float | None = None,
    crow_foot: CrowFoot | None = None,
) -> Fit:
    """Whether a tool proves a torque on a day: usable, calibrated, in range, its error within the tolerance.

    The tolerance is what lies between `low_nm` and `high_nm`. A figure without one is written for tools as the
    standard allows them: then the error may be 6 %, the widest it permits, or the tool's own and a quarter of it
    for rounding (the share ISO 6789-1 gives an electronic display). Raises WrenchError for what is no torque.
    """
    made, unfit = _made(tool, torque_nm, crow_foot)
    stands = tool_status(tool, on)
    error = permitted(tool) + abs(made.rounding)
    reasons = [
        *([unfit] if unfit else _range(tool, made)),
        *([] if stands.proves else [Reason("standing", stands.said[0])]),
        *_error(tool, made, error, low_nm, high_nm),
    ]
    return Fit(tool, made, stands, error, tuple(reasons))


def ranked(
    tools: Iterable[TorqueTool],
    torque_nm: float,
    on: date,
    *,
    low_nm: float | None = None,
    high_nm: float | None = None,
    crow_foot: CrowFoot | None = None,
) -> list[Fit]:
    """All tools, the best first: what suits, what may be used, what does not.

    Among what may be used, what is calibrated comes before what is overdue for its check, whatever its error. Then
    what is not overdue to its owner, what its scale can show, what lies in the middle of its range, the least error,
    the narrowest range, the name.
    """
    fits = [
        suits(tool, torque_nm, on, low_nm=low_nm, high_nm=high_nm, crow_foot=crow_foot)
        for tool in tools
    ]
    return sorted(fits, key=_rank)


def _made(
    tool: TorqueTool, torque_nm: float, crow_foot: CrowFoot | None
) -> tuple[Setting, Reason | None]:
    """What to set; without the crow-foot, and why, where it cannot be calculated on this wrench."""
    if crow_foot is None:
        return setting(tool, torque_nm), None
    try:
        adapter = crow_foot.on(tool)
        if adapter is not None:
            return setting(tool, torque_nm, adapter), None
        unfit = Reason("arm", "its arm, from square to hand, was not measured")
    except WrenchError as error:
        unfit = Reason("arm", error.problem)
    return setting(tool, torque_nm), unfit


def _rank(fit: Fit) -> tuple[bool, bool, bool, bool, bool, bool, float, float, str]:
    low, high = (share * fit.tool.high_nm for share in BEST_SHARES)
    in_the_middle = low <= fit.setting.set_nm <= high
    rounded = abs(fit.setting.rounding) > WORTH_MINDING
    width = fit.tool.high_nm - fit.tool.lowest_nm
    return (
        not fit.suits,
        not fit.usable,
        not fit.standing.proves,
        fit.standing.overdue,
        rounded,
        not in_the_middle,
        round(fit.error, 3),
        width,
        fit.tool.name,
    )


def _range(tool: TorqueTool, made: Setting) -> Iterable[Reason]:
    low, high = tool.lowest_nm, tool.high_nm
    where = "" if made.adapter is None else " with the adapter on"
    if made.exact_nm < low - EXACT:
        yield Reason("range", f"begins at {_shown(low, tool)}, {made.text} to be set{where}")
    elif made.exact_nm > high + EXACT:
        yield Reason("range", f"ends at {_shown(high, tool)}, {made.text} to be set{where}")
    elif not low - EXACT <= made.set_nm <= high + EXACT:
        yield Reason(
            "scale", f"{_shown(made.exact_nm, tool)} lies past the last division it can be set to"
        )


def _error(
    tool: TorqueTool, made: Setting, error: float, low_nm: float | None, high_nm: float | None
) -> Iterable[Reason]:
    own = permitted(tool)
    if low_nm is None and high_nm is None:
        allowed = max(WIDEST_DEVIATION, own * (1 + RESOLUTION))
        if error > allowed + EXACT:
            yield Reason("error", f"{_sum(made, own)}, {per_cent(allowed)} allowed")
        return
    least, most = (delivered(made.set_nm / (1 + way * own), made.adapter) for way in (1, -1))
    if low_nm is not None and least < low_nm * (1 - EXACT):
        words = f"{_sum(made, own)}: it may give only {_shown(least, tool)} of at least {_shown(low_nm, tool)}"
        yield Reason("error", words)
    if high_nm is not None and most > high_nm * (1 + EXACT):
        words = (
            f"{_sum(made, own)}: it may give {_shown(most, tool)}, {_shown(high_nm, tool)} at most"
        )
        yield Reason("error", words)


def _sum(made: Setting, own: float) -> str:
    if abs(made.rounding) < 0.0005:
        return f"may deviate by {per_cent(own)}"
    return f"may deviate by {per_cent(own)}, and its scale rounds by {per_cent(abs(made.rounding))}"


def _shown(torque_nm: float, tool: TorqueTool) -> str:
    return show(torque_nm, "torque", unit=tool.scale_unit)
