"""Loading a service book: every archetype cold and warm, beside reading the same TOML alone.

    python -m benchmarks.loading

Processor milliseconds of one process, the least of several. ``cold``: nothing is kept of what was read before;
``warm``: once more; ``toml``: `tomllib` reads the texts of the document and of its blocks, and does nothing with them.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path

from benchmarks.stopwatch import timed
from witnessmark.book import archetypes, deadlocks, document, load, load_book, vocabulary

TIMES = 4
ROW = "{:<20} {:>5} {:>8} {:>8} {:>8} {:>9}"
READERS = (document, vocabulary, load, deadlocks)  # they keep what they have read


def main() -> None:
    """Print the table."""
    print("\nLoading a service book: processor ms")
    print(ROW.format("archetype", "jobs", "cold", "warm", "toml", "cold/toml"))
    for name, path in archetypes().items():
        print(row(name, path), flush=True)


def row(name: str, path: Path) -> str:
    """One line of the table."""
    texts = [file.read_text(encoding="utf-8") for file in documents(path)]
    cold, warm, toml = [], [], []
    for _ in range(TIMES):
        forget()
        cold.append(cost(lambda: load_book(path)))
        warm.append(cost(lambda: load_book(path)))
        toml.append(cost(lambda: [tomllib.loads(text) for text in texts]))
    ratio = f"{min(cold) / min(toml):.1f}"
    return ROW.format(
        name, len(load_book(path).jobs), f"{min(cold):.0f}", f"{min(warm):.2f}", f"{min(toml):.0f}", ratio
    )  # fmt: skip


def documents(path: Path) -> set[Path]:
    """The files that a book is put together from: its own, the blocks of its build, and what all of these share."""
    build = load_book(path).build
    blocks = [vocabulary.block(slot, one["is"]) for slot, one in build.items()]
    files = {document.file for block in blocks for document in block.documents if document.file}
    return {path, *files, *({vocabulary.blocks_folder() / "vocabulary.toml"} if build else ())}


def cost(what: Callable[[], object]) -> float:
    """Processor milliseconds."""
    return 1000 * timed(what)[1]


def forget() -> None:
    """Nothing is kept of what was read before."""
    for module in READERS:
        for one in vars(module).values():
            if hasattr(one, "cache_clear"):
                one.cache_clear()


if __name__ == "__main__":
    main()
