"""No row of a published table is forgotten: each is tested, or left out with a reason, and counted here.

A table's module has its rows in ROWS and those left out, by key, in LEFT_OUT; a table that several
modules share is the sum of their rows. How each row is held against ours stands in those modules.
"""

import importlib
from collections import Counter

import pytest

from tests.outside.tables import DATA, rows_of

# Table, the modules that hold it, its rows, and how many of them are left out with a reason.
TABLES = [
    ("calendar", ["calendar_table"], 78, 53),
    ("drive_sizes", ["drive_sizes_table"], 79, 9),
    ("fasteners", ["fasteners_table"], 154, 5),
    ("fluids", ["fluids_table"], 251, 38),
    ("money", ["money_table"], 72, 2),
    ("statistics", ["statistics_table"], 155, 155),
    ("torque_tools", ["torque_tools_table"], 48, 4),
    ("trouble_codes", ["trouble_codes_table"], 65, 0),
    ("tyres", ["tyres_table"], 110, 2),
    ("units", ["units_table"], 45, 0),
    ("vin", ["vin_table"], 91, 1),
    (
        "wear",
        ["wear_of_batteries_and_brakes", "wear_of_chains_and_tyres", "wear_of_shims"],
        190,
        24,
    ),
]
LIBRARIES = {"threads"}  # what a general library computes, see test_threads_by_library


def counted(rows):
    return Counter(tuple(row.values()) for row in rows)


def modules(names):
    return [importlib.import_module(f"tests.outside.test_{name}") for name in names]


def claimed(module):
    """The rows a module answers for, once each, whatever lists it keeps them in."""
    return counted([*module.ROWS, *getattr(module, "SLIPS", [])])


@pytest.mark.parametrize(("table", "names", "count", "left_out"), TABLES, ids=str)
def test_every_row_of_a_table_is_answered_for_once(table, names, count, left_out):
    """By one module, and as many are left out as are counted here, each with a reason."""
    every, held = counted(rows_of(table)), modules(names)
    assert sum((claimed(module) for module in held), Counter()) == every
    reasons = [reason for m in held for reason in getattr(m, "LEFT_OUT", {}).values()]
    assert all(reasons)
    assert (sum(every.values()), len(reasons)) == (count, left_out)


def test_every_table_is_counted_and_the_sum_of_all_rows_is_known():
    """A table that is added to the folder, or a row, changes a number here."""
    assert {path.stem for path in DATA.glob("*.csv")} - LIBRARIES == {table for table, *_ in TABLES}
    rows, left_out = sum(t[2] for t in TABLES), sum(t[3] for t in TABLES)
    assert (rows - left_out, left_out, rows) == (1045, 293, 1338)
