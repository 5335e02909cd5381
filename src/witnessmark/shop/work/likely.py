"""How likely a reading brings work on a model: what the book says, moved towards what was counted here."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, Q
from django.utils.translation import gettext as _

from witnessmark.book.model import Book
from witnessmark.book.model_step import OnlyIf
from witnessmark.planner import every_unknown
from witnessmark.shop.models import DecidedRow, Shop

BOOK_COUNTS_AS = 4  # visits: so much the book's figure weighs beside those counted. Judged by us


@dataclass(frozen=True, slots=True)
class Chance:
    """How likely an unknown is answered yes: ``book`` as the book says; ``yes`` of ``asked`` visits here."""

    book: float
    asked: int = 0
    yes: int = 0

    @property
    def likely(self) -> float:
        """The book's figure counted as so many visits, and those here: the mean of a beta distribution."""
        return (self.book * BOOK_COUNTS_AS + self.yes) / (BOOK_COUNTS_AS + self.asked)

    @property
    def words(self) -> str:
        """Example: ``3 of 7 here; the book says 30 % (invented)``."""
        book = percent(self.book)
        if not self.asked:
            return _("invented figure of the book: {percent}").format(percent=book)
        return _("{yes} of {asked} here; the book says {percent} (invented)").format(
            yes=self.yes, asked=self.asked, percent=book
        )


def likely(shop: Shop, book: Book) -> dict[str, float]:
    """How likely each unknown of a book is, where this shop has counted any; for `planner.compile_undecided`."""
    return {name: one.likely for name, one in chances(shop, book).items() if one.asked}


def chances(shop: Shop, book: Book) -> dict[str, Chance]:
    """Every unknown of a book by name, with what this shop has counted on visits of that model."""
    told = every_unknown(book)
    rows = DecidedRow.of(shop.pk).filter(book=book.name).order_by().values_list("unknown")
    counted = {
        name: (asked, yes)
        for name, asked, yes in rows.annotate(
            asked=Count("pk"), true=Count("pk", filter=Q(yes=True))
        )
    }
    return {
        name: Chance(prior, *counted.get(name, (0, 0))) for name, (_decides, prior) in told.items()
    }


def found(book: Book, terms: Iterable[str]) -> list[str]:
    """What readings must have told, in words; ``terms``: unknowns answered yes, with "!" before those answered no.

    Example: ``Depth of tread below 1.6 mm``.
    """
    told = every_unknown(book)
    return [
        f"{book.readings[decides.reading].text} {_way(book, decides, yes=not term.startswith('!'))}"
        for term in terms
        if (decides := told[term.removeprefix("!")][0] if term.removeprefix("!") in told else None)
    ]


def _way(book: Book, decides: OnlyIf, *, yes: bool) -> str:
    figure = decides.below or decides.above
    if figure is None:
        return _("outside its limits") if yes else _("within its limits")
    if decides.below:
        words = _("below {figure}") if yes else _("not below {figure}")
    else:
        words = _("above {figure}") if yes else _("not above {figure}")
    return words.format(figure=book.figures[figure].written)


def percent(share: float) -> str:
    """Example: ``30 %``; what is not quite nothing or all is not said to be."""
    if 0 < share < 0.005:
        return _("less than 1 %")
    if 0.995 < share < 1:
        return _("more than 99 %")
    return f"{share:.0%}".replace("%", "\u00a0%")
