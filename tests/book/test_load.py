"""Books as they come: sound, malformed in either file of a chain, or not to be had at all."""

import pickle
import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.shipped_books.planned import archetype
from witnessmark.book import (
    BookErrors,
    canonical,
    document,
    from_canonical,
    load_book,
    load_book_text,
    vocabulary,
)
from witnessmark.book import load as books
from witnessmark.book.errors import MOST_TOLD

FAULTS = tomllib.loads((Path(__file__).parent / "faults.toml").read_text())["fault"]


def _line(text, found):
    """The number of the one line that ends with this text."""
    lines = [n for n, line in enumerate(text.splitlines(), 1) if line.endswith(found)]
    assert len(lines) == 1, f"{found!r} is on lines {lines}"
    return lines[0]


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault["name"])
def test_a_fault_is_told_with_the_file_and_line_that_made_it(chain, fault):
    """All that is wrong is told, each fault once, in the file at fault; nothing else is."""
    sound = (chain / fault["file"]).read_text()
    assert sound.count(fault["old"]) == 1
    (chain / fault["file"]).write_text(sound.replace(fault["old"], fault["new"]))
    with pytest.raises(BookErrors) as caught:
        load_book(chain / "t9.toml")
    expected = []
    for told in fault["told"]:
        line = _line((chain / told["at"]).read_text(), told["line"])
        colon = ":" if told["said"].startswith("not TOML") else ""
        expected.append(f"{chain / told['at']}:{line}{colon} {told['said']}")
    assert str(caught.value).splitlines() == expected


def test_faults_of_both_files_are_told_together(chain):
    """Fixing one line does not bring up the next: all are told at once, the extended file first."""
    for file, old, new in (
        ("shaft.toml", "minutes = 7.5", "minutes = -1"),
        ("shaft.toml", 'low = "tread_least"', 'low = "tread"'),
        ("t9.toml", 'maker = "Invented"', 'maker = ""'),
        ("t9.toml", "180 ml", "180 Nm"),
        ("t9.toml", "15 lbf·ft", "15"),
    ):
        (chain / file).write_text((chain / file).read_text().replace(old, new))
    with pytest.raises(BookErrors) as caught:
        load_book(chain / "t9.toml")
    told = [error.place.removeprefix(f"{chain}/").partition(" ") for error in caught.value.errors]
    assert [(file.split(":")[0], field) for file, _, field in told] == [
        ("shaft.toml", "access.wheel_on.minutes"),
        ("shaft.toml", "readings.tread.low"),
        ("t9.toml", "machine.maker"),
        ("t9.toml", "figures.fill_plug_torque.value"),
        ("t9.toml", "figures.drive_oil_volume.value"),
    ]


def test_errors_survive_pickling(chain):
    (chain / "t9.toml").write_text("format = 1\n")
    with pytest.raises(BookErrors) as caught:
        load_book(chain / "t9.toml")
    again = pickle.loads(pickle.dumps(caught.value))
    assert str(again) == str(caught.value)
    assert [e.as_dict() for e in again.errors] == [e.as_dict() for e in caught.value.errors]


@pytest.mark.parametrize("way_out", ["../shaft.toml", "/etc/base.toml", "link/shaft.toml"])
def test_a_book_extends_nothing_outside_its_folder(chain, way_out):
    """Neither upwards, nor by an absolute path, nor through a link."""
    folder = chain / "books"
    folder.mkdir()
    (folder / "link").symlink_to(chain)
    text = (chain / "t9.toml").read_text().replace('"shaft.toml"', f'"{way_out}"')
    (folder / "t9.toml").write_text(text)
    with pytest.raises(BookErrors) as caught:
        load_book(folder / "t9.toml")
    assert [error.problem for error in caught.value.errors] == [
        f'"{way_out}" lies outside the folder of the book'
    ]


def test_a_book_may_extend_one_in_a_folder_below(chain):
    (chain / "below").mkdir()
    (chain / "shaft.toml").rename(chain / "below" / "shaft.toml")
    text = (chain / "t9.toml").read_text()
    (chain / "t9.toml").write_text(text.replace('"shaft.toml"', '"below/shaft.toml"'))
    assert load_book(chain / "t9.toml").name == "t9"


def test_files_that_extend_each_other_in_a_ring_are_refused(chain):
    shaft = chain / "shaft.toml"
    shaft.write_text(shaft.read_text().replace("format = 1", 'format = 1\nextends = "t9.toml"'))
    with pytest.raises(BookErrors) as caught:
        load_book(chain / "t9.toml")
    (error,) = caught.value.errors
    assert (error.place, error.problem) == (f"{shaft}:2 extends", "it comes back to itself")


def test_a_chain_of_more_than_eight_files_is_refused(chain):
    head = 'format = 1\nname = "n{0}"\ntitle = "n"\narchetype = true\nextends = "n{1}.toml"\n'
    for n in range(8):
        (chain / f"n{n}.toml").write_text(head.format(n, n + 1))
    (chain / "n8.toml").write_text((chain / "shaft.toml").read_text())
    with pytest.raises(BookErrors, match="more than 8 files in a row"):
        load_book(chain / "n0.toml")
    assert load_book(chain / "n1.toml").name == "n1"


def test_a_pasted_text_may_extend_an_archetype_only():
    head = 'format = 1\nname = "p"\ntitle = "P"\narchetype = true\nextends = '
    assert load_book_text(head + '"shaft_drive_tourer"').jobs
    with pytest.raises(BookErrors) as caught:
        load_book_text(head + '"shaft.toml"')
    (error,) = caught.value.errors
    assert (error.place, error.problem) == (
        "pasted:5 extends",
        "a pasted book cannot extend a file",
    )


@pytest.mark.parametrize(
    ("content", "place", "problem"),
    [
        (b"format = 1\n\xff", ":2", "not UTF-8 text"),
        (b"a" * 2_000_001, ":1", "larger than 2000000 bytes"),
        (b"\na = " + b"[" * 9_000, ":2", "nested too deep"),
        (b".".join([b"a"] * 2_000) + b" = 1", ":1", "nested too deep"),
        (b"\na = " + b"9" * 5_000, ":2", "a number with too many digits"),
        (b"\n[jobs]\na = [" + b"1, " * 1_001 + b"]", ":3 jobs.a", "1001 entries"),
        (b"\na = " + b"[" * 12 + b"]" * 12, f":2 a{'[0]' * 11}", "tables more than 12 deep"),
    ],
    ids=[
        "not text",
        "too large",
        "lists without end",
        "keys without end",
        "digits without end",
        "a list too long",
        "lists too deep",
    ],
)
def test_what_is_no_book_at_all_is_refused(tmp_path, content, place, problem):
    (tmp_path / "no.toml").write_bytes(content)
    with pytest.raises(BookErrors) as caught:
        load_book(tmp_path / "no.toml")
    (error,) = caught.value.errors
    assert (error.place, error.problem) == (f"{tmp_path / 'no.toml'}{place}", problem)


def test_a_language_that_is_no_code_is_told_with_what_would_be_right(chain):
    text = (chain / "t9.toml").read_text() + '\n[translations.DE]\n"Drain" = "Ablassen"\n'
    (chain / "t9.toml").write_text(text)
    with pytest.raises(
        BookErrors, match="a language is its ISO 639 code in lower case, such as de"
    ):
        load_book(chain / "t9.toml")


def test_a_file_that_is_not_there_is_told():
    with pytest.raises(BookErrors, match=r"nowhere\.toml: cannot be read"):
        load_book(Path("nowhere.toml"))


def test_what_is_removed_and_given_anew_is_replaced_whole(chain):
    """Lists and values replace, tables merge; `remove` first makes room for a table of one's own."""
    text = (chain / "t9.toml").read_text()
    text = text.replace('look"]', 'look", "readings.magnet"]')
    text += """
[readings.magnet]
text = "Weight of what is on the magnet"
quantity = "mass"
"""
    (chain / "t9.toml").write_text(text)
    magnet = load_book(chain / "t9.toml").readings["magnet"]
    assert (magnet.quantity, magnet.choices, magnet.bad) == ("mass", [], [])


def test_what_each_document_says_for_itself_is_not_handed_down(t9, shaft):
    """A book that extends an archetype is none; `invented` is handed down, since figures are."""
    assert (shaft.archetype, t9.archetype) == (True, False)
    assert (t9.name, t9.title, t9.invented) == ("t9", "Invented T9", True)


def test_tables_come_in_the_order_of_their_keys(t9):
    """As from the pinned form, so that a plan is the same from either."""
    assert list(t9.access) == sorted(t9.access)
    assert list(t9.jobs["final_drive_oil"].operations) == ["crack", "drain", "fill", "level"]


JUNK = [
    '""',
    "[]",
    "{}",
    "-1",
    "nan",
    "true",
    '"all"',
    "2026-01-31",
    '[["x"]]',
    "{ a = 1 }",
    "9" * 30,
    '"as found"',
    '"/"',
]
BOOKS = Path(__file__).parent / "books"


def _spoilt(random, text):
    """The text with a line dropped, doubled elsewhere, given junk for its value, or a word of another line."""
    lines = text.splitlines()
    words = sorted(set(re.findall(r'"[^"]*"|\w+', text)))
    for _ in range(random.randint(1, 3)):
        place = random.randrange(len(lines))
        line, own = lines[place], re.findall(r'"[^"]*"|\w+', lines[place])
        match random.choice(["drop", "double", "junk", "word"] if own else ["drop"]):
            case "drop":
                del lines[place]
            case "double":
                lines.insert(random.randrange(len(lines)), line)
            case "junk":
                lines[place] = re.sub(r"= .*", "= " + random.choice(JUNK), line)
            case "word":
                lines[place] = line.replace(random.choice(own), random.choice(words), 1)
    return "\n".join(lines)


@given(st.randoms(use_true_random=False), st.sampled_from(["shaft.toml", "t9.toml"]))
def test_whatever_is_spoilt_the_answer_is_a_book_or_faults_with_lines(
    tmp_path_factory, random, file
):
    folder = tmp_path_factory.mktemp("spoilt", numbered=True)
    for name in ("shaft.toml", "t9.toml"):
        text = (BOOKS / name).read_text()
        (folder / name).write_text(_spoilt(random, text) if name == file else text)
    try:
        book = load_book(folder / "t9.toml")
    except BookErrors as errors:
        for error in errors.errors:
            name, line, *_ = re.split(r"[: ]", error.place.removeprefix(f"{folder}/"))
            lines = (folder / name).read_text().splitlines()
            assert 1 <= int(line) <= len(lines)
            assert error.problem
            assert error.expected
    else:
        assert from_canonical(canonical(book)) == book


def test_of_more_faults_than_anybody_reads_the_first_hundred_are_told():
    """Each with what was meant, among a thousand declared names alike: no search without end."""
    head = 'format = 1\nname = "p"\ntitle = "P"\narchetype = true\n'
    declared = "".join(f'[fasteners.bolt_{n}]\ntext = "b"\ngrade = "counted"\n' for n in range(990))
    names = ", ".join(f'"bolt{n}"' for n in range(1000))
    job = f'[jobs.a]\ntext = "a"\n[jobs.a.operations.b]\ntext = "b"\nminutes = 1\nloosens = [{names}]\n'
    with pytest.raises(BookErrors) as caught:
        load_book_text(head + declared + job)
    errors = caught.value.errors
    assert len(errors) == MOST_TOLD
    assert errors[7].expected == 'did you mean "bolt_7"?'
    assert str(caught.value).endswith("there may be more: mend these first")


def test_what_two_documents_extend_lies_once_below_both(chain):
    """Laid anew over the first of the two, it would undo what that one changed."""
    head = 'format = 1\nname = "{0}"\ntitle = "{0}"\narchetype = true\nextends = {1}\n'
    base = 'format = 1\nname = "base"\ntitle = "base"\narchetype = true\n[tools]\n'
    (chain / "base.toml").write_text(base + 'one = { text = "One" }\ntwo = { text = "Two" }\n')
    (chain / "left.toml").write_text(
        head.format("left", '"base.toml"') + '[tools]\none = { text = "Left" }\n'
    )
    (chain / "right.toml").write_text(
        head.format("right", '"base.toml"') + '[tools]\ntwo = { text = "Right" }\n'
    )
    (chain / "both.toml").write_text(head.format("both", '["left.toml", "right.toml"]'))
    tools = load_book(chain / "both.toml").tools
    assert {name: tool.text for name, tool in tools.items()} == {"one": "Left", "two": "Right"}


def test_a_sound_book_is_put_together_without_a_look_at_any_line(monkeypatch):
    def nobody_asked(text):
        raise AssertionError("lines were looked up")

    books._sound.cache_clear()
    document.parsed.cache_clear()
    vocabulary.block.cache_clear()
    monkeypatch.setattr(document, "lines_of", nobody_asked)
    for name in ("naked_four", "faired_tourer", "shaft_drive_tourer"):
        assert archetype(name).jobs


def test_a_text_is_read_again_where_it_or_what_it_extends_has_changed(tmp_path):
    base, book = tmp_path / "base.toml", tmp_path / "book.toml"
    base.write_text('format = 1\nname = "base"\ntitle = "Base"\narchetype = true\n')
    book.write_text(
        'format = 1\nname = "one"\ntitle = "One"\narchetype = true\nextends = "base.toml"\n'
    )
    assert load_book(book) is load_book(book)
    base.write_text(base.read_text() + '[cautions.lift]\ntext = "Strap it down"\n')
    assert load_book(book).cautions["lift"].text == "Strap it down"
