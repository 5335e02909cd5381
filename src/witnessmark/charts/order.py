"""The order of work as a timeline: who, for which job, and under it the states the machine is in meanwhile.

Attended time is solid, unattended time outlined with dashes; a state stands as an outlined bar with its words.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any, Literal

import altair as alt

from witnessmark.planner import Answer, PlanStep, Problem, spans, tenths

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
NAMED_LANE_PX = 48  # where the name stands over the lane
NARROW_PX = 500


@dataclass(frozen=True)
class Bar:
    """One step on the timeline, in minutes from the start of the plan."""

    lane: str
    number: int
    start: float
    end: float
    tail_end: float


@dataclass(frozen=True)
class StateBar:
    """A state of the machine other than the one it ends in, in minutes from the start of the plan."""

    condition: str
    state: str
    begin: float
    end: float


def people_bars(answer: Answer) -> list[Bar]:
    """The steps of a plan once more, in a lane for each technician; none where one does it all."""
    names = sorted({name for step in answer.steps for name in step.technicians})
    if len(names) < 2:
        return []
    return [
        Bar(name, number, float(step.start), float(step.end), float(step.tail_end))
        for name in names
        for number, step in enumerate(answer.steps, start=1)
        if name in step.technicians
    ]


def state_bars(
    problem: Problem, answer: Answer, words: Mapping[str, tuple[str, Mapping[str, str]]]
) -> list[StateBar]:
    """What the machine is in on the way, and not at the end. `words`: of each condition, and of its states."""
    until, found = tenths(answer.finish_minutes or 0), []
    for name, (text, states) in words.items():
        every = spans(problem, answer.steps, name, until) if name in problem.conditions else []
        rest = (problem.conditions[name].finish or every[-1].state) if every else ""
        for state, together in groupby(every, key=lambda span: span.state):
            same = list(together)
            begin, end = max(0, same[0].begin), same[-1].end
            if state != rest and end > begin:
                found.append(StateBar(text, states.get(state, state), begin / 10, end / 10))
    return found


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


def order_picture(
    drawn: Sequence[Bar],
    *,
    people: Sequence[Bar] = (),
    states: Sequence[StateBar] = (),
    width_px: int = 900,
    theme: Theme = "light",
) -> str:
    """The timeline as SVG text, `width_px` wide.

    Lanes of people, then of jobs in order of first work, then of states, a row of `LANE_PX` each; where it is narrow,
    their names stand over them.
    """
    jobs = list(dict.fromkeys(bar.lane for bar in sorted(drawn, key=lambda bar: bar.start)))
    who = dict.fromkeys(bar.lane for bar in people)
    conditions = dict.fromkeys(bar.condition for bar in states)
    frame = _Frame([*who, *(jobs or [ACCESS]), *conditions], theme, width_px)
    every = [*people, *drawn]
    layers = [_tails(frame, every), _attended(frame, every), _numbers(frame, every)]
    if states:
        layers += [_states(frame, states), _state_words(frame, states)]
    if frame.narrow:
        layers.append(_lane_names(frame))
    return _svg(_dressed(frame, alt.layer(*layers)))


@dataclass(frozen=True)
class _Frame:
    """What is drawn into."""

    lanes: list[str]
    theme: Theme
    width_px: int

    @property
    def narrow(self) -> bool:
        return self.width_px < NARROW_PX

    @property
    def inner_px(self) -> int:
        return self.width_px - (24 if self.narrow else 220)

    @property
    def lane_px(self) -> int:
        return NAMED_LANE_PX if self.narrow else LANE_PX

    @property
    def down_px(self) -> int:
        """How much lower than the middle of its lane a bar stands, to leave room for the name."""
        return 9 if self.narrow else 0

    def lane(self) -> alt.Y:
        axis = alt.Axis(
            title=None, labels=not self.narrow, labelLimit=190, ticks=False, domain=False
        )
        return alt.Y("lane:N", sort=self.lanes, scale=alt.Scale(domain=self.lanes), axis=axis)


def _rows(drawn: Sequence[Bar]) -> list[dict[str, Any]]:
    return [
        {"lane": b.lane, "number": b.number, "start": b.start, "end": b.end, "tail": b.tail_end}
        for b in drawn
    ]


def _minutes() -> alt.X:
    return alt.X("start:Q", title="minutes from the start", axis=alt.Axis(grid=True, tickMinStep=1))


def _tails(frame: _Frame, drawn: Sequence[Bar]) -> alt.Chart:
    rows = [row for row in _rows(drawn) if row["tail"] > row["end"]]
    bar = alt.Chart(alt.Data(values=rows)).mark_bar(
        fillOpacity=0.0,
        stroke=_INK[frame.theme],
        strokeDash=[3, 3],
        strokeWidth=1.5,
        height=LANE_PX * 0.5,
        yOffset=frame.down_px,
    )
    return bar.encode(x=alt.X("end:Q", title="minutes from the start"), x2="tail:Q", y=frame.lane())


def _attended(frame: _Frame, drawn: Sequence[Bar]) -> alt.Chart:
    bar = alt.Chart(alt.Data(values=_rows(drawn))).mark_bar(
        height=LANE_PX * 0.62, stroke=_SHEET[frame.theme], strokeWidth=1, yOffset=frame.down_px
    )
    colour = alt.condition(
        f"datum.lane === '{ACCESS}'",
        alt.value(_ACCESS_INK[frame.theme]),
        alt.value(_INK[frame.theme]),
    )
    return bar.encode(x=_minutes(), x2="end:Q", y=frame.lane(), color=colour)


def _numbers(frame: _Frame, drawn: Sequence[Bar]) -> alt.Chart:
    span = max((bar.tail_end for bar in drawn), default=1.0)
    rows = [row | {"mid": (row["start"] + row["end"]) / 2} for row in _rows(drawn)]
    wide = [  # a number must fit its bar
        row for row in rows if (row["end"] - row["start"]) / span * frame.inner_px > 12
    ]
    mark = alt.Chart(alt.Data(values=wide)).mark_text(
        fontSize=11, fontWeight="bold", color=_SHEET[frame.theme], yOffset=frame.down_px
    )
    return mark.encode(x="mid:Q", y=frame.lane(), text="number:Q")


def _states(frame: _Frame, states: Sequence[StateBar]) -> alt.Chart:
    rows = [{"lane": s.condition, "start": s.begin, "end": s.end} for s in states]
    bar = alt.Chart(alt.Data(values=rows)).mark_bar(
        height=LANE_PX * 0.5,
        fillOpacity=0.0,
        stroke=_INK[frame.theme],
        strokeWidth=1.5,
        yOffset=frame.down_px,
    )
    return bar.encode(x=_minutes(), x2="end:Q", y=frame.lane())


def _state_words(frame: _Frame, states: Sequence[StateBar]) -> alt.Chart:
    """The words of a state in its bar, where it is long enough for them."""
    span = max(s.end for s in states)
    wide = [s for s in states if (s.end - s.begin) / span * frame.inner_px > 7 * len(s.state)]
    rows = [{"lane": s.condition, "start": s.begin, "words": s.state} for s in wide]
    mark = alt.Chart(alt.Data(values=rows)).mark_text(
        fontSize=12, align="left", dx=4, color=_INK[frame.theme], yOffset=frame.down_px
    )
    return mark.encode(x="start:Q", y=frame.lane(), text="words:N")


def _lane_names(frame: _Frame) -> alt.Chart:
    rows = [{"lane": lane, "start": 0, "words": lane} for lane in frame.lanes]
    mark = alt.Chart(alt.Data(values=rows)).mark_text(
        fontSize=13, align="left", yOffset=-14, color=_INK[frame.theme]
    )
    return mark.encode(x="start:Q", y=frame.lane(), text="words:N")


def _dressed(frame: _Frame, chart: Layers) -> Layers:
    ink = _INK[frame.theme]
    sized = chart.properties(
        width=frame.inner_px,
        height=len(frame.lanes) * frame.lane_px,
        background=_SHEET[frame.theme],
    )
    axes = sized.configure_axis(
        labelColor=ink, titleColor=ink, labelFontSize=13, titleFontSize=13, gridOpacity=0.25
    )
    return axes.configure_view(stroke=None)


def _svg(chart: Layers) -> str:
    import vl_convert  # noqa: PLC0415  starts a JavaScript engine: only when a picture is wanted

    drawn: str = vl_convert.vegalite_to_svg(chart.to_dict())
    return drawn
