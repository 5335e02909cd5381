"""What one waits for at the bench when a reading decides: the reading typed, and the page with its branch.

    python -m benchmarks.branches

A visit of the demo is done card by card up to the first reading that decides. It is typed inside its limits and outside
by turns, and corrected each time. Milliseconds of processor, all in this process, and as ratio to the sign-in page of
the same run.
"""

from __future__ import annotations

import statistics
from collections.abc import Callable
from typing import Any

from django.core.management import call_command
from django.test import Client

from benchmarks.stopwatch import timed
from benchmarks.visit import Grown  # first: it makes the store
from tests.shop.day import form_to
from witnessmark import units
from witnessmark.shop import store
from witnessmark.shop.work import evidence
from witnessmark.shop.work.cards import Card, ReadingShown, cards
from witnessmark.shop.work.demo_technician import do_card, good_reading
from witnessmark.shop.work.plan_followed import plan_progress
from witnessmark.shop.work.visit import read

TIMES = 20
ROW = "{:<44}{:>9}{:>9}{:>8}"


def main() -> None:
    """Print a line for each thing that one waits for."""
    call_command("migrate", verbosity=0)
    demo = Grown()
    print(ROW.format("ms of processor", "median", "p95", "ratio"))
    nobody = Client(HTTP_HOST="localhost")
    empty = told(
        "an empty page (sign-in)",
        [spent(lambda: nobody.get("/sign-in/")) for _ in range(TIMES)],
        0.0,
    )
    card = up_to_reading(demo)
    page, typed = [], []
    for number in range(2 * TIMES):
        here = f"{demo.bench}?card={card.id}"
        opened = demo.client.get(here)
        page.append(spent(lambda here=here: demo.client.get(here)))
        form = form_to(opened.content.decode(), here, f"{demo.bench}confirm/")
        before = {entry.id for entry in read(demo.visit).entries}
        sent = form | read_as(card, good=number % 2 == 0) | {"done": "1"}
        typed.append(spent(lambda sent=sent: answered(demo, sent)))
        for entry in [one for one in read(demo.visit).entries if one.id not in before]:
            store.record(demo.desks[0], demo.visit, "corrected", {"entry": str(entry.id)})
    told("the card of a reading that decides", page, empty)
    told("the reading typed, and the page of its branch", typed, empty)


def up_to_reading(demo: Grown) -> Card:
    """Do the cards before the first one whose reading decides."""
    while True:
        work = read(demo.visit)
        course = plan_progress(work)
        made = course.plan
        if made is None or made.undecided is None or not made.forks:
            raise SystemExit("no reading decides about this visit")
        asked = {made.undecided.unknowns[name].revealed_by for name in made.forks[0].names}
        card = cards(work, course.left)[0]
        if card.id in asked:
            return card
        do_card(demo.desks[0], demo.visit, work, card)


def read_as(card: Card, *, good: bool) -> dict[str, str]:
    """The fields of its readings, all good or all a little outside."""
    return {
        evidence.field_of(shown.id, place): good_reading(shown) if good else outside(shown)
        for shown in card.readings
        for place in range(1, shown.reading.repeat + 1)
    }


def outside(shown: ReadingShown) -> str:
    """A tenth beyond a limit, or a word that is bad."""
    if shown.reading.quantity == "words":
        return shown.reading.bad[0]
    value = shown.high * 1.1 if shown.high is not None else (shown.low or 0.0) * 0.9
    return units.show(value, shown.reading.quantity, unit=shown.reading.unit or None)


def answered(demo: Grown, sent: dict[str, Any]) -> None:
    """A form sent, and the page that comes after it."""
    got = demo.client.post(f"{demo.bench}confirm/", sent)
    if got.status_code != 303:
        raise SystemExit(f"{got.status_code}: {got.content.decode()[:400]}")
    demo.client.get(got["Location"])


def spent(what: Callable[[], object]) -> float:
    """Milliseconds of processor."""
    return 1000 * timed(what)[1]


def told(what: str, times: list[float], empty: float) -> float:
    """Print a line; return the median."""
    median, late = statistics.median(times), sorted(times)[int(0.95 * (len(times) - 1))]
    ratio = f"{median / empty:.1f}" if empty else ""
    print(ROW.format(what, f"{median:.1f}", f"{late:.1f}", ratio), flush=True)
    return median


if __name__ == "__main__":
    main()
