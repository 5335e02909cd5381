"""Which wrench is in hand for each fastener of a card, with a crow-foot or without, as chosen on the page.

The choice is no entry: it travels in the address and in hidden fields, as `tool-<fastener>`, `reach-<fastener>`,
`angle-<fastener>`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from witnessmark import units
from witnessmark.ledger.worked import FastenerMark
from witnessmark.shop.forms import in_words
from witnessmark.shop.work.cards import Card, FastenerShown
from witnessmark.shop.work.evidence import EvidenceError, WrenchShown, all_wrenches
from witnessmark.shop.work.wrenches import OnShelf
from witnessmark.wrenches import CrowFoot, WrenchError

KEPT = ("tool", "reach", "angle")
NONE_LISTED = "none"  # a wrench that is not the shop's


@dataclass(frozen=True)
class FastenerGroup:
    """Fasteners of a card, the wrenches that can be taken for them, and the one in hand."""

    shown: FastenerShown
    every: tuple[WrenchShown, ...]  # the best first; those that cannot do it last
    chosen: str = ""
    reach: str = ""  # as typed
    angle: str = ""
    crow_foot: CrowFoot | None = None
    typed: str = ""
    fault: str = ""
    refused: EvidenceError | None = None  # the crow-foot, as it was typed

    @cached_property
    def wrenches(self) -> list[WrenchShown]:
        """Those that can be taken in hand."""
        return [one for one in self.every if one.fit.usable]

    @cached_property
    def unfit(self) -> list[WrenchShown]:
        """Those that cannot, each with its reason."""
        return [one for one in self.every if not one.fit.usable]

    @cached_property
    def wrench(self) -> WrenchShown | None:
        """The one in hand: the chosen one, else the best."""
        if self.chosen == NONE_LISTED or not self.wrenches:
            return None
        return next((w for w in self.wrenches if str(w.wrench.pk) == self.chosen), self.wrenches[0])

    @property
    def gone(self) -> bool:
        """Whether the chosen one cannot be taken any more."""
        taken = str(self.wrench.wrench.pk) if self.wrench else NONE_LISTED
        return self.chosen not in ("", taken)

    @cached_property
    def proving(self) -> list[WrenchShown]:
        """What could be taken instead and proves the figure, too."""
        return [one for one in self.wrenches if one is not self.wrench and one.proven]

    @cached_property
    def unproving(self) -> list[WrenchShown]:
        """What could be taken instead, and proves nothing."""
        return [one for one in self.wrenches if one is not self.wrench and not one.proven]

    @property
    def only_overdue(self) -> bool:
        """Whether there are wrenches for it, and each is overdue for its check."""
        checked = any(one.fit.standing.proves for one in self.wrenches)
        return bool(self.wrenches) and not checked

    @property
    def asks_value(self) -> bool:
        """Whether the one in hand says the value it reached, or nobody knows which it is."""
        return self.wrench is None or self.wrench.wrench.gives_value

    @property
    def turned(self) -> list[FastenerMark]:
        """Fasteners that kept turning or went past their value, and wait to be judged."""
        marks = self.shown.tally.marks if self.shown.tally else ()
        return [mark for mark in marks if mark.status == "kept turning"]


def groups(
    shelf: Sequence[OnShelf], card: Card, said: Mapping[str, str], problem: Mapping[str, str]
) -> list[FastenerGroup]:
    """The fasteners of a card; `said`: the address or the form, `wrong`: faults by field."""
    return [_group(shelf, shown, said, problem) for shown in card.fasteners]


def take(card: Card, said: Mapping[str, str]) -> dict[str, str]:
    """The form with a tapped button of another wrench laid over it: `take` is ``fastener/wrench``."""
    name, _, key = said.get("take", "").rpartition("/")
    choices = {**said}
    if any(shown.id == name for shown in card.fasteners):
        choices[f"tool-{name}"] = key
    bare = said.get("bare", "")
    if any(shown.id == bare for shown in card.fasteners):
        choices |= {f"reach-{bare}": "", f"angle-{bare}": ""}
    return choices


def travelling(card: Card, said: Mapping[str, str]) -> dict[str, str]:
    """What of a choice goes on in the address."""
    names = [f"{kept}-{shown.id}" for shown in card.fasteners for kept in KEPT]
    return {name: said[name][:60] for name in names if said.get(name)}


def _group(
    shelf: Sequence[OnShelf],
    shown: FastenerShown,
    said: Mapping[str, str],
    problem: Mapping[str, str],
) -> FastenerGroup:
    name = shown.id
    fault = next(
        (
            problem[f"{w}-{name}"]
            for w in ("reached", "figure", "reach", "angle")
            if f"{w}-{name}" in problem
        ),
        "",
    )
    group = FastenerGroup(
        shown=shown,
        every=(),
        chosen=said.get(f"tool-{name}", ""),
        reach=said.get(f"reach-{name}", "").strip(),
        angle=said.get(f"angle-{name}", "").strip(),
        typed=said.get(f"reached-{name}", ""),
        fault=fault,
    )
    try:
        crow_foot = read_crow_foot(group.reach, group.angle)
    except EvidenceError as error:
        return replace(group, fault=in_words(error), refused=error)
    found = tuple(all_wrenches(shelf, shown.figure, crow_foot))
    return replace(group, every=found, crow_foot=crow_foot)


def read_crow_foot(reach: str, angle: str) -> CrowFoot | None:
    """What was typed of a crow-foot; None where nothing was. A bare number is mm, or degrees."""
    if not reach:
        return None
    try:
        length = units.read(units.with_unit(reach, "mm"), "length").value
        turned = units.read(units.with_unit(angle or "0", "°"), "angle").value
        return CrowFoot(length, turned)
    except (units.QuantityError, WrenchError) as error:
        raise EvidenceError("reach", error.problem, error.expected) from error
