"""`witnessmark money`: the journal of a period and the open list, for an accountant."""

import csv
from argparse import ArgumentParser
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from witnessmark import journal
from witnessmark.money.currency import exponent, major
from witnessmark.shop.management.commands.rebuild import shop_by_id
from witnessmark.shop.models import OwedRow, Shop
from witnessmark.shop.work import bookkeeping


class Command(BaseCommand):
    """Writes to stdout; it changes nothing."""

    help = "Write the journal of a period as CSV or plain text, or the open list."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("what", choices=["csv", "text", "open"])
        parser.add_argument("--shop", default=None, help="by its id; else the only one there is")
        parser.add_argument("--first", type=date.fromisoformat, default=None)
        parser.add_argument("--last", type=date.fromisoformat, default=None)

    def handle(self, *args: Any, **options: Any) -> None:
        shop = shop_by_id(options["shop"]) or _only_shop()
        if options["what"] == "open":
            return self._open(shop)
        first, last = options["first"], options["last"]
        if first and last and first > last:
            raise CommandError(f"the last day, {last}, is before the first, {first}: exchange them")
        found = bookkeeping.transactions(shop, first, last)
        write = journal.as_csv if options["what"] == "csv" else journal.as_plain_text
        self.stdout.write(write(found), ending="")
        return None

    def _open(self, shop: Shop) -> None:
        table = csv.writer(self.stdout)
        table.writerow(("number", "day", "due", "open", "currency"))
        for row in OwedRow.of(shop).order_by("on", "name"):
            amount = format(major(row.open_minor, row.currency), f".{exponent(row.currency)}f")
            table.writerow((row.name, row.on or "", row.due_on or "", amount, row.currency))


def _only_shop() -> Shop:
    shops = list(Shop.objects.all()[:2])
    if len(shops) != 1:
        raise CommandError("there is not one shop alone: say which by --shop and its id")
    return shops[0]
