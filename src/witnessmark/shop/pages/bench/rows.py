"""The rows of the bench's long lists: a page has a hundred, nearly all as on the last, so each is written once."""

from __future__ import annotations

from functools import lru_cache
from urllib.parse import quote

from django.utils.html import format_html
from django.utils.safestring import SafeString

LINE = (
    '<li class="line{}"><span class="nr">{}</span>{}<span class="words">{}</span>{}</{}>{}</li>\n'
)


@lru_cache(maxsize=4096)
def line(
    words: str, detail: str = "", *, bench: str, card: str = "", nr: str = "", state: str = "", proven: bool = False
) -> SafeString:  # fmt: skip
    """A row in words; `card`: the step it leads to on the page `bench`, `state`: a word at its end."""
    return format_html(
        LINE,
        " proven" if proven else "",
        nr,
        format_html('<a class="what" href="{}?card={}">', bench, quote(card))
        if card
        else SafeString('<div class="what">'),
        words,
        format_html('<span class="detail">{}</span>', detail) if detail else "",
        "a" if card else "div",
        format_html('<span class="state">{}</span>', state) if state else "",
    )
