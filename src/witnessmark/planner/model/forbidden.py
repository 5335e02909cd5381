"""What may at no instant hold together."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations, product

from ortools.sat.python import cp_model

from witnessmark.planner.model.outline import runs
from witnessmark.planner.model.variables import Linear, Literal, Stay, Variables


@dataclass(eq=False)
class Spell:
    """A time for which a condition counts as in certain states, being changed to and from included."""

    stay: Stay
    begin: Linear
    opens: int
    closes: int | None


def forbidden_combinations_never_hold(v: Variables) -> None:
    """Of the spells that make up a forbidden combination, some two do not meet."""
    for combination in v.outline.problem.never:
        several = [spells(v, name, states) for name, states in combination.items()]
        for together in product(*several):
            ways = [way for spell in together for way in _avoided(v, spell)]
            for earlier, later in permutations(together, 2):
                ways += _apart(v, earlier, later)
            v.cp.add_bool_or(ways)


def spells(v: Variables, name: str, states: tuple[str, ...]) -> list[Spell]:
    """All spells for which a condition may count as in one of the states."""
    found = []
    for stay in v.stays[name]:
        for opens, closes in runs(v.outline.conditions[name], stay.state, states):
            at_once = stay.by is not None and opens == 0
            begin = stay.by.start if at_once and stay.by is not None else stay.begin + opens
            found.append(Spell(stay, begin, opens, closes))
    return found


def _avoided(v: Variables, spell: Spell) -> list[cp_model.LiteralT]:
    """Ways in which a spell does not come about: its setter is left out, or it is left before."""
    ways: list[cp_model.LiteralT] = []
    if spell.stay.outside is not None:
        ways.append(spell.stay.outside)
    if spell.opens:
        early = v.literal()
        v.cp.add(spell.stay.left < spell.begin).only_enforce_if(early)
        ways.append(early)
    return ways


def _apart(v: Variables, earlier: Spell, later: Spell) -> list[Literal]:
    """Ways in which one spell is over when the other begins: left by a setter, or lapsed."""
    if later.stay.by is None and later.opens == 0:
        return []
    left = v.literal()
    v.cp.add(earlier.stay.gone <= later.begin).only_enforce_if(left)
    if earlier.closes is None:
        return [left]
    lapsed = v.literal()
    end = earlier.stay.begin + earlier.closes
    v.cp.add(end <= earlier.stay.left).only_enforce_if(lapsed)
    v.cp.add(end <= later.begin).only_enforce_if(lapsed)
    return [left, lapsed]
