"""What is read often, made from the entries alone: `witnessmark rebuild` makes it again, identically."""

from django.db import models

from witnessmark.shop.models.base import ShopRow
from witnessmark.shop.models.machines import Machine, Visit
from witnessmark.shop.models.tools import WrenchEvent


class ProjectionRow(ShopRow):
    """A row whose id follows from what it says, so that a rebuilt row is the same row."""

    id = models.UUIDField(primary_key=True, editable=False)

    class Meta:
        abstract = True


class VisitSummary(ProjectionRow):
    """One visit on one line."""

    visit = models.OneToOneField(Visit, on_delete=models.CASCADE, related_name="summary")
    machine = models.ForeignKey(Machine, on_delete=models.CASCADE, related_name="summaries")
    stage = models.CharField(max_length=12)  # arrival, needs, price, order, bench, handback, gone
    arrived_at = models.DateTimeField(null=True)
    arrived_on = models.DateField(null=True)  # the day where it was written down
    handed_back_at = models.DateTimeField(null=True)
    last_at = models.DateTimeField(null=True)
    wanted_by = models.DateField(null=True)
    complaint = models.TextField(blank=True)
    odometer_km = models.FloatField(null=True)
    book_revision = models.CharField(max_length=64, blank=True)
    jobs = models.JSONField(default=list)
    open_items = models.PositiveIntegerField(default=0)
    open_safety = models.PositiveIntegerField(default=0)
    call_back = models.PositiveIntegerField(default=0)  # open, unknown when it was handed back
    entries = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["-arrived_at", "-visit__number"]
        indexes = [
            models.Index(
                fields=["shop", "arrived_at"],
                name="visits_here",
                condition=models.Q(handed_back_at=None),
            ),
            models.Index(fields=["shop", "call_back"], name="visits_to_call_back"),
            models.Index(fields=["shop", "handed_back_at"], name="visits_handed_back"),
        ]


class OpenItemRow(ProjectionRow):
    """Something that must not leave the shop as it is."""

    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="open_items")
    item = models.CharField(max_length=200)
    words = models.TextField()
    where = models.CharField(max_length=200, blank=True)
    gate = models.CharField(max_length=24)
    safety = models.BooleanField()
    opened_by = models.JSONField(default=list)  # entries

    class Meta:
        ordering = ["visit", "item"]


class OwedRow(ProjectionRow):
    """What is open of a document; or, without a name and below nothing, what the owner has to get."""

    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="owed")
    owner = models.UUIDField(null=True)  # whose machine it was
    name = models.CharField(max_length=60, blank=True)  # the document's number
    on = models.DateField(null=True)
    due_on = models.DateField(null=True)
    currency = models.CharField(max_length=3)
    open_minor = models.BigIntegerField()

    class Meta:
        ordering = ["on", "name"]


class LastDoneRow(ProjectionRow):
    """A job of the book done whole in a visit that was handed back."""

    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="+")
    machine = models.ForeignKey(Machine, on_delete=models.CASCADE, related_name="last_done")
    job = models.CharField(max_length=60)
    on = models.DateField()
    km = models.FloatField(null=True)

    class Meta:
        ordering = ["machine", "job", "-on", "visit"]


class DeclinedLine(ProjectionRow):
    """A line of an estimate the owner said no to; it stays with the machine and comes up again."""

    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="+")
    machine = models.ForeignKey(Machine, on_delete=models.CASCADE, related_name="declined")
    line = models.CharField(max_length=100)  # job
    words = models.TextField()
    estimate = models.CharField(max_length=64)
    on = models.DateField()

    class Meta:
        ordering = ["machine", "line", "-on", "visit"]


class ReadingRow(ProjectionRow):
    """A value read on a machine, in base units."""

    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="+")
    machine = models.ForeignKey(Machine, on_delete=models.CASCADE, related_name="readings")
    reading = models.CharField(max_length=60)
    step = models.CharField(max_length=121)
    place = models.PositiveSmallIntegerField()  # which of a repeated reading
    quantity = models.CharField(max_length=20)
    value = models.FloatField(null=True)
    words = models.TextField(blank=True)
    text = models.TextField(blank=True)  # as written
    verdict = models.CharField(max_length=20)
    on = models.DateField()
    km = models.FloatField(null=True)
    entry = models.UUIDField()

    class Meta:
        ordering = ["machine", "reading", "on", "visit", "place"]


class DecidedRow(ProjectionRow):
    """What a reading of a visit decided: an unknown of its book, and whether it was so."""

    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="+")
    book = models.CharField(max_length=60)  # name
    unknown = models.CharField(max_length=200)  # `planner.unknown_name`
    yes = models.BooleanField()

    class Meta:
        ordering = ["visit", "unknown"]
        indexes = [models.Index(fields=["shop", "book", "unknown", "yes"], name="decided_counted")]


class WrenchMark(ProjectionRow):
    """A fastener made tight with a wrench of the shop: one cycle of it, and what it may have to answer for."""

    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="+")
    machine = models.ForeignKey(Machine, on_delete=models.CASCADE, related_name="+")
    wrench = models.UUIDField()
    entry = models.UUIDField()
    fastener = models.CharField(max_length=60)
    place = models.PositiveSmallIntegerField()
    words = models.TextField()
    safety = models.BooleanField()
    on = models.DateField()  # where it was written down
    at = models.DateTimeField()
    figure_nm = models.FloatField(null=True)
    low_nm = models.FloatField(null=True)
    high_nm = models.FloatField(null=True)
    shown_nm = models.FloatField()  # what the wrench was set to or showed
    got_nm = models.FloatField()  # at the fastener, by that
    stands = models.BooleanField()  # whether it is what keeps the fastener closed in its visit

    class Meta:
        ordering = ["at", "id"]
        indexes = [
            models.Index(fields=["wrench", "at"], name="marks_of_a_wrench"),
            models.Index(fields=["machine", "fastener", "place", "at"], name="marks_of_a_fastener"),
        ]


class WasteRow(ProjectionRow):
    """A fluid that was drained at the bench, and the container it went into."""

    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="+")
    machine = models.ForeignKey(Machine, on_delete=models.CASCADE, related_name="+")
    container = models.UUIDField(null=True)  # None: the shop had none for it
    into = models.CharField(max_length=400, blank=True)
    fluid = models.CharField(max_length=60)
    family = models.CharField(max_length=40)
    volume_ml = models.FloatField()
    on = models.DateField()
    step = models.CharField(max_length=121)
    entry = models.UUIDField()

    class Meta:
        ordering = ["on", "visit", "step", "fluid"]
        indexes = [
            models.Index(fields=["shop", "on"], name="waste_of_a_day"),
            models.Index(fields=["container", "on"], name="waste_in_a_container"),
        ]


# ---------------------------------------------------------------- over all visits of a shop


class WrenchDay(ProjectionRow):
    """How many fasteners were made tight with a wrench on one day: the marks of all visits, counted."""

    wrench = models.UUIDField()
    on = models.DateField()
    marks = models.IntegerField(default=0)

    class Meta:
        indexes = [models.Index(fields=["wrench", "on"], name="days_of_a_wrench")]


class WasteLevel(ProjectionRow):
    """What is in a waste container, in whole nanolitres, so that adding is exact whatever the order."""

    container = models.UUIDField(null=True)  # None: what went into no container
    drains = models.IntegerField(default=0)  # at the bench
    drained_nl = models.BigIntegerField(default=0)
    moved_nl = models.BigIntegerField(default=0)  # put in by hand, less what was collected


class DoubtfulMark(ProjectionRow):
    """A fastener to be made tight again, since a check found the wrench wrong that closed it (`doubtful`)."""

    event = models.ForeignKey(WrenchEvent, on_delete=models.CASCADE, related_name="+")
    machine = models.ForeignKey(Machine, on_delete=models.CASCADE, related_name="+")
    entry = models.UUIDField()  # of the mark
