"""The rows of the bench's lists, read back by HTML's rules."""

from html.parser import HTMLParser
from urllib.parse import parse_qs

import pytest

from witnessmark.shop.pages.bench.rows import line

HARD = 'nut <b>M8</b> & "washer" 5 ‰'


class Row(HTMLParser):
    """What a browser finds: the elements by class with their words, and where the row leads."""

    def __init__(self, row: str) -> None:
        super().__init__()
        self.words: dict[str, str] = {}
        self.tags: list[str] = []
        self.href = ""
        self._inside: list[str] = []
        self.feed(row)
        self.close()
        assert not self._inside  # each is closed, by its own name

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = dict(attrs)
        self.tags.append(tag)
        self.href = told.get("href") or self.href
        self._inside.append(f"{tag} {told['class']}")
        self.words[told["class"] or ""] = ""

    def handle_endtag(self, tag: str) -> None:
        assert self._inside.pop().startswith(f"{tag} ")

    def handle_data(self, data: str) -> None:
        if self._inside:
            self.words[self._inside[-1].partition(" ")[2]] += data


@pytest.mark.parametrize("card", ["", 'wheel/off & "on" <x>'])
def test_a_row_says_what_it_was_given_and_leads_to_its_card(card):
    """Whatever was typed: signs of HTML stay words, and the address names the card as it is called."""
    row = Row(line(HARD, HARD, bench="/b/", card=card, nr="7", state=HARD))
    said = {"line": "", "nr": "7", "what": "", "words": HARD, "detail": HARD, "state": HARD}
    assert row.words == said
    assert row.tags == ["li", "span", "a" if card else "div", "span", "span", "span"]
    assert parse_qs(row.href.removeprefix("/b/?")) == ({"card": [card]} if card else {})


def test_a_row_without_detail_has_no_room_for_one():
    assert Row(line("words", bench="/b/", proven=True)).words == {
        "line proven": "", "nr": "", "what": "", "words": "words",
    }  # fmt: skip
