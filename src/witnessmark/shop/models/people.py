"""The people who work in a shop, and the owners of machines."""

from datetime import date
from typing import Any

from django.conf import settings
from django.db import models, transaction
from django.utils.translation import gettext_lazy as _

from witnessmark.shop.models.base import ShopRow
from witnessmark.shop.models.changes import Recorded

DAYS = (_("Mon"), _("Tue"), _("Wed"), _("Thu"), _("Fri"), _("Sat"), _("Sun"))


def clock(minutes: int) -> str:
    """A minute of the day. Example: ``08:30``."""
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def every_day() -> list[int]:
    """All days of the week, Monday first."""
    return list(range(7))


class Member(Recorded, ShopRow):
    """A user of Django at work in a shop. One sign-in belongs to one shop, so an author is one person."""

    class Role(models.TextChoices):
        HEAD = "head", _("head of the shop")
        TECHNICIAN = "technician", _("technician")
        HELPER = "helper", _("helper")

    user = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="member"
    )
    role = models.CharField(max_length=12, choices=Role, default=Role.TECHNICIAN)
    at_the_bench = models.BooleanField(default=True)  # is planned with
    does_everything = models.BooleanField(default=True)
    skills = models.JSONField(
        default=list, blank=True
    )  # as books name them; else what asks for none
    hours = models.JSONField(
        default=list, blank=True
    )  # [[480, 720]]: minutes of the day; none: always
    weekdays = models.JSONField(default=every_day, blank=True)  # 0 is Monday

    def __str__(self) -> str:
        return self.user.get_full_name() or self.user.get_username()

    def about(self) -> str:
        """The person by name."""
        return f"Person: {self}"

    def words_of(self, name: str) -> str | None:
        """Days by name, hours as a clock shows them."""
        if name == "weekdays":
            return ", ".join(str(DAYS[day]) for day in self.weekdays)
        if name == "hours":
            return ", ".join(f"{clock(begin)}–{clock(end)}" for begin, end in self.hours)
        return None


class Owner(ShopRow):
    """Who owns a machine. The only place with personal data of owners, so that it can be erased."""

    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=60, blank=True)
    email = models.EmailField(blank=True)
    address = models.TextField(blank=True)
    language = models.CharField(
        "language of papers",
        max_length=7,
        choices=settings.LANGUAGES,
        default=settings.LANGUAGE_CODE,
    )
    erased_on = models.DateField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save; the machines are found by the new name."""
        new, written = self._state.adding, kwargs.get("update_fields")
        with transaction.atomic():
            super().save(*args, **kwargs)
            if not new and (written is None or "name" in written):
                for machine in self.machines.all():
                    machine.save(update_fields=["owner"])

    def erase(self, on: date) -> None:
        """Forget the person; machines and ledgers hold the id only, so they stay whole."""
        self.name, self.erased_on = "erased", on
        self.phone = self.email = self.address = ""
        self.save(update_fields=["name", "phone", "email", "address", "erased_on"])
