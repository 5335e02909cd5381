"""Documents kept by their hash: books, plans, estimates, invoices, photos; and whose books are taken in."""

from django.db import models

from witnessmark.shop.models.base import KeptRow, ShopRow
from witnessmark.shop.models.changes import Recorded


class KeptContent(KeptRow):
    """A document in its canonical bytes, found again by shop and SHA-256."""

    sha256 = models.CharField(max_length=64)
    content = models.BinaryField()
    kept_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        abstract = True


class BookRevision(KeptContent):
    """A service book after `extends`, whole, with its format number."""

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop", "sha256"], name="one_book_per_hash")]


class PlanKept(KeptContent):
    """A plan that was taken, with the problem it solves."""

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop", "sha256"], name="one_plan_per_hash")]


class EstimateKept(KeptContent):
    """An estimate as the owner saw it."""

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["shop", "sha256"], name="one_estimate_per_hash")
        ]


class DocumentKept(KeptContent):
    """A document as it was issued (`invoice.Document`), with its place in the run of numbers it is from."""

    series = models.CharField(max_length=40)
    number = models.PositiveIntegerField()  # 1, 2, … in the series, none left out
    name = models.CharField(max_length=60)  # the number as it is printed

    class Meta:
        ordering = ["series", "number"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "sha256"], name="one_document_per_hash"),
            models.UniqueConstraint(
                fields=["shop", "series", "number"], name="one_document_per_number"
            ),
            models.UniqueConstraint(fields=["shop", "name"], name="one_document_per_name"),
        ]

    def __str__(self) -> str:
        return self.name


class DocumentSeries(ShopRow):
    """A run of document numbers: locked while the next one is taken. The numbers are in `DocumentKept` alone."""

    name = models.CharField(max_length=40)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop", "name"], name="one_series_per_name")]

    def __str__(self) -> str:
        return self.name


class StoredBook(ShopRow):
    """A named service book of the shop and the revision that new visits pin."""

    name = models.CharField(max_length=60)  # id in the book
    title = models.CharField(max_length=200)
    text = models.TextField(blank=True)  # the TOML as written, to go on from
    current = models.ForeignKey(BookRevision, on_delete=models.PROTECT, related_name="+")
    changed_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["title"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "name"], name="one_stored_book_per_name")
        ]

    def __str__(self) -> str:
        return self.title


class PhotoKept(ShopRow):
    """A photo, its bytes on disk under its hash (`photos`). Erased: the hash and a note remain."""

    sha256 = models.CharField(max_length=64)
    media_type = models.CharField(max_length=20)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    kept_at = models.DateTimeField(auto_now_add=True)
    erased_on = models.DateField(null=True, blank=True)
    erased_because = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["shop", "sha256"], name="one_photo_per_hash")
        ]


class KnownSender(Recorded, ShopRow):
    """Another shop whose key was compared with it, under the name that it is remembered by here."""

    name = models.CharField(max_length=120)
    key = models.CharField(max_length=64)  # Ed25519 public key, in hex
    since = models.DateField(auto_now_add=True)

    untold = (*Recorded.untold, "since")

    class Meta:
        ordering = ["name"]
        verbose_name = "known sender"
        constraints = [
            models.UniqueConstraint(fields=["shop", "key"], name="one_known_sender_per_key")
        ]

    def __str__(self) -> str:
        return self.name
