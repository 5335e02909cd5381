"""Make `data/threads.csv` again from a general library of threads and fasteners, where it is installed:

``pip install --no-deps bd_warehouse==VERSION && python tests/outside/remake_threads.py``

It is not among the test dependencies: it builds on a whole CAD kernel. Only its tables are read.
"""

import csv
import importlib.metadata
import importlib.util
import sys
from pathlib import Path

SOCKET = "socket_head_cap_parameters.csv"
HEADS = "hex_head_parameters.csv"
BUTTON, COUNTERSUNK = "button_head_parameters.csv", "countersunk_head_parameters.csv"
CHEESE, PAN = "cheese_head_parameters.csv", "pan_head_parameters.csv"


def tables() -> Path:
    found = importlib.util.find_spec("bd_warehouse")
    assert found is not None
    assert found.submodule_search_locations
    return Path(found.submodule_search_locations[0]) / "data"


def column(file: str, name: str, kind: str) -> list[tuple[str, str, str]]:
    with (tables() / file).open(encoding="utf-8") as text:
        rows = [{k.strip(): v.strip() for k, v in row.items()} for row in csv.DictReader(text)]
    sized = [(row.get("Size") or row.get("", ""), row.get(name)) for row in rows]
    return [(kind, size, said) for size, said in sized if size[:1] in {"M", "T"} and said]


def main() -> None:
    version = importlib.metadata.version("bd_warehouse")
    rows = [
        *column("tap_hole_sizes.csv", "Soft", "tap drill"),
        *column("clearance_hole_sizes.csv", "Normal", "clearance hole"),
        *column(SOCKET, "iso4762:s", "ISO 4762"),
        *column(HEADS, "iso4014:s", "ISO 4014"),
        *column(HEADS, "din931:s", "DIN 931"),
        *column(BUTTON, "iso7380_1:s", "ISO 7380-1"),
        *column(COUNTERSUNK, "iso10642:s", "ISO 10642"),
        *column(CHEESE, "iso14580:recess", "star of ISO 14580"),
        *column(PAN, "iso14583:recess", "star of ISO 14583"),
        *column("iso10664def.csv", "A", "star A"),
        *column("iso10664def.csv", "B", "star B"),
    ]
    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow(("kind", "size", f"bd_warehouse {version}"))
    out.writerows(rows)


if __name__ == "__main__":
    main()
