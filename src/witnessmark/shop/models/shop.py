"""The shop and its rules: money, hours, languages."""

from zoneinfo import available_timezones

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator, RegexValidator
from django.db import models
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from witnessmark.shop.ids import new_id
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

    class NoTax(models.TextChoices):  # as `invoice.Treatment` has them
        ZERO = "zero", _("a rate of 0 per cent")
        EXEMPT = "exempt", _("exempt from tax")
        SMALL = "small business", _("a small business charges none")

    class Leaves(models.TextChoices):
        PAID = "paid", _("only when all is paid")
        ISSUED = "issued", _("when the invoice is issued")
        ALWAYS = "always", _("whenever nothing is open on it")

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
    delay_per_day = models.DecimalField(  # what a day's delay costs the shop; 0: not told
        max_digits=12, decimal_places=4, default=0, validators=[MinValueValidator(0)]
    )
    return_cost = models.DecimalField(  # of sending one kind of part back, whatever its price
        max_digits=12, decimal_places=4, default=0, validators=[MinValueValidator(0)]
    )
    return_percent = models.DecimalField(  # of its price, kept by who takes a part back
        max_digits=5, decimal_places=2, default=0, validators=[MinValueValidator(0)]
    )
    estimate_text = models.TextField(blank=True)  # stands above the owner's signature

    country = models.CharField(max_length=2, blank=True, validators=[RegexValidator(
        r"^[A-Z]{2}$", _("write the two letters of ISO 3166, like PT"))])  # fmt: skip
    vat_number = models.CharField(max_length=40, blank=True)
    iban = models.CharField(max_length=42, blank=True)
    bic = models.CharField(max_length=11, blank=True)
    invoice_text = models.TextField(blank=True)  # what law or custom wants on every invoice
    no_tax = models.CharField(max_length=20, choices=NoTax, default=NoTax.ZERO)
    no_tax_text = models.TextField(blank=True)  # why no tax is charged where none is
    payment_days = models.PositiveSmallIntegerField(default=14)
    yearly_numbers = models.BooleanField(default=True)  # documents are numbered anew each year
    invoice_prefix = models.CharField(max_length=12, default="INV-")
    advance_prefix = models.CharField(max_length=12, default="ADV-")
    credit_prefix = models.CharField(max_length=12, default="CRN-")
    receipt_prefix = models.CharField(max_length=12, default="RCT-")
    storage_day_minor = models.PositiveBigIntegerField(null=True, blank=True)  # without tax
    leaves = models.CharField(max_length=10, choices=Leaves, default=Leaves.ALWAYS)

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
