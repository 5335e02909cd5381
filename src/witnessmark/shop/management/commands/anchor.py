"""`witnessmark anchor`: sign what the ledger holds now. Run it with each backup."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from witnessmark.shop import anchors


class Command(BaseCommand):
    """Appends one signed line to the file of anchors."""

    help = "Sign the newest seal of every visit; take the file of anchors along with each backup."

    def add_arguments(self, parser: ArgumentParser) -> None:
        add_places(parser)

    def handle(self, *args: Any, **options: Any) -> None:
        at = anchors.Places.usual(options["file"], options["key"])
        one = anchors.anchor_now(at)
        if one is None:
            self.stdout.write("nothing new to sign")
            return
        visits = "1 visit" if len(one.heads) == 1 else f"{len(one.heads)} visits"
        self.stdout.write(f"anchor {one.number}: {visits}, {one.digest}")
        self.stdout.write(f"file {at.file}")
        self.stdout.write(f"public key {one.key}")


def add_places(parser: ArgumentParser) -> None:
    """The options that say where file and key lie."""
    parser.add_argument("--file", type=Path, default=None, help="anchors; else in the home folder")
    parser.add_argument("--key", type=Path, default=None, help="private key; else in its keys/")
