"""Machines, what is known of their past, and their visits."""

from collections.abc import Mapping
from typing import Any

from django.core.validators import MinValueValidator
from django.db import models, transaction
from django.utils.translation import gettext_lazy as _

from witnessmark.shop.models.base import ShopRow
from witnessmark.shop.models.content import StoredBook
from witnessmark.shop.models.found_by import FoundBy
from witnessmark.shop.models.people import Owner


class Machine(ShopRow):
    """One motorcycle."""

    owner = models.ForeignKey(
        Owner, on_delete=models.PROTECT, null=True, blank=True, related_name="machines"
    )
    book = models.ForeignKey(
        StoredBook, on_delete=models.PROTECT, null=True, blank=True, related_name="machines"
    )
    maker = models.CharField(max_length=80)
    model = models.CharField(max_length=80)
    year = models.PositiveSmallIntegerField(null=True, blank=True)
    identification = models.CharField("identification number", max_length=40, blank=True)
    plate = models.CharField(max_length=20, blank=True)
    colour = models.CharField(max_length=40, blank=True)
    note = models.TextField(blank=True)
    found_by = FoundBy(codes=("plate", "identification"), names=("maker", "model", "owner.name"))

    class Meta:
        ordering = ["maker", "model", "plate"]
        indexes = [
            models.Index(  # with what a search looks at: only rows that are found are read
                fields=["shop", "maker", "model", "plate", "found_by"], name="machines_to_find"
            )
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["shop", "identification"],
                condition=~models.Q(identification=""),
                name="one_machine_per_identification",
                violation_error_message=_("Another machine has this identification number."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.maker} {self.model}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save. Where only some fields are written, it is found by the others as they stand in the database."""
        written = kwargs.get("update_fields")
        column: Any = self._meta.get_field("found_by")
        with transaction.atomic():
            super().save(*args, **kwargs)
            if written is not None and not column.sources.isdisjoint(written):
                rows = Machine.objects.select_related("owner").select_for_update(of=("self",))
                Machine.objects.filter(pk=self.pk).update(found_by=column.of(rows.get(pk=self.pk)))


class LastDoneKnown(ShopRow):
    """When a job was last done as records or the owner's word have it; the newest row of a job counts."""

    class Known(models.TextChoices):
        RECORD = "record", _("by record")
        WORD = "word", _("owner says")
        NEVER = "never", _("never known")

    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="last_done_known")
    job = models.CharField(max_length=60)
    known = models.CharField(max_length=6, choices=Known)
    km = models.FloatField(null=True, blank=True, validators=[MinValueValidator(0)])
    on = models.DateField(null=True, blank=True)
    source = models.CharField(max_length=200, blank=True)
    told_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["machine", "job", "-told_at", "-id"]

    def __str__(self) -> str:
        return f"{self.job}: {self.get_known_display()}"


class Visit(ShopRow):
    """One stay of one machine: its identity only. What happened is in its entries (`store`)."""

    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="visits")
    number = models.PositiveIntegerField()  # counts up in the shop; on tags and papers
    opened_at = models.DateTimeField(auto_now_add=True)
    # the shop's rule on that day: changing it later must not open what was closed under it
    refuse_unproven_wrench = models.BooleanField(default=False)

    seen: Mapping[str, int] | None = None  # no column: what was read for the page, for its tickets

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "number"], name="one_visit_per_number")
        ]

    def __str__(self) -> str:
        return f"visit {self.number}"


class RepairDraft(ShopRow):
    """A repair that is half written: nothing counts of it before it is written down as an entry."""

    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="repair_drafts")
    repair = models.CharField(max_length=60, blank=True)  # the one it changes; empty: a new one
    said = models.JSONField()  # `shop.work.repair_draft`
    changed_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["repair"]
        constraints = [
            models.UniqueConstraint(fields=["visit", "repair"], name="one_draft_per_repair")
        ]

    def __str__(self) -> str:
        return f"half-written repair of {self.visit}"
