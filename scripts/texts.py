"""List every text a person can see, as `file:line  translated  text`; `--open` only those that are not translated.

    python scripts/texts.py [--open] [FOLDER …]

Templates: what stands between tags, in the attributes that are read out or shown, and in quotes inside of template
tags. Python: every literal that reads like words, apart from documentation, logs, patterns and queries. A text counts
as translated where it stands in `{% translate %}`, `{% blocktranslate %}`, `gettext` (`_`) or `noop`. A value in a
text is shown as `{name}`.
"""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
SOURCE = ROOT / "src/witnessmark"

TEMPLATE_TAG = re.compile(r"\{%.*?%\}|\{\{.*?\}\}|\{#.*?#\}", re.DOTALL)
SENTENCE = re.compile(
    r"\{% blocktranslate\b[^%]*%\}(.*?)\{% endblocktranslate %\}", re.DOTALL
)  # as a whole: it may hold marks of HTML
HTML_TAG = re.compile(r"<[^<>]*>|&\w+;")
SHOWN_ATTRIBUTES = re.compile(r"\b(?:aria-label|alt|placeholder|title|data-\w+-words)=\"([^\"]*)\"")
QUOTED = re.compile(r"(?P<translated>_\()?\"(?P<text>[^\"]*)\"")
HOLDS_WORDS = re.compile(r"(?:include|part|thread)\b|.*\bdefault")  # tags whose quotes are shown
WORDS = re.compile(r"[A-Za-z’]{2}[,:;.]? \w|\w [A-Za-z]{2}|^[A-Z][a-z]+[.?!…]?$")
NO_WORDS = re.compile(  # patterns, queries, paths, code
    r"[\\<>=$]|^\s*(?:select|insert|update|delete|create) |\w/\w+/|\w\(\)", re.IGNORECASE
)
MARK = "\ue000"  # stands for a template tag

TRANSLATES = {"_", "gettext", "gettext_lazy", "ngettext", "ngettext_lazy", "pgettext", "noop"}
NOT_SHOWN = {  # what is called with words that no person reads on a page or paper
    "re", "log", "logger", "TypeVar", "execute", "filter", "exclude", "order_by", "values_list", "values", "getattr",
    "split", "strptime", "strftime", "RunSQL", "only", "select_related", "prefetch_related", "cursor",
}  # fmt: skip
NAMES_OF_TEXTS = {"label", "help_text", "title", "text", "words", "verbose_name", "empty_label"}


@dataclass(frozen=True)
class Text:
    """One text, where it stands, and whether translation reaches it."""

    path: Path
    line: int
    translated: bool
    words: str

    def __str__(self) -> str:
        said = "yes" if self.translated else "no "
        return f"{self.path.relative_to(ROOT)}:{self.line}  {said}  {self.words}"


def of_template(path: Path) -> Iterator[Text]:
    """The texts of one template."""
    source = path.read_text(encoding="utf-8")

    def at(position: int) -> int:
        return source.count("\n", 0, position) + 1

    for found in SENTENCE.finditer(source):
        yield Text(path, at(found.start()), translated=True, words=_plain(found[1]))
    rest = SENTENCE.sub(_blanked, source)
    for found in TEMPLATE_TAG.finditer(rest):
        for translated, words in _in_tag(found.group()[2:-2].strip()):
            yield Text(path, at(found.start()), translated, words)
    rest = TEMPLATE_TAG.sub(_blanked, rest)
    for found in SHOWN_ATTRIBUTES.finditer(rest):
        yield from _between(path, at(found.start(1)), found[1])
    begin = 0
    for found in HTML_TAG.finditer(rest + "<>"):
        yield from _between(path, at(begin), rest[begin : found.start()])
        begin = found.end()


def _in_tag(inside: str) -> Iterator[tuple[bool, str]]:
    """The quoted texts of a template tag, and whether they are translated."""
    if inside.startswith("translate "):
        yield True, inside.split(maxsplit=1)[1].strip("\"'")
    elif HOLDS_WORDS.match(inside):
        for quoted in QUOTED.finditer(inside):
            if re.search(r"[A-Za-z]{2}", quoted["text"]) and ".html" not in quoted["text"]:
                yield bool(quoted["translated"]), quoted["text"]


def _blanked(found: re.Match[str]) -> str:
    """A mark, and as many signs and lines as stood there."""
    return MARK + "".join(sign if sign == "\n" else " " for sign in found.group())[1:]


def _plain(words: str) -> str:
    """Without marks of HTML; values as `{name}`."""
    return " ".join(re.sub(r"\{\{\s*(\w+)\s*\}\}", r"{\1}", HTML_TAG.sub("", words)).split())


def _between(path: Path, line: int, written: str) -> Iterator[Text]:
    for part in written.split(MARK):
        words = " ".join(part.split())
        if re.search(r"[A-Za-z]{2}", words):
            yield Text(path, line, translated=False, words=words)
        line += part.count("\n")


class _Module:
    """The texts of one Python module."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def texts(self) -> Iterator[Text]:
        yield from self._below(ast.parse(self.path.read_text(encoding="utf-8")), translated=False)

    def _below(self, node: ast.AST, *, translated: bool) -> Iterator[Text]:
        documentation = _documentation(node)
        for name, value in ast.iter_fields(node):
            if name in ("annotation", "returns") and not _offers_words(value):
                continue
            for child in value if isinstance(value, list) else [value]:
                if isinstance(child, ast.AST) and child is not documentation:
                    yield from self._of(child, node, translated=translated)

    def _of(self, node: ast.AST, parent: ast.AST, *, translated: bool) -> Iterator[Text]:
        if isinstance(node, ast.Constant | ast.JoinedStr):
            words = " ".join(_written(node).split())
            named = isinstance(parent, ast.keyword) and parent.arg in NAMES_OF_TEXTS
            if words and (translated or named or _reads_like_words(words)):
                yield Text(self.path, node.lineno, translated, words)
        elif isinstance(node, ast.Call):
            called = {
                getattr(part, "attr", getattr(part, "id", "")) for part in ast.walk(node.func)
            }
            if not called & NOT_SHOWN:
                yield from self._below(node, translated=translated or bool(called & TRANSLATES))
        else:
            yield from self._below(node, translated=translated)


def _offers_words(annotation: object) -> bool:
    return isinstance(annotation, ast.AST) and "Literal" in ast.unparse(annotation)


def _documentation(node: ast.AST) -> ast.AST | None:
    body = getattr(node, "body", None)
    if isinstance(body, list) and body and isinstance(body[0], ast.Expr):
        return body[0] if isinstance(body[0].value, ast.Constant) else None
    return None


def _written(node: ast.Constant | ast.JoinedStr) -> str:
    if isinstance(node, ast.Constant):
        return node.value if isinstance(node.value, str) else ""
    return "".join(
        f"{{{ast.unparse(part.value)}}}" if isinstance(part, ast.FormattedValue) else _written(part)
        for part in node.values
        if isinstance(part, ast.FormattedValue | ast.Constant)
    )


def _reads_like_words(words: str) -> bool:
    bare = re.sub(r"\{[^}]*\}", "", words)
    return not NO_WORDS.search(bare) and bool(WORDS.search(bare))


def texts(folders: list[Path]) -> Iterator[Text]:
    """Every text below the folders, module by module."""
    for folder in folders:
        for path in sorted([*folder.rglob("*.html"), *folder.rglob("*.py")]):
            if "migrations" not in path.parts:
                found = of_template(path) if path.suffix == ".html" else _Module(path).texts()
                yield from sorted(found, key=lambda text: text.line)


def main() -> None:
    """List them, and count them at the end."""
    arguments = sys.argv[1:]
    folders = [Path(name).resolve() for name in arguments if name != "--open"] or [SOURCE]
    listed = list(texts(folders))
    for text in listed:
        if "--open" not in arguments or not text.translated:
            print(text)
    translated = sum(text.translated for text in listed)
    print(f"{len(listed)} texts, {translated} of them translated", file=sys.stderr)


if __name__ == "__main__":
    main()
