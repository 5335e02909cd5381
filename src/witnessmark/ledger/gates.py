"""Gates: one function, four thresholds. What stands in the way, in words, and what would close it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from witnessmark.book.model import Gate
from witnessmark.frozen import FrozenModel
from witnessmark.ledger import ids
from witnessmark.ledger.state import OpenItem, VisitState

# Kinds of items that tell of one thing.
ONE_THING = {"condition", "wont", "renewal", "circuit", "fastener"}
DEFECT_PAPERS = ("not to be ridden", "defect told and declined")


class GateResult(FrozenModel):
    """Whether a gate may be passed, what blocks it, and what was let through by name."""

    gate: Gate
    passes: bool
    blocking: tuple[OpenItem, ...]
    let_through: tuple[OpenItem, ...]  # hand-back only: overridden, and printed
    words: tuple[str, ...]  # lines for people: what blocks, then what an override brings


def gate(
    name: Gate,
    state: VisitState,
    *,
    heads: Mapping[str, int | None] | None = None,
    online: bool = True,
    refuse_override: bool = False,
) -> GateResult:
    """Judge one gate. Only hand-back knows overrides; the road test has none.

    ``heads``: per device that worked on the visit the number of the last entry it says it made,
    None where it has not been heard of since. ``online``: whether the store can be reached.
    ``refuse_override``: the shop never lets a safety-critical item through.
    """
    items = list(state.items.values())
    if name == "hand-back":
        items += [*_devices(state, heads or {}), *_network(online=online)]
    stands = [item for item in items if stands_before(name, item)]
    let = [i for i in stands if name == "hand-back" and _let(i, refuse=refuse_override)]
    blocking = [item for item in stands if item not in let]
    words = _lines(blocking)
    if any(item.override and item.override.paper == "not to be ridden" for item in let):
        words.append("not to be ridden: it leaves on a trailer")
    return GateResult(
        gate=name,
        passes=not blocking,
        blocking=tuple(blocking),
        let_through=tuple(let),
        words=tuple(words),
    )


def _lines(items: Iterable[OpenItem]) -> list[str]:
    return [in_words(line) for line in lines(items)]


def alike(items: Iterable[OpenItem]) -> list[list[OpenItem]]:
    """The items as lines for people: fasteners of one group that stand alike share one."""
    groups: dict[tuple[str, ...], list[OpenItem]] = {}
    for item in items:
        let = item.override.model_dump(exclude={"entry"}) if item.override else None
        groups.setdefault((*item.key.group, item.stands, str(let)), []).append(item)
    return list(groups.values())


def together(group: list[OpenItem]) -> OpenItem:
    """Several of a group as one: "wheel bolt, 2, 4 of 5: loosened, not made tight"."""
    places = tuple(place for item in group for place in item.places)
    return group[0].model_copy(update={"places": places})


def lines(items: Iterable[OpenItem]) -> list[OpenItem]:
    """The items as people count them: alike ones of a group as one."""
    return [together(group) for group in alike(items)]


def things(items: Iterable[OpenItem]) -> list[list[OpenItem]]:
    """The lines that people count, those that tell of one thing together: what one step closes."""
    found: dict[str, list[OpenItem]] = {}
    for item in lines(items):
        one = item.closed_by[0] if item.kind in ONE_THING and item.closed_by else item.id
        found.setdefault(one, []).append(item)
    return list(found.values())


def for_safety(items: Iterable[OpenItem]) -> set[str]:
    """Ids of the lines that concern safety: they do, or another line of the same thing does."""
    return {
        item.id for thing in things(items) if any(one.safety for one in thing) for item in thing
    }


def in_words(item: OpenItem) -> str:
    """One open item in a line: what, where, which card closes it."""
    parts = [item.words]
    if item.where:
        parts.append(f"where: {item.where}")
    if item.closed_by:
        parts.append("card: " + ", ".join(item.closed_by))
    if item.override:
        parts.append("the sign-off does not cover this: it needs a signed paper")
    return "; ".join(parts)


def stands_before(name: Gate, item: OpenItem) -> bool:
    """Whether this open item is this gate's affair.

    Starter and wheels on the ground: what the book puts before them. A safety-critical fastener
    that is only seated also stops the starter, an open one keeps the wheels off the ground: a
    wheel is tight, or it is off (common practice). Where the book gives a fastener a gate of its
    own, that one alone waits for it, and the ride.
    """
    fastener = item.kind == "fastener" and item.safety and not item.own_gate
    match name:
        case "starter":
            seated = item.stands in ("snug", "conflict", "void", "doubt", "want")
            return item.gate == "starter" or (fastener and seated)
        case "wheels on the ground":
            return item.gate == "wheels on the ground" or fastener
        case "road test":
            safety = item.safety and not item.ride and item.kind != "second look"
            return safety or item.gate in ("starter", "wheels on the ground", "road test")
        case "hand-back":
            return True


def _let(item: OpenItem, *, refuse: bool) -> bool:
    """Whether its override is enough: a safety-critical item needs a signed paper of its own."""
    if item.override is None:
        return False
    if not item.safety:
        return True
    return item.override.paper in DEFECT_PAPERS and not refuse  # such a paper has its signature


def _devices(state: VisitState, heads: Mapping[str, int | None]) -> Iterator[OpenItem]:
    """Devices with entries that have not come in; a lost one can only be let through by name."""
    for device in sorted({*state.unreported, *heads}):
        missing = list(state.unreported.get(device, ()))
        told, had = heads.get(device, 0), state.heads.get(device, 0)
        if missing:
            words = "entries not come in: " + ", ".join(map(str, missing))
        elif told is None:
            words = "has not said what its last entry was"
        elif told > had:
            words = f"entries not come in: {had + 1} to {told}"
        else:
            continue
        item = ids.device(device)
        yield OpenItem(
            id=item,
            text=f"device {device[:8]}",
            how=words,
            override=state.overrides.get(item),
        )


def _network(*, online: bool) -> Iterator[OpenItem]:
    if not online:
        how = "other devices' entries may be missing"
        yield OpenItem(id=ids.NETWORK, text="no network", how=how)
