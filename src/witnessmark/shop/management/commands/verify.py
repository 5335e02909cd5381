"""`witnessmark verify`: check all that is kept, the anchors, and the guards."""

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from witnessmark.shop import anchors, guards, opening, verifying
from witnessmark.shop.management.commands.anchor import add_places
from witnessmark.shop.management.commands.rebuild import shop_by_id
from witnessmark.shop.verifying_content import Report, VisitFault


class Command(BaseCommand):
    """Names every fault of the ledger; exit 1 when there is one."""

    help = "Check that nothing kept was changed, dropped, added or swapped."

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
        parser.add_argument(
            "--since-anchor",
            action="store_true",
            help="leave out what is as the newest anchor has it: its seals are held against it, no more",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        report = verifying.report_of(
            anchors.Places.usual(options["file"], options["key"]),
            shop_by_id(options["shop"]),
            options["trusted"],
            since_anchor=options["since_anchor"],
        )
        unguarded = guards.missing()
        if options["json"]:
            self.stdout.write(json.dumps(_as_json(report, unguarded)))
        else:
            self._tell(report, unguarded)
        if unguarded or not report.sound:
            raise SystemExit(1)

    def _tell(self, report: Report, unguarded: list[str]) -> None:
        for one in report.told:
            self.stdout.write(_line(one))
        for name in unguarded:
            self.stdout.write(
                f"guard missing: {name}; find out who dropped it, `witnessmark manage guards` puts it back"
            )
        for path in opening.loose():
            self.stdout.write(f"{path}: other users of this machine can reach it")
        if report.sound and not unguarded:
            self.stdout.write("every entry is as it was sealed")
        numbers = ", ".join(f"{what}: {count}" for what, count in report.checked.items())
        self.stdout.write(f"checked: {numbers}")


def _as_json(report: Report, unguarded: list[str]) -> dict[str, Any]:
    return {
        "faults": [
            {
                "visit": str(visit.pk) if visit else None,
                "number": visit.number if visit else None,
                "fault": str(fault),
            }
            for visit, fault in report.told
            if fault.grave
        ],
        "told": [_line(one) for one in report.told if not one.fault.grave],
        "guards_missing": unguarded,
        "checked": dict(report.checked),
    }


def _line(told: VisitFault) -> str:
    return f"visit {told.visit.number}: {told.fault}" if told.visit else str(told.fault)
