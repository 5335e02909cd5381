"""The tables, by subject."""

from witnessmark.shop.models.base import ForeignShopError, KeptRow, ShopRow
from witnessmark.shop.models.changes import ChangeKept
from witnessmark.shop.models.content import (
    BookRevision,
    EstimateKept,
    KeptContent,
    PhotoKept,
    PlanKept,
    StoredBook,
)
from witnessmark.shop.models.entries import Clash, Entry, Receipt, Seal
from witnessmark.shop.models.machines import LastDoneKnown, Machine, Visit
from witnessmark.shop.models.people import Member, Owner, Shop
from witnessmark.shop.models.projections import (
    DeclinedLine,
    DoubtfulMark,
    LastDoneRow,
    OpenItemRow,
    ProjectionRow,
    ReadingRow,
    VisitSummary,
    WasteLevel,
    WasteRow,
    WrenchDay,
    WrenchMark,
)
from witnessmark.shop.models.store_room import ShimStock, WasteContainer, WasteMove
from witnessmark.shop.models.tools import PartPrice, StockPack, Wrench, WrenchEvent

__all__ = [
    "BookRevision", "ChangeKept", "Clash", "DeclinedLine", "DoubtfulMark", "Entry", "EstimateKept",
    "ForeignShopError", "KeptContent", "KeptRow", "LastDoneKnown", "LastDoneRow", "Machine", "Member", "OpenItemRow",
    "Owner", "PartPrice", "PhotoKept", "PlanKept", "ProjectionRow", "ReadingRow", "Receipt", "Seal", "ShimStock",
    "Shop", "ShopRow", "StockPack", "StoredBook", "Visit", "VisitSummary", "WasteContainer", "WasteLevel", "WasteMove",
    "WasteRow", "Wrench", "WrenchDay", "WrenchEvent", "WrenchMark",
]  # fmt: skip
