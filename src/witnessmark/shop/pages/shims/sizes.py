"""The shims of a visit: the valves as read, the box, the plan that buys fewest, and what was fitted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from django.utils.translation import gettext as _

from witnessmark import units
from witnessmark.book.figures import limits
from witnessmark.book.model import Shims
from witnessmark.shims import Fitting, Shelf, ShimError, Valve, assign, read_stamp
from witnessmark.shims import Work as Plan
from witnessmark.shop.forms import in_words
from witnessmark.shop.models import ShimStock, Shop
from witnessmark.shop.store import EntryDraft
from witnessmark.shop.work.visit import Work

Said = Mapping[str, str]


@dataclass(frozen=True)
class ValveShown:
    """One valve as the page asks for it."""

    name: str  # "Inlet 1"
    key: str  # of its fields: "inlet-1"
    measured: str  # as read or typed
    fitted: str
    least: float | None
    most: float | None
    target: float | None
    within: bool | None  # None: not read yet
    faults: tuple[str, ...] = ()

    @property
    def window(self) -> str:
        """Example: ``0.08 to 0.14 mm``."""
        if self.least is None or self.most is None:
            return _("limits missing")
        return _("{least} to {most} mm").format(least=f"{self.least:g}", most=f"{self.most:g}")


@dataclass(frozen=True)
class ShimKind:
    """The valves that take shims of one kind, the box of these shims, and the sizes sold."""

    kind: str
    key: str
    valves: tuple[ValveShown, ...]
    box: tuple[ShimStock, ...]
    sold: Mapping[str, str]  # least, most, step: as typed or as the book has it
    plan: Plan | None = None
    fault: str = ""

    @property
    def to_buy_in_words(self) -> str:
        """Sizes to buy, in words."""
        return ", ".join(f"{size:.3f} mm" for size in self.plan.to_buy) if self.plan else ""

    @property
    def into_the_box(self) -> str:
        """What came out and goes into the box."""
        return ", ".join(f"{size:.3f} mm" for size in self.plan.left_over) if self.plan else ""


@dataclass(frozen=True)
class ShimWork:
    """All kinds of one step."""

    step: str
    kinds: tuple[ShimKind, ...]
    every: bool  # also valves within limits are set to the target

    @property
    def plans(self) -> tuple[Plan, ...]:
        """The plans, where every kind has one."""
        found = tuple(kind.plan for kind in self.kinds if kind.plan)
        return found if len(found) == len(self.kinds) else ()


def shim_work(work: Work, step: str, said: Said) -> ShimWork:
    """The shims of a step, worked out where ``said`` (the fields of the page) asks for it."""
    asked, every = "work" in said, "every" in said
    groups: dict[str, list[str]] = {}
    for name in work.steps[step].shims:
        groups.setdefault(work.book.shims[name].kind, []).append(name)
    kinds = tuple(
        _kind(work, f"kind-{n}", kind, names, said, asked=asked, every=every)
        for n, (kind, names) in enumerate(groups.items(), 1)
    )
    return ShimWork(step, kinds, every)


def _kind(
    work: Work, key: str, kind: str, names: list[str], said: Said, *, asked: bool, every: bool
) -> ShimKind:
    groups = [(name, work.book.shims[name]) for name in names]
    shown = [one for name, group in groups for one in _valves(work, name, group, said)]
    box = tuple(ShimStock.of(work.visit.shop).filter(kind=kind))
    sold = {
        end: said.get(f"{key}-{end}", getattr(groups[0][1], end) or "")
        for end in ("least", "most", "step")
    }
    bare = ShimKind(kind, key, tuple(shown), box, sold)
    return _worked_out(bare, every=every) if asked else bare


def _worked_out(kind: ShimKind, *, every: bool) -> ShimKind:
    read: list[Valve] = []
    shown: list[ValveShown] = []
    for one in kind.valves:
        valve, faults = _read(one)
        shown.append(replace(one, faults=faults))
        read += [valve] if valve else []
    kind = replace(kind, valves=tuple(shown))
    if len(read) < len(shown):
        return kind
    try:
        return replace(kind, plan=assign(read, _shelf(kind), all_valves=every))
    except (ShimError, units.QuantityError) as error:
        return replace(kind, fault=in_words(error))


def _valves(work: Work, name: str, group: Shims, said: Said) -> Iterator[ValveShown]:
    reading = work.book.readings[group.found]
    least, most = limits(work.book, reading)
    aimed = work.book.figures[group.target].in_base("value") if group.target else None
    found = {one.index: one for one in work.state.readings if one.reading == group.found}
    for n in range(1, reading.repeat + 1):
        taken = found.get(n)
        verdict = None if taken is None else taken.verdict == "within"
        measured = f"{taken.value:g} mm" if taken and taken.value is not None else ""
        yield ValveShown(
            f"{group.text} {n}" if reading.repeat > 1 else group.text,
            f"{name}-{n}",
            said.get(f"measured-{name}-{n}", measured),
            said.get(f"fitted-{name}-{n}", _fitted_before(work, group, n)),
            least,
            most,
            aimed,
            verdict,
        )


def _fitted_before(work: Work, group: Shims, n: int) -> str:
    """The shim that was written down last on this visit."""
    name = f"{group.text} {n}"
    every = [v for said in work.state.shims.values() for v in said.valves if v.valve == name]
    return f"{every[-1].now_mm:.3f} mm" if every else ""


def _read(one: ValveShown) -> tuple[Valve | None, tuple[str, ...]]:
    """The valve, or what is wrong with what was typed of it."""
    faults: list[str] = []
    values: list[float] = []
    asked = ((_("Clearance"), one.measured, _length), (_("Shim"), one.fitted, _thickness))
    for label, text, read in asked:
        try:
            values.append(read(text))
        except (units.QuantityError, ShimError) as error:
            faults.append(f"{label}: {in_words(error)}")
    if one.least is None or one.most is None:
        faults.append(
            _("The book’s limits are missing: enter them on the bench, with their source.")
        )
    if faults:
        return None, tuple(faults)
    try:
        measured, shim = values
        return Valve(one.name, measured, shim, one.least or 0.0, one.most or 0.0, one.target), ()
    except ShimError as error:
        return None, (in_words(error),)


def _thickness(text: str) -> float:
    """Of a shim, as it was measured: its stamp is no measure."""
    typed = text.strip()
    if typed.isdecimal() and len(typed) > 2:
        stamp = f"{read_stamp(typed):.3f}"
        problem = _("{typed} reads like the stamp of {thickness} mm")
        expected = _("stamps are worn and sometimes wrong: measure it, and write it like {example}")
        raise ShimError(
            "shim",
            problem.format(typed=typed, thickness=stamp),
            expected.format(example=stamp),
        )
    return _length(text)


def _length(text: str) -> float:
    if not text.strip():
        raise ShimError("length", _("not measured"), _("write it in millimetres"))
    return units.read(units.with_unit(text, "mm"), "length").value


def _shelf(kind: ShimKind) -> Shelf:
    box = {row.size_um / 1000: row.count for row in kind.box}
    if not kind.sold["step"]:
        return Shelf(box, None)
    sizes = {
        end: units.read(units.with_unit(text, "mm"), "length", place=end).value
        for end, text in kind.sold.items()
        if text
    }
    return Shelf(box, **sizes)


# ---------------------------------------------------------------- fitted


def fitted(made: ShimWork) -> EntryDraft:
    """The entry: what each valve got, before and after."""
    return "shims_fitted", {
        "step": made.step,
        "valves": [_said(one) for plan in made.plans for one in plan.fittings],
    }


def _said(one: Fitting) -> dict[str, Any]:
    return {
        "valve": one.valve.name,
        "measured_mm": one.valve.measured,
        "was_mm": one.valve.fitted,
        "now_mm": one.shim,
        "source": one.source,
    }


def move_box(shop: Shop, made: ShimWork) -> None:
    """Take what was fitted out of the box, and put in what came out."""
    for kind in made.kinds:
        assert kind.plan
        for one in kind.plan.fittings:
            if one.source == "box":
                _count(shop, kind.kind, one.shim, -1)
        for size in kind.plan.left_over:
            _count(shop, kind.kind, size, 1)


def _count(shop: Shop, kind: str, size_mm: float, change: int) -> None:
    row, _ = ShimStock.of(shop).get_or_create(
        kind=kind, size_um=round(size_mm * 1000), defaults={"count": 0, "shop": shop}
    )
    row.count = max(0, row.count + change)
    row.save(update_fields=["count"])
