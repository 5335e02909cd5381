"""Laying one document over another."""

import copy

from hypothesis import given
from hypothesis import strategies as st

from witnessmark.book.merge import Layers, Origin, laid_over, merged, removed

LEAVES = st.integers() | st.text(max_size=3) | st.lists(st.integers(), max_size=2)
TABLES = st.recursive(
    LEAVES, lambda inner: st.dictionaries(st.sampled_from("abcd"), inner, max_size=4), max_leaves=12
).filter(lambda value: isinstance(value, dict))


def _split(draw, whole):
    """Two documents that together say `whole`: each part in one of them, or anew in the second."""
    base, over = {}, {}
    for key, value in whole.items():
        where = draw(st.sampled_from(["base", "over", "both"]))
        if isinstance(value, dict) and where == "both":
            base[key], over[key] = _split(draw, value)
        elif where == "base":
            base[key] = value
        else:
            over[key] = value
            if where == "both":
                base[key] = draw(LEAVES | TABLES if not isinstance(value, dict) else LEAVES)
    return base, over


@given(st.data(), TABLES)
def test_however_a_document_is_split_over_two_the_whole_is_the_same(data, whole):
    """A table that only the first has is kept; what both say, the second decides."""
    base, over = _split(data.draw, whole)
    before = copy.deepcopy((base, over))
    assert merged(base, over) == whole
    assert (base, over) == before


@given(TABLES)
def test_nothing_changes_a_document_that_nothing_is_laid_over(whole):
    assert merged(whole, {}) == merged({}, whole) == merged(whole, whole) == whole


def _paths(value, path=()):
    yield path
    parts = value.items() if isinstance(value, dict) else ()
    for key, inner in parts:
        yield from _paths(inner, (*path, key))


@given(TABLES, TABLES)
def test_each_thing_is_known_to_come_from_the_document_that_said_it_last(base, over):
    said = {path: Origin("base", 1) for path in _paths(base)}
    layers = laid_over(
        Layers(base, said, {}), over, {path: Origin("over", 1) for path in _paths(over)}
    )
    assert set(layers.said) == set(_paths(layers.data))
    for path, origin in layers.said.items():
        assert (origin.file == "over") == (path in set(_paths(over)))


@given(st.data(), TABLES.filter(bool))
def test_what_is_removed_is_gone_and_nothing_else_is(data, whole):
    path = data.draw(st.sampled_from([p for p in _paths(whole) if p]))
    said = {there: Origin("base", 1) for there in _paths(whole)}
    layers = removed(Layers(whole, said, {}), path, Origin("over", 2))
    left = {there for there in _paths(whole) if there[: len(path)] != path}
    assert set(_paths(layers.data)) == set(layers.said) == left
