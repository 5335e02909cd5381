"""The order of work as a timeline: a lane per job, attended time solid, unattended time outlined."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import altair as alt

from witnessmark.planner.plan import Answer, PlanStep

Theme = Literal["light", "dark"]
Layers = alt.LayerChart | alt.FacetChart  # what alt.layer says it makes
_INK = {"light": "#17181a", "dark": "#f4f1e9"}
_SHEET = {"light": "#faf8f3", "dark": "#15181b"}
_ACCESS_INK = {
    "light": "#6b675e",
    "dark": "#969a9f",
}  # the paint colour is kept for what is proven closed
ACCESS = "Access"
LANE_PX = 34


@dataclass(frozen=True)
class Bar:
    """One step on the timeline, in minutes from the start of the plan."""

    lane: str
    number: int
    start: float
    end: float
    tail_end: float


def bars(answer: Answer, job_of: Mapping[str, str], job_text: Mapping[str, str]) -> list[Bar]:
    """The steps of a plan as bars: access steps in a lane of their own, operations in the lane of their job.

    `job_of` gives the job id of an operation, `job_text` the words of a job.
    """
    return [
        _bar(number, step, job_of, job_text) for number, step in enumerate(answer.steps, start=1)
    ]


def _bar(
    number: int, step: PlanStep, job_of: Mapping[str, str], job_text: Mapping[str, str]
) -> Bar:
    job = job_of.get(step.name, "") if step.kind == "operation" else ""
    lane = job_text.get(job, job) or ACCESS
    return Bar(lane, number, float(step.start), float(step.end), float(step.tail_end))


def order_picture(drawn: list[Bar], *, width_px: int = 900, theme: Theme = "light") -> str:
    """The timeline as SVG text, `width_px` wide; lanes in order of first work, one row of `LANE_PX` each."""
    lanes = list(dict.fromkeys(bar.lane for bar in sorted(drawn, key=lambda bar: bar.start)))
    if not lanes:
        lanes = [ACCESS]
    chart = alt.layer(
        _tails(drawn, lanes, theme), _attended(drawn, lanes, theme), _numbers(drawn, lanes, theme)
    )
    return _svg(_dressed(chart, len(lanes), width_px, theme))


def _rows(drawn: list[Bar]) -> list[dict[str, Any]]:
    return [
        {"lane": b.lane, "number": b.number, "start": b.start, "end": b.end, "tail": b.tail_end}
        for b in drawn
    ]


def _lane_axis(lanes: list[str]) -> alt.Y:
    axis = alt.Axis(title=None, labelLimit=190, ticks=False, domain=False)
    return alt.Y("lane:N", sort=lanes, scale=alt.Scale(domain=lanes), axis=axis)


def _minutes() -> alt.X:
    return alt.X("start:Q", title="minutes from the start", axis=alt.Axis(grid=True, tickMinStep=1))


def _tails(drawn: list[Bar], lanes: list[str], theme: Theme) -> alt.Chart:
    rows = [row for row in _rows(drawn) if row["tail"] > row["end"]]
    bar = alt.Chart(alt.Data(values=rows)).mark_bar(
        fillOpacity=0.0,
        stroke=_INK[theme],
        strokeDash=[3, 3],
        strokeWidth=1.5,
        height=LANE_PX * 0.5,
    )
    return bar.encode(
        x=alt.X("end:Q", title="minutes from the start"), x2="tail:Q", y=_lane_axis(lanes)
    )


def _attended(drawn: list[Bar], lanes: list[str], theme: Theme) -> alt.Chart:
    bar = alt.Chart(alt.Data(values=_rows(drawn))).mark_bar(
        height=LANE_PX * 0.62, stroke=_SHEET[theme], strokeWidth=1
    )
    colour = alt.condition(
        f"datum.lane === '{ACCESS}'", alt.value(_ACCESS_INK[theme]), alt.value(_INK[theme])
    )
    return bar.encode(x=_minutes(), x2="end:Q", y=_lane_axis(lanes), color=colour)


def _numbers(drawn: list[Bar], lanes: list[str], theme: Theme) -> alt.Chart:
    span = max((bar.tail_end for bar in drawn), default=1.0)
    rows = [row | {"mid": (row["start"] + row["end"]) / 2} for row in _rows(drawn)]
    wide = [
        row for row in rows if (row["end"] - row["start"]) / span > 0.018
    ]  # a number must fit its bar
    mark = alt.Chart(alt.Data(values=wide)).mark_text(
        fontSize=11, fontWeight="bold", color=_SHEET[theme]
    )
    return mark.encode(x="mid:Q", y=_lane_axis(lanes), text="number:Q")


def _dressed(chart: Layers, lanes: int, width_px: int, theme: Theme) -> Layers:
    ink = _INK[theme]
    sized = chart.properties(width=width_px - 220, height=lanes * LANE_PX, background=_SHEET[theme])
    axes = sized.configure_axis(
        labelColor=ink, titleColor=ink, labelFontSize=13, titleFontSize=13, gridOpacity=0.25
    )
    return axes.configure_view(stroke=None)


def _svg(chart: Layers) -> str:
    import vl_convert  # noqa: PLC0415  starts a JavaScript engine: only when a picture is wanted

    drawn: str = vl_convert.vegalite_to_svg(chart.to_dict())
    return drawn
