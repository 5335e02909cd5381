"""The planner's figures, in one run: `python -m benchmarks [--seconds S] [PART …]`.

Parts: attended, finish, two, again, scheduling, boards, books. Without names all of them, some twenty
minutes. Processor seconds; ratios are of this run.
"""

from __future__ import annotations

import argparse

from benchmarks import boards, books, ourselves, outside, scheduling

PARTS = ("attended", "finish", "two", "again", "scheduling", "boards", "books")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("parts", nargs="*", metavar="PART", help=", ".join(PARTS))
    parser.add_argument(
        "--seconds", type=float, default=20, help="for each call of another planner"
    )
    asked = parser.parse_args()
    unknown = set(asked.parts) - set(PARTS)
    if unknown:
        parser.error(f"no part {', '.join(sorted(unknown))}; there are {', '.join(PARTS)}")
    parts = {
        "attended": lambda: outside.attended(asked.seconds),
        "finish": lambda: outside.finish(asked.seconds),
        "two": ourselves.two,
        "again": ourselves.again,
        "scheduling": scheduling.main,
        "boards": boards.main,
        "books": books.main,
    }
    for name in asked.parts or PARTS:
        parts[name]()


if __name__ == "__main__":
    main()
