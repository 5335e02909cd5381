"""Where things stand in a TOML text, against texts that were written down line by line."""

import json
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.book.positions import lines_of

KEYS = st.sampled_from(["a", "b-c", "d_1", "3", "e f", "ü", "x.y", 'say "so"'])
VALUES = st.recursive(
    st.integers() | st.booleans() | st.text(st.characters(codec="utf-8"), max_size=6),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3),
    max_leaves=8,
)
TABLES = st.dictionaries(KEYS, VALUES, max_size=4)


def _text(value):
    """A plain value as TOML: JSON writes it alike, but for one control character."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


class Writer:
    """Writes TOML in a style that is drawn, and notes the line on which it puts each key."""

    def __init__(self, draw):
        self.draw, self.text, self.lines = draw, "", {(): 1}

    def style(self, *choices):
        return self.draw(st.sampled_from(choices))

    def put(self, text):
        self.text += text

    def note(self, path):
        self.lines.setdefault(path, self.text.count("\n") + 1)

    def key(self, key):
        bare = key.isascii() and key.replace("-", "").replace("_", "").isalnum()
        quoted = json.dumps(key, ensure_ascii=self.style(True, False))
        self.put(self.style(key, quoted) if bare else quoted)

    def space(self):
        self.put(self.style("", " ", "\t"))

    def break_line(self):
        self.put(self.style("", " ", "\n", "  # [no] = {table}\n\n", "\n# 'a' = [\n"))

    def table(self, path, table):
        """Plain pairs first, then tables under headers of their own, or dotted, or inline."""
        headed = {}
        for key, value in table.items():
            if isinstance(value, dict) and value and self.style(True, False):
                headed[key] = value
            else:
                self.pair(path, (key,), value)
                self.put(self.style("\n", " # end\n", "\n\n"))
        for key, value in headed.items():
            self.put("[")
            for place, part in enumerate((*path, key)):
                self.put("." if place else "")
                self.note((*path, key)[: place + 1])
                self.key(part)
            self.lines[*path, key] = self.text.count("\n") + 1
            self.put(self.style("]\n", "] # head\n"))
            self.table((*path, key), value)

    def pair(self, path, keys, value):
        if isinstance(value, dict) and len(value) == 1 and self.style(True, False):
            ((key, inner),) = value.items()
            self.pair(path, (*keys, key), inner)
            return
        for place, key in enumerate(keys):
            self.put(self.style(".", " . ") if place else "")
            self.note((*path, *keys[: place + 1]))
            self.key(key)
        self.space()
        self.put("=")
        self.space()
        self.value((*path, *keys), value)

    def value(self, path, value):
        if isinstance(value, dict):
            self.put("{")
            for place, (key, inner) in enumerate(value.items()):
                self.put(", " if place else " ")
                self.pair(path, (key,), inner)
            self.put("}")
        elif isinstance(value, list):
            self.put("[")
            for place, inner in enumerate(value):
                self.break_line()
                self.note((*path, place))
                self.value((*path, place), inner)
                self.break_line()
                self.put(",")
            self.break_line()
            self.put("]")
        elif isinstance(value, str) and self.style(True, False):
            self.put('"""\n' + _text(value)[1:-1] + '\\\n  """')
        else:
            self.put(_text(value))


@given(st.data(), TABLES)
def test_every_key_and_entry_stands_on_the_line_it_was_written_on(data, table):
    writer = Writer(data.draw)
    writer.table((), table)
    assert tomllib.loads(writer.text) == table
    assert lines_of(writer.text) == writer.lines


def test_arrays_of_tables_count_their_entries():
    text = """\
[[job]]
name = 1
[job.part]
n = 2
[[job.step]]
n = 3
[[job.step]]
n = 4
[[job]]
[[job.step]]
n = 5
"""
    found = lines_of(text)
    assert found["job",] == found["job", 0] == 1
    assert (found["job", 0, "name"], found["job", 0, "part", "n"]) == (2, 4)
    assert (found["job", 0, "step", 0, "n"], found["job", 0, "step", 1, "n"]) == (6, 8)
    assert (found["job", 1], found["job", 1, "step", 0, "n"]) == (9, 11)


@pytest.mark.parametrize(
    ("text", "line"),
    [("[a]\n[a.b]\nx = 1", 1), ("[a.b]\nx = 1\n[a]", 3), ("[a.b]\nx = 1", 1)],
    ids=["first", "behind its own table", "only mentioned"],
)
def test_a_table_stands_where_its_own_header_is(text, line):
    assert lines_of(text)["a",] == line
