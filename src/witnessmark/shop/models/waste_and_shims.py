"""What stands in the store room: waste containers and what went into them, and shims in their box."""

from typing import Any

from django.core.validators import MinValueValidator
from django.db import models, transaction
from django.utils.translation import gettext_lazy as _

from witnessmark.days import day
from witnessmark.fluids.waste import STREAMS
from witnessmark.shop.models.base import ShopRow


class WasteContainer(ShopRow):
    """A container for one stream of waste. It is retired, never deleted: entries name it."""

    name = models.CharField(max_length=60)
    stream = models.CharField(max_length=24, choices=[(name, name) for name in STREAMS])
    capacity_ml = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    place = models.CharField(max_length=80, blank=True)
    retired_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["stream", "name", "id"]

    def __str__(self) -> str:
        return self.name


class WasteMove(ShopRow):
    """What was put into a container by hand, or collected from it. A mistyped one is taken back, not deleted."""

    class Kind(models.TextChoices):
        PUT_IN = "put in", _("put in")
        COLLECTED = "collected", _("collected")

    container = models.ForeignKey(WasteContainer, on_delete=models.PROTECT, related_name="moves")
    kind = models.CharField(max_length=10, choices=Kind)
    volume_ml = models.FloatField(validators=[MinValueValidator(0)])
    on = models.DateField()
    family = models.CharField(max_length=40, blank=True)  # of what was put in
    collector = models.CharField(max_length=80, blank=True)
    paper = models.CharField(max_length=80, blank=True)  # number of the consignment note
    note = models.CharField(max_length=400, blank=True)
    by = models.ForeignKey(
        "shop.Member", null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    made_at = models.DateTimeField(auto_now_add=True)
    taken_back_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["on", "made_at", "id"]
        indexes = [
            models.Index(fields=["shop", "on"], name="moves_of_a_day"),
            models.Index(fields=["container", "on"], name="moves_of_a_container"),
        ]

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save, and with it the level of the container (`sums`)."""
        with transaction.atomic():
            super().save(*args, **kwargs)

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {day(self.on)}"


class ShimStock(ShopRow):
    """Shims of one size in the box. ``kind`` tells what they fit: as the service book writes it."""

    kind = models.CharField(max_length=40)
    size_um = models.PositiveIntegerField(validators=[MinValueValidator(500)])
    count = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["kind", "size_um"]
        constraints = [
            models.UniqueConstraint(
                fields=["shop", "kind", "size_um"],
                name="one_row_per_shim_size",
                violation_error_message=_("This size is on the list already."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind}, {self.thickness}"

    @property
    def thickness(self) -> str:
        """Example: ``2.275 mm``."""
        return f"{self.size_um / 1000:.3f} mm"
