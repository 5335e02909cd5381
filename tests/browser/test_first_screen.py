"""Which machine, what is asked, and the thing to tap: on the first screen of every bench card.

Other pages are measured where a walk passes them, by `off_screen`.
"""

from collections.abc import Iterator
from dataclasses import replace

import pytest
from django.test import RequestFactory

from screenshots import SIZES
from tests.browser.first_screen import missing
from tests.sweep import share, swept
from witnessmark.shop import scenario
from witnessmark.shop.models import Machine
from witnessmark.shop.pages.bench.views import Bench, bench_of, page
from witnessmark.shop.work.cards import Card, card_of, gives_evidence, not_ready
from witnessmark.shop.work.visit import Work, read

pytestmark = pytest.mark.browser
PLATES = ["LY-14-QT", "LY-31-BR", "LY-08-SI"]  # one machine for each book of the demo
ASKED = ".card-form .figure, .card-form .field .entry, .card-form .field .tiles"
TAP = "button.place.next, .card-form [name=done]"
NEXT_CARD = """(html) => {
  const page = new DOMParser().parseFromString(html, "text/html");
  for (const part of ["main", ".where"])
    document.querySelector(part).innerHTML = page.querySelector(part).innerHTML;
  const asked = [...document.querySelectorAll(".card-form .figure, .card-form .field")];
  return asked.some((one) => one.checkVisibility());
}"""


def every_card(work: Work) -> Iterator[tuple[Card, bool]]:
    """Each card of a book in its turn, after the access that makes it ready; and out of its turn, not ready."""
    for name, step in work.steps.items():
        if gives_evidence(work.book, step):
            card = card_of(work, name)
            yield replace(card, along=tuple(_ahead(work, card))), False
            if warnings := tuple(not_ready(work, card)):
                yield replace(card, warnings=warnings), True


def _ahead(work: Work, card: Card) -> Iterator[Card]:
    """For each state that the card needs and the machine is not in, the first access step that sets it."""
    for condition, allowed in card.step.needs.items():
        if work.book.conditions[condition].start not in allowed:
            sets = (n for n, one in work.book.access.items() if one.sets.get(condition) in allowed)
            yield from (card_of(work, name) for name in [*sets][:1] if name != card.id)


@swept(5)
def test_every_bench_card_of_every_book(desks, workshop, at_tablet, step):
    """Heading, the first figure or field, and the tap: as the bench's own function shows each card."""
    people = {size: at_tablet("tamsin") for size in SIZES}
    found, taps = {}, 0
    for plate in PLATES:
        about = next(one for one in scenario.scenario()["machines"] if one["plate"] == plate)
        machine = Machine.objects.get(shop=workshop, plate=plate)
        scenario.bring(desks["tamsin"], desks["jonas"], machine, dict(about, stage="arrival"))
        work = read(machine.visits.get())
        at = bench_of(work)
        for size, person in people.items():
            person.page.set_viewport_size(SIZES[size])
            person.go(f"/visits/{work.visit.pk}/bench/")
        for card, asked in share(every_card(work), step):
            request = RequestFactory().get("/")
            request.desk, request.session, request._messages = desks["tamsin"], {}, ()
            shown = page(request, Bench(work, at.course, [card], card, asked=asked))
            for size, person in people.items():
                figures = person.page.evaluate(NEXT_CARD, shown.content.decode())
                wanted = {"heading": "h1", "tap": TAP} | ({"figure": ASKED} if figures else {})
                if off := missing(person.page, wanted):
                    found[plate, card.id, asked, size] = off
            taps += bool(card.marks_left)
    assert found == {}
    assert taps > 40 / step  # cards with fasteners to tighten were among them
