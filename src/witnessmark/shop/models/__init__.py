"""The tables, by subject."""

from witnessmark.shop.models.base import ForeignShopError, KeptRow, ShopRow
from witnessmark.shop.models.changes import ChangeKept
from witnessmark.shop.models.content import (
    BookRevision,
    DocumentKept,
    DocumentSeries,
    EstimateKept,
    KeptContent,
    KnownSender,
    PhotoKept,
    PlanKept,
    StoredBook,
)
from witnessmark.shop.models.entries import Clash, Entry, Receipt, Seal
from witnessmark.shop.models.machines import LastDoneKnown, Machine, RepairDraft, Visit
from witnessmark.shop.models.people import Member, Owner
from witnessmark.shop.models.projection_rows import (
    DecidedRow,
    DeclinedLine,
    DoubtfulMark,
    LastDoneRow,
    OpenItemRow,
    OwedRow,
    ProjectionRow,
    ReadingRow,
    VisitSummary,
    WasteLevel,
    WasteRow,
    WrenchDay,
    WrenchMark,
)
from witnessmark.shop.models.shop import Shop
from witnessmark.shop.models.tools import PartPrice, StockPack, Wrench, WrenchEvent
from witnessmark.shop.models.waste_and_shims import ShimStock, WasteContainer, WasteMove

__all__ = [
    "BookRevision", "ChangeKept", "Clash", "DecidedRow", "DeclinedLine", "DocumentKept", "DocumentSeries",
    "DoubtfulMark", "Entry", "EstimateKept",
    "ForeignShopError", "KeptContent", "KeptRow", "KnownSender", "LastDoneKnown", "LastDoneRow", "Machine", "Member",
    "OpenItemRow", "OwedRow", "Owner", "PartPrice", "PhotoKept", "PlanKept", "ProjectionRow", "ReadingRow", "Receipt",
    "RepairDraft", "Seal",
    "ShimStock", "Shop", "ShopRow", "StockPack", "StoredBook", "Visit", "VisitSummary", "WasteContainer",
    "WasteLevel", "WasteMove", "WasteRow", "Wrench", "WrenchDay", "WrenchEvent", "WrenchMark",
]  # fmt: skip
