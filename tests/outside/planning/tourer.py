"""The service book's own cases: jobs of the shaft-drive tourer as the planner gets them."""

from typing import NamedTuple

from tests.outside.planning import classical
from tests.shipped_books.planned import archetype
from witnessmark.book.select import selection
from witnessmark.planner import Problem, compile_problem

BOOK = "shaft_drive_tourer"


class Case(NamedTuple):
    """Services or jobs taken on together, and the planner that can prove their optimum."""

    names: tuple[str, ...]
    engine: str


CASES = {
    "oil service": Case(("oil",), classical.FAST_DOWNWARD),
    "brakes": Case(("brakes",), classical.FAST_DOWNWARD),
    "rear tyre, pads and final drive oil": Case(("rear_end",), classical.FAST_DOWNWARD),
    "battery, tyres and a look over": Case(("battery", "tyres", "look_over"), classical.SYMK),
}


def problem(case: str) -> Problem:
    """The compiled problem of one of the cases."""
    book = archetype(BOOK)
    return compile_problem(book, selection(book, CASES[case].names))
