"""Bring the catalogues of the papers' texts up to date and compile them; `--check` only says what is missing.

    python scripts/catalogue.py [--check]

The texts are those marked in `shop/work/paperwork`, those of the sheets, and the words that forms offer and papers
print. Translations are written into the .po by hand; the .mo beside it is committed, so that nothing has to be
compiled where the package is installed.
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
from babel.messages.extract import DEFAULT_KEYWORDS, extract_from_dir
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

ROOT = Path(__file__).resolve().parents[1]
LOCALE = ROOT / "src/witnessmark/shop/locale"
MARKED = ROOT / "src/witnessmark/shop/work/paperwork"
AT = datetime(2026, 1, 1, tzinfo=UTC)  # the same texts are the same bytes
KEYWORDS = {**DEFAULT_KEYWORDS, "noop": None}


def chosen() -> Iterator[str]:
    """The words that forms offer, entries keep and papers print."""
    from witnessmark.book.model import Fluid  # noqa: PLC0415 - after the settings
    from witnessmark.ledger.bodies import (  # noqa: PLC0415 - after the settings
        ComplaintEnd,
        Settled,
        Wont,
    )
    from witnessmark.ledger.body import Paper  # noqa: PLC0415 - after the settings
    from witnessmark.ledger.fastened import SECURED_WORDS  # noqa: PLC0415 - after the settings
    from witnessmark.shop.pages.price.forms import HOW  # noqa: PLC0415 - after the settings
    from witnessmark.shop.work.codes import STILL  # noqa: PLC0415 - after the settings

    yield from (*HOW, *get_args(Paper), *get_args(ComplaintEnd), *SECURED_WORDS.values(), STILL)
    for body, field in ((Settled, "how"), (Wont, "what"), (Fluid, "family")):
        yield from get_args(body.model_fields[field].annotation)
    yield from ("Labour", "Labour, fixed price", "Consumables", "standard", "reduced")
    yield from ("closed, and filled to its level", "bled", "no leak", "refitted")  # ledger.own


def messages() -> Catalog:
    """Every text, in English."""
    from witnessmark.papers import texts  # noqa: PLC0415 - after the settings

    found = Catalog(charset="utf-8", header_comment="# Texts of the papers an owner holds.")
    for _file, _line, message, _comments, _context in extract_from_dir(MARKED, keywords=KEYWORDS):
        found.add(message)
    for text in (*texts(), *chosen()):
        found.add(text)
    return found


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


def main() -> int:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "witnessmark.shop.settings")
    django.setup()
    wanted = 0
    for path in catalogues():
        if "--check" not in sys.argv:
            said = read(path)
            said.update(messages(), no_fuzzy_matching=True)
            said.obsolete.clear()
            said.creation_date = said.revision_date = AT
            with path.open("wb") as file:
                write_po(file, said, width=110, sort_output=True, omit_header=False)
            path.with_suffix(".mo").write_bytes(compiled(said))
        for text in missing(path):
            print(f"{path.parts[-3]}: {text}")
            wanted += 1
    return 1 if wanted else 0


if __name__ == "__main__":
    raise SystemExit(main())
