"""Print a filled form as PDF/A-2a with Typst, offline.

The fonts are Typst's embedded ones, so the same form gives the same bytes everywhere. A letter they do not have is
looked for in the fonts of the system; one that no font has prints as its code point, "[U+1F3CD]": a name in a rare
script must not keep a machine from being handed back, and no letter may go missing silently.

What a sheet itself says stands in it in English, as `say("…")`; whoever prints brings the translation.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import UTC, datetime, time
from functools import cache
from pathlib import Path
from typing import Any, Literal

import typst

from witnessmark.papers.contents import (
    CallBack,
    EstimatePaper,
    JobCard,
    MoneyPaper,
    Paper,
    RoadTest,
    ServiceRecord,
    SignedOverride,
)

SHEETS = Path(__file__).parent / "sheets"
STANDARD: Literal["a-2a"] = "a-2a"
SHEET_OF: dict[type[Paper], str] = {
    CallBack: "call_back.typ",
    EstimatePaper: "estimate.typ",
    JobCard: "job_card.typ",
    MoneyPaper: "money.typ",
    SignedOverride: "signed_override.typ",
    RoadTest: "road_test.typ",
    ServiceRecord: "service_record.typ",
}
_SAID = re.compile(r'\bsay\("([^"]+)"')
_NO_FONT = re.compile(r'the text `"(.+?)"` could not be displayed')
_ESCAPED = re.compile(r"\\u\{([0-9a-f]+)\}")
_RUN = re.compile(r"\S{25,}")  # longer than a column is wide: it may be broken
_AS_IT_IS = {"head", "payment_code"}  # a seal, a picture: nothing may be put into them
_CONTROLS = {code: " " for code in (*range(32), 127) if chr(code) not in "\t\n"}


class PressError(RuntimeError):
    """A form that could not be printed; the message is Typst's own."""


@cache
def texts() -> tuple[str, ...]:
    """Every text that stands in a sheet, in English."""
    sheets = [path.read_text(encoding="utf-8") for path in sorted(SHEETS.glob("*.typ"))]
    return tuple(dict.fromkeys(text for sheet in sheets for text in _SAID.findall(sheet)))


def pdf(form: Paper, say: Callable[[str], str] = str) -> bytes:
    """The form as PDF/A-2a, what the sheet itself says by ``say``.

    Raises PressError when Typst fails or warns for any reason but a missing letter.
    """
    said: Any = {
        "form": form.model_dump(mode="json"),
        "words": {text: say(text) for text in texts()},
    }
    try:
        return _print(form, _spelled(said, _CONTROLS), system_fonts=False)
    except typst.TypstError as problem:
        if not _NO_FONT.search(problem.diagnostic):
            raise PressError(problem.diagnostic) from problem
    try:
        return _print(form, _spelled(said, _CONTROLS), system_fonts=True)
    except typst.TypstError as problem:
        codes = {ord(letter): f"[U+{ord(letter):04X}]" for letter in _letters_without_font(problem)}
    try:
        return _print(form, _spelled(said, _CONTROLS | codes), system_fonts=True)
    except typst.TypstError as still:
        raise PressError(still.diagnostic) from still


def _letters_without_font(problem: typst.TypstError) -> set[str]:
    texts = [
        _ESCAPED.sub(lambda hit: chr(int(hit[1], 16)), text)
        for text in _NO_FONT.findall(problem.diagnostic)
    ]
    return {letter for text in texts for letter in text if not letter.isascii()}


def _spelled(said: Any, table: dict[int, str]) -> Any:
    if isinstance(said, str):
        return _RUN.sub(_broken, said.translate(table))
    if isinstance(said, list):
        return [_spelled(item, table) for item in said]
    return (
        {key: item if key in _AS_IT_IS else _spelled(item, table) for key, item in said.items()}
        if isinstance(said, dict)
        else said
    )


def _broken(run: re.Match[str]) -> str:
    return "\u200b".join(run[0][at : at + 8] for at in range(0, len(run[0]), 8))


def _print(form: Paper, said: Any, *, system_fonts: bool) -> bytes:
    noon = datetime.combine(form.heading.printed, time(12), tzinfo=UTC)
    printed, warnings = _compiler(system_fonts=system_fonts).compile_with_warnings(
        input=SHEETS / SHEET_OF[type(form)],
        format="pdf",
        sys_inputs={name: json.dumps(value) for name, value in said.items()},
        pdf_standards=STANDARD,
        timestamp=noon,
    )
    if warnings:
        raise PressError("; ".join(warning.message for warning in warnings))
    if not isinstance(printed, bytes):
        raise PressError("Typst gave no document")
    return printed


@cache
def _compiler(*, system_fonts: bool) -> typst.Compiler:
    fonts = typst.Fonts(include_system_fonts=system_fonts)
    return typst.Compiler(root=SHEETS, font_paths=fonts, ignore_system_fonts=not system_fonts)
