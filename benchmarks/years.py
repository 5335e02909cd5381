"""Years of work: what a page costs after 20,000 visits, against the same page after a hundred.

    python -m benchmarks.years [VISITS]

One table in one run: processor milliseconds of one page (the mean of several), those of PostgreSQL's process for it
included. What must hold: at most 1.3 times, and at most 150 ms.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

FEW, MANY = 100, 20_000  # visits
CALLS = 21  # of each page
ROW = "{:<38} {:>9} {:>9} {:>7} {:>8}"


def main(many: int = MANY) -> None:
    """Grow a store in a new folder, or in the database that DATABASE_URL names, and print the table."""
    with tempfile.TemporaryDirectory(prefix="years-") as home:
        set_up(home)
        from benchmarks import store  # noqa: PLC0415 - after the settings

        years = store.build()
        years.grow(FEW)
        few = costs(years.shop.pk)
        began = time.process_time()
        years.grow(many)
        each = (time.process_time() - began) / max(1, many - FEW)
        table(few, costs(years.shop.pk), many)
        print(f"a visit of the store was made in {1000 * each:.0f} ms")


def set_up(home: str) -> None:
    """Django with the program's own settings, in a folder of its own, its database empty."""
    import django  # noqa: PLC0415 - only the benchmarks with pages pay for it

    os.environ |= {"WITNESSMARK_HOME": home, "DJANGO_SETTINGS_MODULE": "witnessmark.shop.settings"}
    django.setup()
    from django.core.management import call_command  # noqa: PLC0415 - after the settings

    call_command("migrate", verbosity=0, interactive=False)


def pages(shop: object) -> Iterator[tuple[str, str]]:
    """Title and address of each page that is measured."""
    from django.urls import reverse  # noqa: PLC0415 - after the settings

    from witnessmark.shop.models import Machine, VisitSummary, WasteContainer, WrenchEvent  # noqa: PLC0415

    here = VisitSummary.objects.filter(shop=shop, stage="bench", handed_back_at=None)
    machine = Machine.objects.filter(shop=shop, plate__endswith="-YR").order_by("pk")[0]
    yield "today", reverse("today")
    yield "the bench", reverse("bench", args=[here.order_by("visit__number")[0].visit_id])
    yield "machines", reverse("machines")
    yield "machines, by a name", f"{reverse('machines')}?q={machine.owner.name.split()[1]}"
    yield "taking in, by a plate", f"{reverse('arrive')}?q={machine.plate}"
    yield "one machine", reverse("machine", args=[machine.pk])
    yield "waste", reverse("waste")
    yield "waste, the oldest page", f"{reverse('waste')}?{OLDEST}"
    container = WasteContainer.objects.filter(shop=shop, stream="used oil").order_by("pk")[0]
    yield "a waste container", reverse("waste-container", args=[container.pk])
    yield "wrenches", reverse("wrenches")
    event = WrenchEvent.objects.filter(shop=shop, kind="lever").order_by("-on")[0]
    yield "a wrench in doubt", reverse("wrench-doubt", args=[event.pk])


OLDEST = "after=0001-01-01"


def costs(shop: object) -> dict[str, float]:
    """Processor milliseconds of each page, by its title."""
    from django.contrib.auth import get_user_model  # noqa: PLC0415 - after the settings
    from django.test import Client  # noqa: PLC0415

    client = Client(headers={"host": "localhost"})
    client.force_login(
        get_user_model().objects.get(username="tamsin"),
        "django.contrib.auth.backends.ModelBackend",
    )
    analyse()
    return {title: cost(client, address) for title, address in pages(shop)}


def cost(client: Any, address: str) -> float:
    """The mean of several calls without the extremes, the first few left out."""
    found = []
    for _ in range(3 + CALLS):
        before = used()
        answer = client.get(address)
        found.append(1000 * (used() - before))
        if answer.status_code != 200:
            raise RuntimeError(f"{address}: {answer.status_code}")
    return statistics.fmean(sorted(found[3:])[2:-2])


def used() -> float:
    """Processor seconds of this process, and of PostgreSQL's for it (Linux counts those in hundredths)."""
    from django.db import connection  # noqa: PLC0415 - after the settings

    here = time.process_time()
    if connection.vendor != "postgresql" or connection.connection is None:
        return here
    pid = connection.connection.info.backend_pid
    said = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return here + (int(said[11]) + int(said[12])) / os.sysconf("SC_CLK_TCK")


def analyse() -> None:
    """What PostgreSQL does by itself after a while (SQLite never does): count rows to choose an index by."""
    from django.db import connection  # noqa: PLC0415 - after the settings

    if connection.vendor != "postgresql":
        return
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def table(few: dict[str, float], many: dict[str, float], visits: int) -> None:
    """Print the two beside one another."""
    print(f"\nPages after years of work, processor ms on {vendor()}")
    print(ROW.format("page", f"{FEW} v.", f"{visits} v.", "ratio", "holds"))
    for title, before in few.items():
        ratio = many[title] / before
        holds = "yes" if ratio <= 1.3 and many[title] <= 150 else "NO"
        print(ROW.format(title, f"{before:.1f}", f"{many[title]:.1f}", f"{ratio:.2f}", holds))


def vendor() -> str:
    """Which database."""
    from django.db import connection  # noqa: PLC0415 - after the settings

    return "SQLite" if connection.vendor == "sqlite" else "PostgreSQL"


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
