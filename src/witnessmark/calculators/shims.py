"""Valve shims: which goes where, so that fewest are bought."""

from __future__ import annotations

from collections import Counter

from witnessmark import units
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    Calculator,
    Inputs,
    amount,
    amounts,
    maybe_amount,
)
from witnessmark.calculators.places import placed
from witnessmark.calculators.rows import rows
from witnessmark.shims import Fitting, Shelf, Valve, Work, assign

AGAIN = (
    "Turn the engine twice by hand, feel for a hard stop, and measure every valve again before the "
    "starter is touched. Measured stone cold; limits are in the maker's manual."
)


@placed("valves", box="box", step="step", sizes="step", least="least", most="most")
def _shims(inputs: Inputs) -> Calculated:
    least, most = amount(inputs, "least").value, amount(inputs, "most").value
    valves = [
        Valve(name, measured.value, fitted.value, least, most)
        for name, (measured, fitted) in rows(
            inputs, "valves", "length", "mm", "valve", "inlet 1: 0.08 2.33", count=2
        )
    ]
    box = Counter(round(one.value, 4) for one in _box(inputs))
    step = maybe_amount(inputs, "step")
    work = assign(valves, Shelf(box, step.value if step else None))
    return Calculated(
        said=f"{_buy(work)}.",
        lines=tuple(_line(one) for one in work.fittings),
        formula="new shim = fitted shim + measured − target; fewest bought, then closest to the targets",
        put_in=(),
        source="plain arithmetic; an assignment problem, solved exactly",
    )


def _box(inputs: Inputs) -> list[units.Amount]:
    return amounts(inputs, "box", "length", "mm") if "box" in inputs else []


def _buy(work: Work) -> str:
    if work.to_buy:
        return "Buy " + ", ".join(f"{size:.3f} mm" for size in work.to_buy)
    moved = [one for one in work.fittings if one.source != "stays"]
    return "Nothing to buy" if moved else "Every shim stays: all valves are within limits"


def _line(one: Fitting) -> tuple[str, str]:
    was = units.show(one.valve.measured, "length")
    if one.source == "stays":
        return one.valve.name, f"{one.shim:.3f} mm stays; clearance {was}"
    where = {"came out": f"out of {one.came_from}", "box": "from the box", "to buy": "to buy"}
    what = f"{one.valve.fitted:.3f} out, {one.shim:.3f} mm in, {where[one.source]}"
    return one.valve.name, f"{what}; clearance {was}, then {units.show(one.clearance, 'length')}"


CALCULATORS: tuple[Calculator, ...] = (
    Calculator("shims", "Valve shims", "Which shim goes under which valve, so that fewest are bought.", (
        Asked("valves", "Valves: clearance, shim that is in", "lines", "inlet 1: 0.05 2.350\ninlet 2: 0.22 2.250",
              help="One a line, in millimetres."),
        Asked("least", "Clearance at least", "length", "0.10 mm"),
        Asked("most", "Clearance at most", "length", "0.15 mm"),
        Asked("box", "Shims in the box", "lines", "2.275\n2.400", optional=True, help="One a line, in millimetres."),
        Asked("step", "Sizes are sold in steps of", "length", "0.025 mm", optional=True,
              help="From 1.2 to 4 mm. Empty: none can be bought."),
    ), _shims, AGAIN,
       also=("valve clearance", "feeler gauge", "tappet", "valve lash", "bucket")),
)  # fmt: skip
