"""The page on the service book is whole, and its examples are sound."""

import re
import tomllib
from pathlib import Path
from typing import Literal, get_args, get_origin

import pytest
from pydantic import BaseModel

from witnessmark.book import archetypes, load_book_text, model, selection, vocabulary
from witnessmark.book.figures import figures_missing

ARCHETYPES = (Path(__file__).parents[2] / "docs" / "archetypes.md").read_text()
PAGE = (Path(__file__).parents[2] / "docs" / "service-book.md").read_text()


def example(name):
    found = re.search(rf"<!-- example: {name} -->\n *```toml\n(.*?)```", PAGE, re.DOTALL)
    assert found, name
    return found[1]


def models():
    return [
        thing
        for thing in vars(model).values()
        if isinstance(thing, type) and issubclass(thing, BaseModel) and thing.model_fields
    ]


@pytest.mark.parametrize("table", models(), ids=lambda table: table.__name__)
def test_every_key_of_the_format_is_described(table):
    written = set(
        re.findall(r"`(\w+)[`. ]|^(\w+) = |[{,] (\w+) = |^\[(\w+)|`\[(\w+)", PAGE, re.MULTILINE)
    )
    assert table.model_fields.keys() - {key for keys in written for key in keys} == set()


def choices(annotation):
    if get_origin(annotation) is Literal:
        return {word for word in get_args(annotation) if isinstance(word, str)}
    return {word for inner in get_args(annotation) for word in choices(inner)}


def test_every_choice_of_the_format_is_described():
    fields = [field for table in models() for field in table.model_fields.values()]
    words = {word for field in fields for word in choices(field.annotation)}
    assert {"torque", "starter", "star", "gear oil", "top up", "by table"} <= words
    assert {word for word in words if f'"{word}"' not in PAGE and f"`{word}`" not in PAGE} == set()


def test_the_whole_book_is_sound_and_lacks_what_the_page_says():
    book = load_book_text(example("a whole book"))
    missing = figures_missing(book, selection(book, ["annual"]))
    assert [use.id for use in missing] == ["oil_distance"]


def test_the_added_job_fits_the_book():
    book = load_book_text(example("a whole book") + example("a job added"))
    assert selection(book, ["fuel_filter"]) == ["fuel_filter"]


def test_archetypes_and_names_on_the_page_exist():
    named = set(re.findall(r'(?:extends = "|--extends |show )(\w+_\w+)\b(?!\.toml)', PAGE))
    assert named
    assert named <= set(archetypes())


def test_a_figure_the_manual_does_not_give_is_left_out():
    head = 'format = 1\nname = "m"\ntitle = "M"\nextends = "shaft_drive_tourer"\n'
    machine = '[machine]\nmaker = "M"\nmodel = "1"\n'
    book = load_book_text(head + example("what the manual does not give") + machine)
    assert book.fasteners["oil_filter"].figure is None
    assert "oil_filter_torque" not in book.figures
    assert book.jobs["battery_change"].every_time is None


def block_rows():
    """The table of blocks as it should be: each with the slots it serves, its options and its own jobs."""
    serves = {}
    for slot in vocabulary.slots().values():
        for file in slot.blocks.values():
            serves.setdefault(file, []).append(slot.name)
    for file, slots in serves.items():
        block = tomllib.loads(file.read_text(encoding="utf-8"))
        over = f", over `{block['extends']}`" if "extends" in block else ""
        options = ", ".join(f"`{name}`" for name in block.get("option", {}))
        jobs = ", ".join(f"`{name}`" for name in sorted(set(jobs_in(block))))
        named = ", ".join(f"`{name}`" for name in slots)
        yield f"| {named} | `{file.stem}`{over} | {options} | {jobs} |"


def jobs_in(table):
    yield from table.get("jobs", {})
    for kind in ("when", "with"):
        for ways in table.get(kind, {}).values():
            for more in ways.values():
                yield from jobs_in(more)


def test_the_table_of_blocks_is_true():
    rows = list(block_rows())
    assert [row for row in rows if row not in ARCHETYPES] == []
    table = ARCHETYPES.partition("| slots |")[2].partition("\n\n")[0]
    assert table.count("\n| `") == len(rows)
