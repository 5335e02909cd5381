"""The ledger as stored: entries, their seals, and what came in under an id already taken."""

from django.db import models

from witnessmark.shop.models.base import KeptRow
from witnessmark.shop.models.machines import Visit
from witnessmark.shop.models.people import Member


class Entry(KeptRow):
    """One thing that happened, as `witnessmark.ledger.entry.Entry` has it."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="entry_rows")
    kind = models.CharField(max_length=40)
    device = models.UUIDField()
    seq = models.PositiveIntegerField()  # of the device in this visit
    format = models.PositiveSmallIntegerField(default=1)
    prev = models.CharField(max_length=64, blank=True)  # empty: the device's first here
    seen = models.JSONField(default=dict)
    author = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    at = models.CharField(max_length=40)  # local time with offset, as written where it was made
    body = models.TextField()  # canonical JSON

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["visit", "device", "seq"], name="one_entry_per_device_and_number"
            )
        ]


class Seal(KeptRow):
    """The store's own mark on receipt: order, time, and the chain of one visit."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="seals")
    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="seal")
    number = models.PositiveIntegerField()  # 1, 2, … in the visit
    at = models.CharField(max_length=40)  # UTC
    entry_hash = models.CharField(max_length=64)
    prev = models.CharField(max_length=64, blank=True)

    class Meta:
        ordering = ["visit", "number"]
        constraints = [
            models.UniqueConstraint(fields=["visit", "number"], name="one_seal_per_number")
        ]


class Clash(KeptRow):
    """An entry that came under an id already stored, with other content: kept apart, and shown."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="clashes")
    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="clashes")
    author = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    kind = models.CharField(max_length=40)
    body = models.TextField()


class Receipt(KeptRow):
    """How a form was answered: the same form again is answered from it. Its id is the ticket's."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, null=True, related_name="receipts")
    member = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    form = models.CharField(max_length=64)  # SHA-256 of what was posted, without token and ticket
    to = models.TextField()  # where the answer led
    said = models.TextField(blank=True)
    entries = models.JSONField(default=list)  # ids of the entries it made
