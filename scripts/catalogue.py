"""Bring the catalogues of texts up to date and compile them; `--check` only says what papers still miss.

    python scripts/catalogue.py [--check | --pages LANGUAGE]

A language needs every text of the papers: those marked in `shop/work/paperwork` and beside it, those of the sheets, and
the words that forms offer and papers print. The texts of the pages are optional: what is not translated is in English.
`--pages LANGUAGE` writes them all into that language's .po, for a translator to fill in, and makes the .po of a new
language; each later run drops those that are still empty, so that no catalogue carries thousands of empty ones.
Translations are written into the .po by hand; the .mo beside it is committed, so that nothing has to be compiled
where the package is installed.
"""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import get_args

import django
from babel.messages.catalog import Catalog
from babel.messages.extract import DEFAULT_KEYWORDS, extract
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po
from django.utils.translation.template import templatize

ROOT = Path(__file__).resolve().parents[1]
LOCALE = ROOT / "src/witnessmark/shop/locale"
SHOP = ROOT / "src/witnessmark/shop"
MARKED = (
    SHOP / "work/paperwork",
    SHOP / "work/hand_back.py",
    SHOP / "work/deciding.py",
    SHOP / "work/branches.py",
    SHOP / "work/billing.py",
)
AT = datetime(2026, 1, 1, tzinfo=UTC)  # the same texts are the same bytes
KEYWORDS = {**DEFAULT_KEYWORDS, "noop": None, "gettext_lazy": None, "ngettext_lazy": (1, 2)}
Text = str | tuple[str, ...]  # several: one for each number


def chosen() -> Iterator[str]:
    """The words that forms offer, entries keep and papers print."""
    from witnessmark.book.model import Fluid  # noqa: PLC0415 - after the settings
    from witnessmark.book.rules import RULES  # noqa: PLC0415 - after the settings
    from witnessmark.ledger.bodies import (  # noqa: PLC0415 - after the settings
        ComplaintEnd,
        Settled,
        Wont,
    )
    from witnessmark.ledger.body import Paper  # noqa: PLC0415 - after the settings
    from witnessmark.ledger.fastener_effects import SECURED_WORDS  # noqa: PLC0415 - after the settings
    from witnessmark.ledger.kinds.invoicing import Free  # noqa: PLC0415 - after the settings
    from witnessmark.shop.work.codes import STILL  # noqa: PLC0415 - after the settings
    from witnessmark.shop.work.forms import HOW  # noqa: PLC0415 - after the settings

    yield from (*HOW, *get_args(Paper), *get_args(ComplaintEnd), *SECURED_WORDS.values(), STILL)
    yield from filter(None, get_args(Free))
    yield from (rule.holds for rule in RULES.values())
    for body, field in ((Settled, "how"), (Wont, "what"), (Fluid, "family")):
        yield from get_args(body.model_fields[field].annotation)
    yield from ("Labour", "Labour, fixed price", "Consumables", "standard", "reduced")
    yield from (
        "closed, and filled to its level",
        "bled",
        "no leak",
        "refitted",
    )  # ledger.beyond_book


def messages() -> Catalog:
    """Every text of the papers, in English."""
    from witnessmark.papers import texts  # noqa: PLC0415 - after the settings

    found = Catalog(charset="utf-8", header_comment="# Texts of the papers an owner holds.")
    for text in (*(one for path in MARKED for one in marked(path)), *texts(), *chosen()):
        found.add(text)
    return found


def of_pages() -> Iterator[Text]:
    """Every text of the pages, in English."""
    for path in sorted(SHOP.rglob("*")):
        if path.suffix in (".py", ".html") and "migrations" not in path.parts:
            yield from marked(path)
    yield from chosen()


def marked(path: Path) -> Iterator[Text]:
    """The texts of a module, a template or a folder of them that are marked for translation."""
    if path.is_dir():
        for one in sorted(path.rglob("*.py")):
            yield from marked(one)
        return
    source = path.read_text(encoding="utf-8")
    if (
        path.suffix == ".html"
    ):  # as calls of gettext, amid what is no Python: so without its indentation
        source = "\n".join(line.strip() for line in templatize(source).splitlines())
    for _line, text, _comments, _context in extract(
        "python", io.BytesIO(source.encode()), keywords=KEYWORDS
    ):
        yield text


def catalogues() -> Iterator[Path]:
    """The .po of every language."""
    yield from sorted(LOCALE.glob("*/LC_MESSAGES/django.po"))


def compiled(catalogue: Catalog) -> bytes:
    """The .mo of a catalogue."""
    out = io.BytesIO()
    write_mo(out, catalogue)
    return out.getvalue()


def read(path: Path) -> Catalog:
    with path.open("rb") as file:
        return read_po(file, locale=path.parts[-3])


def missing(path: Path) -> list[str]:
    """Texts that a catalogue does not translate, or has from before they were changed."""
    said = read(path)
    return [
        str(message.id)
        for message in messages()
        if message.id
        and (not (known := said.get(message.id)) or not all(_strings(known.string)) or known.fuzzy)
    ]


def _strings(said: str | Sequence[str] | None) -> Sequence[str]:
    return [said or ""] if said is None or isinstance(said, str) else said


def bring_up_to_date(path: Path, *, pages: bool) -> None:
    """Write a .po with every text of the papers and what it translates of the pages, or all of them; and its .mo."""
    said = read(path) if path.exists() else Catalog(locale=path.parts[-3], charset="utf-8")
    wanted = messages()
    for text in of_pages():
        known = said.get(text)
        if pages or (known and any(_strings(known.string))):
            wanted.add(text)
    said.update(wanted, no_fuzzy_matching=True)
    said.obsolete.clear()
    said.creation_date = said.revision_date = AT
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as file:
        write_po(file, said, width=110, sort_output=True, omit_header=False)
    path.with_suffix(".mo").write_bytes(compiled(said))


def main() -> int:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "witnessmark.shop.settings")
    django.setup()
    if "--pages" in sys.argv:
        language = sys.argv[sys.argv.index("--pages") + 1]
        bring_up_to_date(LOCALE / language / "LC_MESSAGES/django.po", pages=True)
        return 0
    wanted = 0
    for path in catalogues():
        if "--check" not in sys.argv:
            bring_up_to_date(path, pages=False)
        for text in missing(path):
            print(f"{path.parts[-3]}: {text}")
            wanted += 1
    return 1 if wanted else 0


if __name__ == "__main__":
    raise SystemExit(main())
