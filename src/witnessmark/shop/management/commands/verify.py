"""`witnessmark verify`: check the chains of every visit, the anchors, and the guards."""

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from witnessmark.shop import anchors, guards, store
from witnessmark.shop.management.commands.anchor import add_places
from witnessmark.shop.management.commands.rebuild import shop_by_id


class Command(BaseCommand):
    """Names every fault of the ledger; exit 1 when there is one."""

    help = "Check that no entry was changed, dropped, added or swapped."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--shop", default=None, help="one shop, by its id; else all")
        parser.add_argument("--json", action="store_true", help="faults as JSON")
        add_places(parser)
        parser.add_argument(
            "--trusted",
            action="append",
            default=[],
            help="public key of the anchors, in hex, as it was written down; may be repeated",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        shop = shop_by_id(options["shop"])
        at = anchors.Places.usual(options["file"], options["key"])
        found = [
            {"visit": str(visit.pk), "number": visit.number, "fault": str(fault)}
            for visit, fault in store.faults(shop, anchors.heads(at))
        ]
        of_the_file = anchors.faults(at, options["trusted"])
        found += [{"visit": None, "number": None, "fault": str(f)} for f in of_the_file]
        unguarded = guards.missing()
        if options["json"]:
            self.stdout.write(json.dumps({"faults": found, "guards_missing": unguarded}))
        else:
            for one in found:
                visit = f"visit {one['number']}: " if one["number"] else ""
                self.stdout.write(f"{visit}{one['fault']}")
            for name in unguarded:
                self.stdout.write(f"guard missing: {name}")
            if not found and not unguarded:
                self.stdout.write("every entry is as it was sealed")
        if found or unguarded:
            raise SystemExit(1)
