"""What the shop works with: wrenches, fluids on the shelf, prices of parts."""

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from witnessmark.days import day
from witnessmark.money import amount_text
from witnessmark.shop.models.base import ShopRow
from witnessmark.shop.models.changes import Recorded
from witnessmark.shop.models.shop import Shop
from witnessmark.wrenches.standard import CYCLES, MONTHS


class Wrench(Recorded, ShopRow):
    """A torque wrench as the shop owns or borrows it. What it may prove is calculated by `witnessmark.wrenches`."""

    class Kind(models.TextChoices):
        CLICK = "click", _("click")
        DIAL = "dial", _("dial")
        ELECTRONIC = "electronic", _("electronic")

    CLASS_OF = {Kind.CLICK: "II A", Kind.DIAL: "I B", Kind.ELECTRONIC: "I C"}  # where none is told

    name = models.CharField(max_length=60)
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.CLICK)
    tool_class = models.CharField(
        max_length=4, blank=True
    )  # of ISO 6789-1; empty: usual for its kind
    low_nm = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0)]
    )  # empty: 20 %
    high_nm = models.FloatField(validators=[MinValueValidator(0)])
    scale_unit = models.CharField(max_length=12, default="N·m")
    step = models.FloatField(null=True, blank=True)  # in the unit of the scale; empty: not told
    arm_mm = models.FloatField(null=True, blank=True)  # square to where the hand pulls
    deviation_percent = models.FloatField(null=True, blank=True)  # empty: by class
    calibration_months = models.PositiveSmallIntegerField(default=MONTHS)
    most_cycles = models.PositiveIntegerField(default=CYCLES)
    cycles_told = models.PositiveIntegerField(
        default=0
    )  # since its last check, beside those at the bench
    borrowed_from = models.CharField(max_length=80, blank=True)
    back_by = models.DateField(null=True, blank=True)
    given_back_on = models.DateField(null=True, blank=True)
    retired_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["high_nm", "name"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(low_nm=None) | models.Q(low_nm__lt=models.F("high_nm")),
                name="wrench_range_is_a_range",
                violation_error_message=_("The low end of the range must be below the high end."),
            )
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def gives_value(self) -> bool:
        """Whether it can say the value reached; a click wrench has only a setting and a click."""
        return self.kind != self.Kind.CLICK


class WrenchEvent(Recorded, ShopRow):
    """What happened to a wrench: a calibration, a check in house, a fall. A mistyped one is taken back, not deleted."""

    class Kind(models.TextChoices):
        LABORATORY = "laboratory", _("calibrated by a laboratory")
        LEVER = "lever", _("checked with a weight on a lever")
        REFERENCE = "reference", _("checked against a reference wrench")
        DROPPED = "dropped", _("dropped or overloaded")

    wrench = models.ForeignKey(Wrench, on_delete=models.CASCADE, related_name="events")
    kind = models.CharField(max_length=10, choices=Kind)
    on = models.DateField()
    at = models.DateTimeField(null=True, blank=True)  # the instant; None: only the day is known
    certificate = models.CharField(max_length=80, blank=True)
    points = models.JSONField(default=list, blank=True)  # [shown N·m, true N·m], …
    uncertainty_percent = models.FloatField(default=0)  # of the method; 0: not told
    adjusted = models.BooleanField(default=False)  # put right after it was found so
    note = models.CharField(max_length=400, blank=True)
    by = models.ForeignKey(
        "shop.Member", null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    made_at = models.DateTimeField(auto_now_add=True)
    taken_back_at = models.DateTimeField(null=True, blank=True)

    untold = (*Recorded.untold, "wrench", "by", "made_at")

    class Meta:
        ordering = ["on", "made_at", "id"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {day(self.on)}"

    def about(self) -> str:
        """The wrench and what happened to it."""
        return f"Wrench: {self.wrench}, {self.get_kind_display()}"

    def words_of(self, name: str) -> str | None:
        """What was shown and what it truly was."""
        if name == "points":
            return ", ".join(f"{shown:g} N·m was {true:g} N·m" for shown, true in self.points)
        return None


class StockPack(Recorded, ShopRow):
    """A size in which the shop has a fluid, and its price."""

    fluid = models.CharField(max_length=60)  # id in the books
    family = models.CharField(max_length=40)
    grade = models.CharField(max_length=60, blank=True)
    rating = models.CharField(max_length=60, blank=True)  # "JASO MA2", "API GL-5"
    name = models.CharField(max_length=120)
    size_ml = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    price_minor = models.PositiveIntegerField(  # per pack, without tax
        "price", null=True, blank=True
    )
    in_stock = models.PositiveIntegerField(null=True, blank=True)  # empty: not counted

    class Meta:
        ordering = ["family", "name", "size_ml"]

    def __str__(self) -> str:
        return self.name

    def words_of(self, name: str) -> str | None:
        """The price as money."""
        return _money(self.shop, self.price_minor) if name == "price_minor" else None


class PartPrice(Recorded, ShopRow):
    """The price of a part; a book's own price goes before the one for all books."""

    part = models.CharField(max_length=60)  # id in the book
    book = models.CharField(max_length=60, blank=True)  # name of the book; empty: all
    name = models.CharField(max_length=120, blank=True)
    price_minor = models.PositiveIntegerField("price")
    delivery_days = models.PositiveSmallIntegerField(null=True, blank=True)  # None: not known

    untold = (*Recorded.untold, "part", "book", "name")

    class Meta:
        ordering = ["part", "book"]
        constraints = [
            models.UniqueConstraint(
                fields=["shop", "part", "book"],
                name="one_price_per_part",
                violation_error_message=_("This part has a price already."),
            )
        ]

    def __str__(self) -> str:
        return self.name or self.part

    def about(self) -> str:
        """The part, and for which book."""
        return f"Price of a part: {self}{f', {self.book}' if self.book else ''}"

    def words_of(self, name: str) -> str | None:
        """The price as money."""
        return _money(self.shop, self.price_minor) if name == "price_minor" else None

    def clean(self) -> None:
        """Refuse a part without an id."""
        if not self.part.strip():
            raise ValidationError({"part": _("Write the part’s id as in the service book.")})


def _money(shop: Shop, minor: int | None) -> str:
    return "" if minor is None else amount_text(minor, shop.currency, shop.locale)
