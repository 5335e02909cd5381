"""`witnessmark rebuild`: make every projection again from the entries."""

from argparse import ArgumentParser
from typing import Any
from uuid import UUID

from django.core.management.base import BaseCommand, CommandError

from witnessmark.shop import store
from witnessmark.shop.models import Shop


class Command(BaseCommand):
    """Makes the projections of one shop, or of all, anew."""

    help = "Make every table that follows from the ledger again, from the entries alone."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--shop", default=None, help="one shop, by its id; else all")

    def handle(self, *args: Any, **options: Any) -> None:
        count = store.rebuild(shop_by_id(options["shop"]))
        self.stdout.write(f"{count} visits read again")


def shop_by_id(key: str | None) -> Shop | None:
    """The shop with an id; None for all. Raises CommandError for one that is not there."""
    if not key:
        return None
    try:
        return Shop.objects.get(pk=UUID(key))
    except (ValueError, Shop.DoesNotExist):
        ids = ", ".join(f"{shop.pk} ({shop})" for shop in Shop.objects.all())
        raise CommandError(f"{key}: no shop has this id; there are {ids or 'none'}") from None
