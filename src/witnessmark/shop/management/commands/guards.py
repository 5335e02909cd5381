"""`witnessmark manage guards`: put the guards of the ledger back."""

from typing import Any

from django.core.management.base import BaseCommand

from witnessmark.shop import guards


class Command(BaseCommand):
    """Creates every guard anew and says which were missing."""

    help = "Put the guards of the ledger back into the database."
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        missing = guards.missing()
        guards.put_back()
        for name in missing:
            self.stdout.write(f"put back: {name}")
        if not missing:
            self.stdout.write("all guards stand")
