"""The one Django application."""

from django.apps import AppConfig
from django.core import checks
from django.db.models.signals import post_delete, post_migrate, post_save


class ShopConfig(AppConfig):
    """Registers the guards of the ledger, put back after every migration, the checks of the store, and who keeps
    the sums that follow from rows of pages.
    """

    name = "witnessmark.shop"
    label = "shop"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from witnessmark.shop import guards, opening, store, sums  # noqa: PLC0415 - models are loaded only now
        from witnessmark.shop.models import WasteMove, Wrench, WrenchEvent  # noqa: PLC0415
        from witnessmark.shop.work import doubtful  # noqa: PLC0415

        for signal in (post_save, post_delete):
            signal.connect(sums.keep_moved, WasteMove)
            signal.connect(doubtful.keep, WrenchEvent)
        post_save.connect(doubtful.keep, Wrench)
        post_migrate.connect(store.first_sums, sender=self, dispatch_uid="sums")
        post_migrate.connect(guards.put_back, sender=self, dispatch_uid="guards")
        checks.register(guards.check, checks.Tags.database)
        checks.register(opening.check, checks.Tags.files)
