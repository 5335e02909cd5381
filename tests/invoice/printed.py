"""A paper for tests, printed as the papers of the shop are: by Typst, as PDF/A."""

from datetime import UTC, datetime
from functools import cache

import typst

PAPER = b"""#set document(title: "Invoice 2026-17", author: "Invented Workshop")
#set text(lang: "en")
= Invoice 2026-17
119.00"""


@cache
def archive(standard="a-2a"):
    return typst.compile(
        PAPER, format="pdf", pdf_standards=standard, timestamp=datetime(2026, 5, 4, tzinfo=UTC)
    )
