"""`witnessmark rebuild`: make every projection again from the entries."""

from argparse import ArgumentParser
from typing import Any
from uuid import UUID

from django.core.management.base import BaseCommand, CommandError

from witnessmark.shop import store
from witnessmark.shop.models import Shop, Visit

EVERY = 100  # visits from one line of progress to the next


class Command(BaseCommand):
    """Makes the projections of one shop, or of all, anew."""

    help = "Make every table that follows from the ledger again, from the entries alone."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--shop", default=None, help="one shop, by its id; else all")
        parser.add_argument("--after", default=None, help="go on behind this visit, as it was told")

    def handle(self, *args: Any, **options: Any) -> None:
        shop, after = shop_by_id(options["shop"]), _key(options["after"])
        visits = Visit.objects.all() if shop is None else Visit.objects.filter(shop=shop)
        whole, done = visits.count(), visits.filter(pk__lte=after).count() if after else 0
        for key in store.rebuild(shop, after):
            done += 1
            if done % EVERY == 0:
                self.stderr.write(
                    f"{done} of {whole} visits read again; cut off? go on with --after {key}"
                )
        self.stdout.write(f"{done} visits read again")


def shop_by_id(key: str | None) -> Shop | None:
    """The shop with an id; None for all. Raises CommandError for one that is not there."""
    if not key:
        return None
    try:
        return Shop.objects.get(pk=UUID(key))
    except (ValueError, Shop.DoesNotExist):
        ids = ", ".join(f"{shop.pk} ({shop})" for shop in Shop.objects.all())
        raise CommandError(f"{key}: no shop has this id; there are {ids or 'none'}") from None


def _key(told: str | None) -> UUID | None:
    try:
        return UUID(told) if told else None
    except ValueError:
        raise CommandError(f"{told}: no visit has this id; copy it as it was told") from None
