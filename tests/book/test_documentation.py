"""The page on the service book is whole, and its examples are sound."""

import re
import shutil
import tomllib
from pathlib import Path
from typing import Literal, get_args, get_origin

import pytest
from pydantic import BaseModel

from witnessmark.book import (
    BookErrors,
    archetypes,
    compose,
    load_book,
    load_book_text,
    model,
    selection,
    system,
    vocabulary,
)
from witnessmark.book.figures import figures_missing

DOCS = Path(__file__).parents[2] / "docs"
ARCHETYPES = (DOCS / "archetypes.md").read_text()
PAGE, BLOCKS = (DOCS / "service-book.md").read_text(), (DOCS / "blocks.md").read_text()


def example(name, page=PAGE):
    found = re.search(rf"<!-- example: {name} -->\n *```toml\n(.*?)```", page, re.DOTALL)
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
    named = set(re.findall(r'(?:extends = "|--extends |--from |show )(\w+_\w+)\b(?!\.toml)', PAGE))
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


def archetype_rows():
    """The table of archetypes put together from blocks, as it should be."""
    for name, path in archetypes().items():
        book = load_book(path)
        operations = sum(len(job.operations) for job in book.jobs.values())
        counts = (len(book.jobs), operations, len(book.access), len(book.figures))
        if book.build:
            yield f"| `{name}` | {' | '.join(map(str, counts))} |"


def test_the_table_of_archetypes_is_true():
    rows = list(archetype_rows())
    assert rows
    assert [row for row in rows if row not in ARCHETYPES] == []


def test_the_table_of_blocks_is_true():
    rows = list(block_rows())
    assert [row for row in rows if row not in ARCHETYPES] == []
    table = ARCHETYPES.partition("| slots |")[2].partition("\n\n")[0]
    assert table.count("\n| `") == len(rows)


def test_the_build_is_a_sound_book_that_says_what_is_not_known():
    book = load_book_text(example("a build"))
    assert book.build["gearbox"] == {"is": "not known"}
    assert "clip" in book.jobs["chain_kit"].operations["fit_chain"].text


@pytest.fixture
def with_the_block_of_the_page(tmp_path, monkeypatch):
    """The blocks there are, and the example in a slot of its own."""
    folder = tmp_path / "blocks"
    shutil.copytree(system.blocks_folder(), folder)
    (folder / "oiler").mkdir()
    (folder / "oiler" / "chain_oiler.toml").write_text(example("a block", BLOCKS))
    words = folder / "vocabulary.toml"
    words.write_text(words.read_text() + '\n[slots.oiler]\ntext = "Chain oiler"\n')
    monkeypatch.setattr(vocabulary, "blocks_folder", lambda: folder)
    cached = (vocabulary._vocabulary, vocabulary.slots, vocabulary.block)
    for one in cached:
        one.cache_clear()
    yield
    for one in cached:
        one.cache_clear()


def test_the_block_of_the_page_goes_into_a_book(with_the_block_of_the_page):
    head = (
        'format = 1\nname = "m"\ntitle = "M"\narchetype = true\nextends = "naked_four"\n[build]\n'
    )
    book = load_book_text(head + 'oiler = { is = "chain_oiler", fed = "gravity" }\n')
    fill = book.jobs["chain_oiler"].operations["fill"]
    assert (fill.does[0], fill.after, fill.needs["seat"]) == (
        "Open the tap",
        ["chain/oil"],
        ["off"],
    )
    assert "chain_oiler" in book.services["annual"].jobs
    with pytest.raises(BookErrors) as refused:
        load_book_text(head + 'oiler = "chain_oiler"\nfinal_drive = "shaft"\n')
    assert 'Final drive "shaft" does not go with chain oiler "chain_oiler"' in str(refused.value)


def test_every_key_of_a_block_and_of_the_vocabulary_is_described():
    keys = {
        *compose.HEAD,
        *(key for slot in vocabulary._vocabulary()["slots"].values() for key in slot),
    }
    keys |= {key for one in vocabulary._vocabulary()["conditions"].values() for key in one}
    assert {key for key in keys if not re.search(rf"[`\[]{key}\b", BLOCKS)} == set()
