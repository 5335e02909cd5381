"""Every figure of the core says beside it where it comes from.

Beside: in the same statement, in the comment on or directly above it, or in the text directly below. There stands a
standard or a law, a name that holds one, or one of the words of `MARKS`.
"""

import ast
import re
from pathlib import Path

import pytest

SRC = Path(__file__).parents[2] / "src" / "witnessmark"
CORE = ("calculators", "decode", "due", "facts", "fasteners", "fluids", "shims", "wrenches")
MARKS = (
    "common practice, no source",
    "from memory",
    "judged by us",
    "by definition",
    "plain arithmetic",
    "the same",  # as the figure above
    "for the program",  # a length of texts, a size in a picture: nothing of a machine
)
PUBLISHED = re.compile(
    r"\b(?:ISO|DIN|EN|IEC|SAE|ASME|ASTM|VDI|FMVSS|CFR|JASO|ANSI|NLGI|ASHRAE|BCI|CGPM|FAA|WGS|StVZO|LR903|"
    r"UN Regulation|Handbook|manual)\b"
)
FILES = sorted(
    file
    for package in CORE
    for file in (SRC / package).rglob("*.py")
    if not file.stem.endswith("_pictures")
)
DECIDES_NOTHING = {0, 1, -1}


def figures(tree):
    """The statements, of the module or of a class, that give a name a figure."""
    for holder in [tree, *(node for node in tree.body if isinstance(node, ast.ClassDef))]:
        for place, node in enumerate(holder.body):
            if (
                isinstance(node, ast.Assign | ast.AnnAssign)
                and node.value is not None
                and _decides(node.value)
            ):
                below = holder.body[place + 1] if place + 1 < len(holder.body) else None
                yield node, below


def _decides(value):
    call = ast.unparse(value.func) if isinstance(value, ast.Call) else ""
    if call == "re.compile" or any(
        isinstance(one, ast.Name) and one.id == "Asked" for one in ast.walk(value)
    ):
        return False
    numbers = [
        one.value
        for one in ast.walk(value)
        if isinstance(one, ast.Constant) and type(one.value) in (int, float)
    ]
    return any(number not in DECIDES_NOTHING for number in numbers)


def beside(node, below, lines):
    first = node.lineno - 1
    while first and lines[first - 1].strip().startswith("#"):
        first -= 1
    last = node.end_lineno
    if (
        isinstance(below, ast.Expr)
        and isinstance(below.value, ast.Constant)
        and isinstance(below.value.value, str)
    ):
        last = below.end_lineno
    return " ".join(lines[first:last]).replace("\n", " ")


def told(text, named):
    text = " ".join(text.replace("#", " ").split())
    if PUBLISHED.search(text) or any(mark in text.casefold() for mark in MARKS):
        return True
    return any(name in named for name in re.findall(r"[A-Za-z_]\w*", text))


def sources(tree):
    """Names of the module that hold a source as text, and of figures told already."""
    return {
        target.id
        for node in tree.body
        if isinstance(node, ast.Assign)
        for target in node.targets
        if isinstance(target, ast.Name)
        and PUBLISHED.search(ast.unparse(node.value))
        and isinstance(node.value, ast.Constant | ast.JoinedStr | ast.BinOp)
    }


def unsaid(text):
    tree, lines = ast.parse(text), text.splitlines()
    named = sources(tree)
    return [
        f"line {node.lineno}: {ast.unparse(node)[:70]}"
        for node, below in figures(tree)
        if not told(beside(node, below, lines), named)
    ]


@pytest.mark.parametrize("file", FILES, ids=lambda file: str(file.relative_to(SRC)))
def test_every_figure_names_its_source_or_says_that_it_has_none(file):
    assert unsaid(file.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    ("text", "missing"),
    [
        ("LEAST = 4.2\n", 1),
        ("LEAST = 4.2  # a bolt of ours\n", 1),
        ("LEAST = 4.2  # judged by us\n", 0),
        ("# ISO 898-1 Table 3\nLEAST = 4.2\nMOST = 5.0\n", 1),
        ('LEAST = 4.2\n"""What a disc has. From memory."""\n', 0),
        ('_VDI = "VDI 2230-1"\nLEAST = (4.2, _VDI)\n', 0),
        ("class Shelf:\n    step: float = 0.025\n", 1),
        ("NONE, ONE = 0, 1.0\n", 0),
    ],
)
def test_a_figure_without_a_word_is_seen(text, missing):
    assert len(unsaid(text)) == missing
