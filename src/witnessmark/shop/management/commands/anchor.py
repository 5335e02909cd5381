"""`witnessmark manage anchor`: sign what the ledger holds now. Run it with each backup."""

from typing import Any

from django.core.management.base import BaseCommand

from witnessmark.shop import anchors


class Command(BaseCommand):
    """Appends one signed line to the file of anchors."""

    help = "Sign the newest seal of every visit; take the file of anchors along with each backup."

    def handle(self, *args: Any, **options: Any) -> None:
        one = anchors.anchor_now()
        if one is None:
            self.stdout.write("nothing new to sign")
            return
        self.stdout.write(f"anchor {one.number}: {len(one.heads)} visits, {one.digest}")
        self.stdout.write(f"file {anchors.anchor_file()}, public key {one.key}")
