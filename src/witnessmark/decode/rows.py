"""Rows of a table of trouble codes: CSV with comma, semicolon, tab or bar, with or without a line of headings."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass

from witnessmark.decode.trouble_codes import Code, code_of

SEPARATORS = "\t;|,"
_COLUMNS = {
    "code": ("CODE", "DTC", "FAULT CODE", "TROUBLE CODE", "NUMBER"),
    "status": ("STATUS", "STATUS BYTE", "STATE"),
    "failure": ("FAILURE TYPE", "FAILURE TYPE BYTE", "SUBTYPE", "SYMPTOM"),
    "unit": ("UNIT", "CONTROL UNIT", "MODULE", "ECU", "SYSTEM"),
}
_TEXT = re.compile(r"(?P<code>[PCBU][0-3][0-9A-F]{3})(?:[-:/]?(?P<failure>[0-9A-F]{2}))?")
_ONE = r"[PCBU][0-3][0-9A-F]{3}(?:[-:/]?[0-9A-F]{2})?"
_BEGINS = re.compile(rf"{_ONE}\b")
_NUMBER = re.compile(r"(?:0X)?(?P<code>[0-9A-F]{4})(?P<failure>[0-9A-F]{2})?")
_BYTE = re.compile(r"(?:0X)?([0-9A-F]{2})")


@dataclass(frozen=True)
class CodeRow:
    """One code of a table, and what stands beside it."""

    code: Code
    status: int | None
    unit: str
    note: str


def is_row(line: str) -> bool:
    """Whether a line has cells."""
    return any(sign in line for sign in SEPARATORS)


def columns_of(line: str) -> dict[str, int]:
    """Which column holds what, by a line of headings; empty where it is none."""
    cells = _cells(line)
    found = {name: i for name, words in _COLUMNS.items() for i, c in enumerate(cells) if c in words}
    return found if "code" in found and len(found) > 1 else {}


def row_of(line: str, written: str, columns: Mapping[str, int]) -> CodeRow | None:
    """The one code of a row; None where none or several stand in it, so that it is read as words.

    ``line`` is ``written`` in capitals. A code as a number counts in the column that is headed so.
    """
    cells = _cells(line)
    at, found = _code_cell(cells, columns)
    if found is None or len(cells) < 2:
        return None
    known = {name: (i, cells[i]) for name, i in columns.items() if i < len(cells)}
    failure_at, failure = _byte(known.get("failure"))
    status_at, status = _byte(known.get("status"))
    unit_at, unit = known.get("unit", (-1, ""))
    used = {at, failure_at, status_at, unit_at}
    texts = _cells(written)
    note = ", ".join(c for i, c in enumerate(texts) if i not in used and c)
    own = found["failure"]
    code = _code(found, int(own, 16) if own else failure)
    return CodeRow(code, status, texts[unit_at] if unit and unit_at < len(texts) else "", note)


def _cells(line: str) -> list[str]:
    sign = next((s for s in SEPARATORS if s in line), ",")
    try:
        cells = next(csv.reader([line], delimiter=sign), [])
    except csv.Error:
        cells = line.split(sign)
    return [cell.strip() for cell in cells]


def _code_cell(cells: list[str], columns: Mapping[str, int]) -> tuple[int, re.Match[str] | None]:
    place = columns.get("code", -1)
    if 0 <= place < len(cells) and (number := _NUMBER.fullmatch(cells[place])):
        return place, number
    if 0 <= place < len(cells) and (text := _TEXT.fullmatch(cells[place])):
        return place, text
    found = [(i, match) for i, cell in enumerate(cells) if (match := _TEXT.fullmatch(cell))]
    # "P0301 pending, P0302": one cell is a code, another begins with one.
    alone = len(found) == 1 and sum(bool(_BEGINS.match(cell)) for cell in cells) == 1
    return found[0] if alone else (-1, None)


def _code(found: re.Match[str], failure: int | None) -> Code:
    if found.re is _NUMBER:
        return code_of(int(found["code"], 16), failure)
    return Code(found["code"], failure)


def _byte(cell: tuple[int, str] | None) -> tuple[int, int | None]:
    """Its column and value; -1 and None where no byte stands there."""
    found = _BYTE.fullmatch(cell[1]) if cell else None
    return (cell[0], int(found[1], 16)) if cell and found else (-1, None)
