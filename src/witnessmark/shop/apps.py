"""The one Django application."""

from django.apps import AppConfig
from django.core import checks
from django.db.models.signals import post_migrate


class ShopConfig(AppConfig):
    """Registers the guards of the ledger, put back after every migration, and the checks of the store."""

    name = "witnessmark.shop"
    label = "shop"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from witnessmark.shop import guards, opening  # noqa: PLC0415 - models are loaded only now

        post_migrate.connect(guards.put_back, sender=self, dispatch_uid="guards")
        checks.register(guards.check, checks.Tags.database)
        checks.register(opening.check, checks.Tags.files)
