"""What a lamp blinks, as the number to be looked up in the manual."""

from __future__ import annotations

from typing import cast, get_args

from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    lines_of,
)
from witnessmark.charts.drawing import box, drawing, words
from witnessmark.decode import Blinked, Counting, DecodeError, read_blinks
from witnessmark.decode.blinks import SOURCE

MOST_DRAWN = 6  # for the program: codes in the picture


def _blinks(inputs: Inputs) -> Calculated:
    counting = cast("Counting | None", inputs.get("counting"))
    read = [
        _one(text, place, counting) for place, text in enumerate(lines_of(inputs, "flashes"), 1)
    ]
    numbers = list(dict.fromkeys(str(one.number) for one in read))
    return Calculated(
        said=f"Code{'s' if len(numbers) > 1 else ''} {', '.join(numbers)}.",
        lines=tuple((one.written, f"{one.number}: {one.words}") for one in read),
        formula="each group's count is a digit" if counting == "groups are digits" else "10 × long + short",
        put_in=(),
        source=SOURCE,
        warnings=(
            "What it means stands in the machine's manual, and nowhere else: look it up there, with how it counts.",
            "Watch it twice: codes come one after another, and again from the first.",
        ),
        picture=_picture(read[:MOST_DRAWN]),
    )  # fmt: skip


def _one(text: str, place: int, counting: Counting | None) -> Blinked:
    try:
        return read_blinks(text, counting)
    except DecodeError as error:
        raise CalculationError(
            "flashes", f"line {place}: {error.problem}", error.expected
        ) from None


def _picture(read: list[Blinked]) -> str:
    """Each pattern as the lamp shows it, from left to right: long and short on, dark between."""
    shapes = []
    wide = max(sum((34 if g.long else 14) * g.count + 8 for g in one.groups) for one in read)
    scale = min(1.0, 290 / wide)
    for row, one in enumerate(read):
        x, y = 10.0, 14.0 + 44 * row
        for group in one.groups:
            for _ in range(group.count):
                long = 28 if group.long else 8
                shapes.append(box(x, y, long * scale, 22, filled=True))
                x += (long + 6) * scale
            x += 8 * scale
        shapes.append(words(344, y + 19, str(one.number), anchor="end", size=22))
    title = "; ".join(f"{one.words}: {one.number}" for one in read)
    return drawing(f"Flashes: {title}", 354, 8 + 44 * len(read), *shapes)


CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        name="blink-code",
        title="Blink code",
        text="Long and short flashes of a warning lamp, as the number to look up in the manual.",
        asked=(
            Asked("flashes", "Flashes", "lines", "2 long 3 short\n- - .",
                  help="A line each code: 2 long 3 short, long long short, LLSSS or - - . with / for a pause."),
            Asked("counting", "How it counts", "choice", "long is ten", get_args(Counting), optional=True,
                  help="Left empty: a long flash is ten. By the manual."),
        ),
        calculate=_blinks,
        also=("flash code", "fault lamp", "MIL", "error code"),
    ),
)  # fmt: skip
