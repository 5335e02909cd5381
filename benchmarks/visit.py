"""What a visit costs to read as it grows: the bench page, and a tap on its card, at 100 to 800 entries.

    python -m benchmarks.visit

The visit is the demo's tourer on its annual service, worked on by two at their own tablets as the demo is made:
cards done with their marks and readings; when few are left, those that open nothing once more. Milliseconds of
processor of one request (the median of several), all in this process; statements are those sent to the database.
With `--profile page` or `--profile tap` it prints instead where the time goes.
"""

# ruff: noqa: E402 - it talks to the terminal, and imports the pages once their settings are read

from __future__ import annotations

import argparse
import cProfile
import os
import pstats
import statistics
import tempfile
from collections.abc import Callable

HOME = tempfile.TemporaryDirectory()
os.environ["WITNESSMARK_HOME"] = HOME.name
os.environ["DJANGO_SETTINGS_MODULE"] = "witnessmark.shop.settings"

import django

django.setup()

from django.core.management import call_command
from django.db import connection
from django.http import HttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext

from benchmarks.stopwatch import timed
from tests.shop.day import form_to, text_of
from witnessmark.book.model import Step
from witnessmark.shop import scenario, store
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import Machine, Member, Visit
from witnessmark.shop.scope import Desk
from witnessmark.shop.work import planning
from witnessmark.shop.work.cards import card_of, cards
from witnessmark.shop.work.demo_technician import do_card
from witnessmark.shop.work.plan_followed import new_order, plan_progress
from witnessmark.shop.work.visit import read

SIZES = (100, 200, 400, 800)
TIMES = 7
LEAST_LEFT = 20  # cards: the last ones wait for the ride


class Grown:
    """One visit of the demo workshop, and the browser that works on it."""

    def __init__(self) -> None:
        shop = scenario.build(visits=False)
        about = {**scenario.scenario()["machines"][0], "stage": "bench", "cards": 0}
        members = {one.user.username: one for one in Member.objects.select_related("user", "shop")}
        self.desks = [Desk(members[name], new_id()) for name in ("tamsin", "jonas")]
        self.done = 0
        machine = Machine.objects.get(shop=shop, plate=about["plate"])
        scenario.bring(*self.desks, machine, about)
        self.visit = Visit.objects.get(machine=machine)
        self.bench = f"/visits/{self.visit.pk}/bench/"
        self.client = Client(HTTP_HOST="localhost")
        self.client.force_login(self.desks[0].member.user)

    def grow(self, size: int) -> None:
        """Cards done in their order; when few are left, those that open nothing once more."""
        while len((work := read(self.visit)).entries) < size:
            self.done += 1
            course = plan_progress(work)
            left = cards(work, course.left)
            if len(left) <= LEAST_LEFT:
                assert course.plan is not None
                planned = course.plan.answer.steps[:-LEAST_LEFT]
                every = [one for one in planned if _is_quiet(work.steps[one.name])]
                left = [card_of(work, every[self.done % len(every)].name)]
            do_card(self.desks[self.done % 3 == 0], self.visit, work, left[0])
        if not plan_progress(work).fits:  # what was done once more left it
            ticket = store.Ticket(str(new_id()))
            plan = planning.keep(self.visit.shop, new_order(work))
            store.record_all(self.desks[0], self.visit, ticket, [("plan_taken", {"plan": plan})])

    def page(self) -> Callable[[], None]:
        """The bench, to be opened."""
        return lambda: self._answered(self.client.get(self.bench), 200)

    def tap(self) -> Callable[[], None]:
        """Done again, on a card that opens nothing and leaves the machine's states alone."""
        here = f"{self.bench}?card={self.quiet_card()}"
        form = form_to(self.client.get(here).content.decode(), here, f"{self.bench}confirm/")
        return lambda: self._answered(
            self.client.post(f"{self.bench}confirm/", form | {"done": "1"}), 303
        )

    def quiet_card(self) -> str:
        """A card that was done and can be once more."""
        work = read(self.visit)
        return next(name for name in work.state.done if _is_quiet(work.steps[name]))

    def _answered(self, answer: HttpResponse, status: int) -> None:
        if answer.status_code != status:
            raise RuntimeError(f"{answer.status_code}: {text_of(answer)[:400]}")


def _is_quiet(step: Step) -> bool:
    """Whether it can be done once more and leaves all as it is: nothing opened, no state changed, no gate passed."""
    return not (step.sets or step.gate or step.opens or step.loosens)


def measured(ready: Callable[[], Callable[[], None]]) -> tuple[float, int]:
    """Milliseconds of processor of one request, and the statements it sends to the database."""
    with CaptureQueriesContext(connection) as sent:
        request = ready()
        before = len(sent)
        request()
        statements = len(sent) - before
    return 1000 * statistics.median(timed(ready())[1] for _ in range(TIMES)), statements


def main() -> None:
    """Print a line per size, or a profile."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--profile", choices=("page", "tap"))
    parser.add_argument("--sizes", type=int, nargs="+", default=SIZES)
    asked = parser.parse_args()
    call_command("migrate", verbosity=0)
    visit = Grown()
    if asked.profile:
        visit.grow(asked.sizes[0])
        requests = [getattr(visit, asked.profile)() for _ in range(TIMES)]
        profile = cProfile.Profile()
        for request in requests[:1]:
            profile.runcall(request)
        pstats.Stats(profile).sort_stats("cumulative").print_stats(70)
        return
    print(f"{'entries':>8}{'page ms':>9}{'statements':>12}{'tap ms':>9}{'statements':>12}")
    for size in asked.sizes:
        visit.grow(size)
        page, asked_page = measured(visit.page)
        tap, asked_tap = measured(visit.tap)
        print(f"{size:>8}{page:>9.1f}{asked_page:>12}{tap:>9.1f}{asked_tap:>12}", flush=True)


if __name__ == "__main__":
    main()
