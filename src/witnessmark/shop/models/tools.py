"""What the shop works with: wrenches, fluids on the shelf, prices of parts."""

from calendar import monthrange
from datetime import date

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models

from witnessmark.shop.models.base import ShopRow


class Wrench(ShopRow):
    """A torque wrench: its range, the unit of its scale, and when it was last calibrated."""

    class Kind(models.TextChoices):
        CLICK = "click", "click"
        DIAL = "dial", "dial"
        ELECTRONIC = "electronic", "electronic"

    name = models.CharField(max_length=60)
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.CLICK)
    low_nm = models.FloatField(validators=[MinValueValidator(0)])
    high_nm = models.FloatField(validators=[MinValueValidator(0)])
    scale_unit = models.CharField(max_length=12, default="N·m")
    calibrated_on = models.DateField(null=True, blank=True)
    calibration_months = models.PositiveSmallIntegerField(default=12)
    certificate = models.CharField(max_length=80, blank=True)
    retired_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["low_nm", "high_nm", "name"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(low_nm__lt=models.F("high_nm")),
                name="wrench_range_is_a_range",
                violation_error_message="The low end of the range must be below the high end.",
            )
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def gives_value(self) -> bool:
        """Whether it can say the value reached; a click wrench has only a setting and a click."""
        return self.kind != self.Kind.CLICK

    @property
    def calibration_due(self) -> date | None:
        """The first day on which it no longer counts as calibrated; None: never was."""
        if self.calibrated_on is None:
            return None
        months = self.calibrated_on.year * 12 + self.calibrated_on.month - 1
        year, month = divmod(months + self.calibration_months, 12)
        last = monthrange(year, month + 1)[1]
        return date(year, month + 1, min(self.calibrated_on.day, last))

    def in_calibration(self, on: date) -> bool:
        """Whether its calibration covers the day `on`."""
        due = self.calibration_due
        return due is not None and self.calibrated_on is not None and self.calibrated_on <= on < due

    def reaches(self, torque_nm: float) -> bool:
        """Whether a torque (N·m) lies within its range."""
        return self.low_nm <= torque_nm <= self.high_nm


class StockPack(ShopRow):
    """A size in which the shop has a fluid, and its price."""

    fluid = models.CharField(max_length=60)  # id in the books
    family = models.CharField(max_length=40)
    grade = models.CharField(max_length=60, blank=True)
    name = models.CharField(max_length=120)
    size_ml = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    price_minor = models.PositiveIntegerField(null=True, blank=True)  # per pack, without tax
    in_stock = models.PositiveIntegerField(null=True, blank=True)  # empty: not counted

    class Meta:
        ordering = ["family", "name", "size_ml"]

    def __str__(self) -> str:
        return self.name


class PartPrice(ShopRow):
    """The price of a part; a book's own price goes before the one for all books."""

    part = models.CharField(max_length=60)  # id in the book
    book = models.CharField(max_length=60, blank=True)  # name of the book; empty: all
    name = models.CharField(max_length=120, blank=True)
    price_minor = models.PositiveIntegerField()

    class Meta:
        ordering = ["part", "book"]
        constraints = [
            models.UniqueConstraint(
                fields=["shop", "part", "book"],
                name="one_price_per_part",
                violation_error_message="This part has a price already.",
            )
        ]

    def __str__(self) -> str:
        return self.name or self.part

    def clean(self) -> None:
        """Refuse a part without an id."""
        if not self.part.strip():
            raise ValidationError({"part": "Write the part's id as in the service book."})
