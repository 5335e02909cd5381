"""The shop with its rules, and the people who work there."""

from datetime import date
from typing import Any
from zoneinfo import available_timezones

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator, RegexValidator
from django.db import models, transaction
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from witnessmark.shop.ids import new_id
from witnessmark.shop.models.base import ShopRow
from witnessmark.shop.models.changes import Recorded


def known_zone(name: str) -> None:
    """Raise ValidationError unless `name` is a zone of the IANA time zone database."""
    if name not in available_timezones():
        problem = gettext("{name}: no such time zone. Write one like Europe/Lisbon or UTC.")
        raise ValidationError(problem.format(name=name))


class Shop(Recorded):
    """One workshop: its name, money and rules. Every other row belongs to one.

    The rules of money have the names of `money.Rates`.
    """

    class Units(models.TextChoices):
        METRIC = "metric", _("metric (N·m, mm, km, °C)")
        US = "us", _("US (lbf·ft, in, mi, °F)")
        IMPERIAL = "imperial", _("imperial (lbf·ft, in, mi, °C)")

    class Fluids(models.TextChoices):
        VOLUME = "by volume", _("by the volume used")
        PACKS = "by opened packs", _("by whole bottles and cans opened")

    class Consumables(models.TextChoices):
        NONE = "none", _("not charged")
        LABOUR = "percent of labour", _("percent of labour")
        PARTS = "percent of parts", _("percent of parts")
        VISIT = "per visit", _("an amount per visit")

    class Disposal(models.TextChoices):
        NONE = "none", _("not charged")
        LITRE = "per litre", _("an amount per litre drained")
        FLUID = "per fluid", _("an amount per fluid drained")

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    name = models.CharField(max_length=120)
    address = models.TextField(blank=True)
    phone = models.CharField(max_length=60, blank=True)
    tax_number = models.CharField(max_length=60, blank=True)

    currency = models.CharField(max_length=3, default="EUR", validators=[RegexValidator(
        r"^[A-Z]{3}$", _("write the three letters of ISO 4217, like EUR"))])  # fmt: skip
    labour_per_hour = models.DecimalField(
        max_digits=12, decimal_places=4, default=0, validators=[MinValueValidator(0)]
    )
    labour_minimum = models.DecimalField(  # of each line
        max_digits=12, decimal_places=4, default=0, validators=[MinValueValidator(0)]
    )
    labour_step = models.DecimalField(  # labour of a line is rounded to a multiple of it; 0: not
        max_digits=12, decimal_places=4, default=0, validators=[MinValueValidator(0)]
    )
    flat_prices = models.JSONField(
        default=dict, blank=True
    )  # {"tourer": {"engine_oil": 4500}}: by book and job, labour in minor units
    tax_rates = models.JSONField(default=dict, blank=True)  # {"standard": "20"}: per cent, as text
    usual_tax = models.CharField(max_length=40, blank=True)  # name of the rate; empty: no tax
    taxed = models.JSONField(default=dict, blank=True)  # {"labour": "reduced"}: kinds under another
    fluids = models.CharField(
        "fluids are charged", max_length=20, choices=Fluids, default=Fluids.VOLUME
    )
    consumables = models.CharField(max_length=20, choices=Consumables, default=Consumables.NONE)
    consumables_amount = models.DecimalField(  # per cent, or money per visit
        max_digits=12, decimal_places=4, default=0, validators=[MinValueValidator(0)]
    )
    disposal = models.CharField(max_length=20, choices=Disposal, default=Disposal.NONE)
    disposal_amount = models.DecimalField(  # money per litre, or per fluid
        max_digits=12, decimal_places=4, default=0, validators=[MinValueValidator(0)]
    )
    estimate_text = models.TextField(blank=True)  # stands above the owner's signature

    time_zone = models.CharField(max_length=64, default="UTC", validators=[known_zone])
    locale = models.CharField(max_length=20, default="en_GB")
    units = models.CharField(max_length=10, choices=Units, default=Units.METRIC)

    lifts = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])
    resources = models.JSONField(default=dict, blank=True)  # {"press": 1}: what books call them
    change_minutes = models.DecimalField(  # a technician takes to go over to another machine
        max_digits=4, decimal_places=1, default=5, validators=[MinValueValidator(0)]
    )

    restores = models.PositiveIntegerField(
        default=0, editable=False
    )  # changed: send again what was sent
    backup_days = models.PositiveSmallIntegerField(default=7)  # told when it is older; 0: never

    refuse_unproven_wrench = models.BooleanField(default=False)
    refuse_override = models.BooleanField(default=False)  # where local law forbids the release

    untold = ("id",)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def untaxed(self) -> bool:
        """Whether it has tax rates, and none of them falls on anything."""
        return bool(self.tax_rates) and not self.usual_tax and not self.taxed

    def about(self) -> str:
        """The one shop of whoever reads it."""
        return "The shop"


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
