"""The order of work as a timeline: who works when, and under it what is open or runs by itself meanwhile."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from witnessmark.charts.drawing import box, drawing, line, words
from witnessmark.planner import Answer, Problem, spans, tenths

MOST_ROWS = 8  # of what is open or runs by itself: those that last longest
ROW_PX, BAR_PX, NAME_PX = 50, 24, 17
AXIS_PX = 26
LETTER_PX = 8.2  # of a word in a bar
MARKS = (5, 10, 15, 30, 60, 120, 240, 480, 1440)  # minutes between two marks of the axis


@dataclass(frozen=True)
class Bar:
    """From when to when, in minutes from the start of the plan. ``runs``: by itself, without hands."""

    begin: float
    end: float
    words: str = ""
    runs: bool = False


@dataclass(frozen=True)
class ChartRow:
    """One row with its name. ``work``: what is done by hand, drawn solid."""

    name: str
    bars: tuple[Bar, ...]
    work: bool = False

    @property
    def minutes(self) -> float:
        """How long its bars last together."""
        return sum(bar.end - bar.begin for bar in self.bars)


def meanwhile(
    problem: Problem,
    answer: Answer,
    conditions: Mapping[str, tuple[str, Mapping[str, str]]],
    steps: Mapping[str, tuple[str, str]],
) -> list[ChartRow]:
    """What the work leaves open on the way and closes again, and what runs by itself; no more than `MOST_ROWS`.

    ``conditions``: the words of each condition and of its states; ``steps``: the words of each step,
    and of what then goes on by itself.
    """
    rows = [*_open(problem, answer, conditions), *_running(answer, steps)]
    longest = sorted(rows, key=lambda row: -row.minutes)[:MOST_ROWS]
    return sorted(longest, key=lambda row: row.bars[0].begin)


def _open(
    problem: Problem, answer: Answer, conditions: Mapping[str, tuple[str, Mapping[str, str]]]
) -> Iterator[ChartRow]:
    """A row for each condition that a step takes out of the state it ends in."""
    until = tenths(answer.finish_minutes or 0)
    for name, (text, states) in conditions.items():
        every = spans(problem, answer.steps, name, until) if name in problem.conditions else []
        rest = (problem.conditions[name].finish or every[-1].state) if every else ""
        stays = [list(together) for _, together in groupby(every, key=lambda span: span.state)]
        bars = tuple(
            Bar(same[0].begin / 10, same[-1].end / 10, states.get(same[0].state, same[0].state))
            for same in stays
            if same[0].by is not None and same[0].state != rest and same[-1].end > same[0].begin
        )
        if bars:
            yield ChartRow(text, bars)


def _running(answer: Answer, steps: Mapping[str, tuple[str, str]]) -> Iterator[ChartRow]:
    for step in answer.steps:
        if step.tail_end > step.end:
            name, runs = steps.get(step.name, (step.name, ""))
            yield ChartRow(name, (Bar(step.end, step.tail_end, runs, runs=True),))


def order_picture(
    title: str, rows: Sequence[ChartRow], finish: float, *, width_px: int = 900
) -> str:
    """The timeline as SVG text, ``width_px`` wide; each row's name stands over its bars. ``finish``: minutes.

    Words that fit into no bar of their row stand beside its name, of several the first and the last.
    """
    scale = (width_px - 8) / max(finish, 1)
    height = AXIS_PX + len(rows) * ROW_PX + 4
    shapes = list(_axis(finish, scale, height))
    for place, row in enumerate(rows):
        shapes += _row(row, AXIS_PX + place * ROW_PX, scale, width_px)
    return drawing(title, width_px, height, *shapes)


def _axis(finish: float, scale: float, height: float) -> Iterator[str]:
    apart = next((mark for mark in MARKS if mark * scale >= 56), MARKS[-1])
    for minute in range(0, int(finish) + 1, apart):
        x = 4 + minute * scale
        yield line(x, AXIS_PX - 6, x, height, thick=0.5)
        anchor = "start" if not minute else "end" if x > scale * finish - 20 else "middle"
        yield words(x, 14, f"{minute // 60}:{minute % 60:02d}", anchor=anchor)  # type: ignore[arg-type]


def _row(row: ChartRow, y: float, scale: float, width_px: float) -> Iterator[str]:
    yield words(4, y + NAME_PX - 2, _name(row, scale, width_px))
    top = y + NAME_PX + 2
    for bar in row.bars:
        x, width = 4 + bar.begin * scale, max(1.5, (bar.end - bar.begin) * scale)
        yield box(x, top, width, BAR_PX, filled=row.work, dashed=bar.runs)
        if bar.words and _fits(bar, scale):
            middle = x + width / 2
            yield words(middle, top + 17, bar.words, anchor="middle", on_ink=row.work)


def _name(row: ChartRow, scale: float, width_px: float) -> str:
    """A row by its name, and by what its bars are too short to say, as far as there is room."""
    shown = {bar.words for bar in row.bars if _fits(bar, scale)}
    beside = [bar.words for bar in row.bars if bar.words and bar.words not in shown]
    if not beside or row.work:
        return row.name
    both = [f"{row.name}: {beside[0]} … {beside[-1]}"] if beside[0] != beside[-1] else []
    shortest = beside[0].partition(",")[0]  # "open" of "open, drawn down to the port"
    every = (*both, f"{row.name}: {beside[0]}", f"{row.name}: {shortest}")
    return next((one for one in every if LETTER_PX * len(one) < width_px), row.name)


def _fits(bar: Bar, scale: float) -> bool:
    return (bar.end - bar.begin) * scale > LETTER_PX * len(bar.words) + 6
