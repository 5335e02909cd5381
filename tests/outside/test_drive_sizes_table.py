"""Drive sizes against ISO 4762, 7380-1, 10642, 4014, 10664, 14579 and DIN 931.

`data/drive_sizes.csv` names the source of each row. Rows of kind `known_error` are mistakes of open data that we must
not repeat.
"""

import pytest

from tests.outside.tables import rows_of
from witnessmark.fasteners import across_corners_mm, across_flats_mm, drives_of, read_thread
from witnessmark.fasteners.drives import STAR_FOR, STAR_MM

ROWS = rows_of("drive_sizes")
OLDER = "an older edition's B; the newer figure is asserted beside it"
DRIVER = "the driver, not the recess; we name sizes only"
LEFT_OUT = {
    f"hexalobular ISO 10664 (older edition data) {size} B {value}": OLDER
    for size, value in (("T20", "2.75"), ("T25", "3.16"), ("T30", "3.95"), ("T40", "4.76"), ("T45", "5.55"),
                        ("T55", "7.92"), ("T60", "9.48"))
} | {
    f"hexalobular_tool maker table (driver, not socket) {size} A_tool {value}": DRIVER
    for size, value in (("T45", "7.82"), ("T50", "8.83"))
}  # fmt: skip
STANDARD = {
    "ISO 4762 (DIN 912)": "ISO 4762", "ISO 7380-1 button head": "ISO 7380-1",
    "ISO 10642 (DIN 7991) countersunk": "ISO 10642", "ISO 4014 / ISO 4017": "ISO 4017", "DIN 931 / DIN 933": "DIN 933",
    "Japanese small-width practice (engine maker table)": "small hexagon", "ISO 14579 cylinder head": "ISO 14579",
    "pan head style (DIN 7985 / ISO 14583)": "pan head",
}  # fmt: skip


def name_of(row) -> str:
    return " ".join((row["kind"], row["standard"], row["size"], row["quantity"], row["value"]))


TESTED = [row for row in ROWS if name_of(row) not in LEFT_OUT]


def test_every_row_is_tested_or_left_out_with_its_reason():
    names = [name_of(row) for row in ROWS]
    assert len(set(names)) == len(ROWS)
    assert set(LEFT_OUT) <= set(names)
    assert (len(TESTED), len(LEFT_OUT)) == (70, 9)


@pytest.mark.parametrize("row", TESTED, ids=name_of)
def test_our_size_is_the_published_one(row):
    size, value = row["size"], row["value"]
    match row["kind"]:
        case "hex_socket" | "hex_head":
            assert across_flats_mm(STANDARD[row["standard"]], float(size[1:])) == float(value)
        case "hexalobular":
            assert STAR_MM[size]["AB".index(row["quantity"])] == float(value)
        case "hexalobular_not_in_iso":
            assert size not in STAR_MM
        case "hexalobular_pairing":
            standard = STANDARD[row["standard"]]
            assert STAR_FOR[standard][float(size[1:])] == value
            assert value in [d.size for d in drives_of(read_thread(size)) if d.standard == standard]
        case _:
            _not_repeated(row)


def _not_repeated(row):
    """M64 of ISO 4014 is 95 mm wide; a hexagon of 19 mm measures more than 21 mm over its corners."""
    if row["quantity"] == "s":
        assert across_flats_mm("ISO 4014", float(row["size"][1:])) == 95 != float(row["value"])
    else:
        width = across_flats_mm("DIN 933", float(row["size"][1:]))
        assert width == 19
        assert across_corners_mm(width) > 21 > float(row["value"])
