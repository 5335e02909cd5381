"""A drive chain between two sprockets: how many links for a distance of the axles, and the other way round."""

from __future__ import annotations

import math

from witnessmark import decode, units
from witnessmark.calculators.engine_pictures import chain_run
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    maybe_amount,
    whole_number,
)
from witnessmark.calculators.rows import length

SOURCE = (
    "the chain formula of engineering handbooks, as in ISO 10823 (from memory); sizes of chains: "
    "ISO 606, ISO 10190"
)
FORMULA = "links = 2 × a / p + (z1 + z2) / 2 + ((z2 − z1) / 2π)² × p / a"
TEETH = (6, 120)  # judged by us
MOST_LINKS = 300  # judged by us
ODD = (
    "An odd number takes a cranked link, which is no link for a motorcycle: take an even one "
    "(common practice, no source)."
)
STRAIGHT = (
    "For a chain that is new and straight: slack comes off the distance. Look that the axle stands within its "
    "adjuster, and that chain and swinging arm clear."
)


def links_for(centre_mm: float, pitch_mm: float, small: int, large: int) -> float:
    """Links of a chain round two sprockets, not rounded."""
    a, k = centre_mm / pitch_mm, ((large - small) / (2 * math.pi)) ** 2
    return 2 * a + (small + large) / 2 + k / a


def centre_for(links: float, pitch_mm: float, small: int, large: int) -> float | None:
    """Distance of the axles in mm at which a chain of so many links is straight; None where it is too short."""
    straight, k = links - (small + large) / 2, ((large - small) / (2 * math.pi)) ** 2
    root = straight**2 - 8 * k
    return None if straight <= 0 or root < 0 else pitch_mm * (straight + math.sqrt(root)) / 4


def pitch_diameter(pitch_mm: float, teeth: int) -> float:
    """Diameter in mm on which the pins of a chain lie."""
    return pitch_mm / math.sin(math.pi / teeth)


def _links(inputs: Inputs) -> Calculated:
    read = decode.read_chain(str(inputs["chain"]), place="chain")
    pitch = read.chain.pitch_mm
    small, large = sorted(_teeth(inputs, name) for name in ("front", "rear"))
    least = (pitch_diameter(pitch, small) + pitch_diameter(pitch, large)) / 2
    centre, links = maybe_amount(inputs, "centre"), _counted(inputs, read.links)
    if centre is None and links is None:
        problem = "neither the distance of the axles nor the links are put in"
        raise CalculationError("centre", problem, "give one of the two")
    if centre and centre.value <= least:
        problem = f"at {centre.understood} the sprockets touch"
        raise CalculationError(
            "centre", problem, f"measure axle to shaft: more than {length(round(least, 1))}"
        )
    exact = links_for(centre.value, pitch, small, large) if centre else 0.0
    if exact > MOST_LINKS:
        problem = f"{exact:.0f} links are no chain of a motorcycle"
        raise CalculationError("centre", problem, "look at the unit, and measure axle to shaft")
    chosen = links or 2 * round(exact / 2)
    lines: list[tuple[str, str]] = [("computed", f"{exact:.2f} links")] if centre else []
    counts = [chosen] if links else [chosen, chosen + (2 if exact > chosen else -2)]
    lines += [(f"{one} links", _at(one, pitch, small, large, least, centre)) for one in counts]
    at = centre_for(chosen, pitch, small, large)
    if at is None or at <= least:
        problem = f"{chosen} links are too few for {small} and {large} teeth"
        raise CalculationError(
            "links" if links else "centre", problem, "count links and teeth again"
        )
    lines += [("two links move the axle by about", length(pitch))]
    lines += [("not a size", f"{read.rest}: the maker's own letters")] if read.rest else []
    odd = chosen % 2
    return Calculated(
        said=f"{chosen} links: the axles {length(round(at, 1))} apart.",
        lines=tuple(lines),
        formula=f"{FORMULA}; a: distance of the axles, p: pitch, z: teeth",
        put_in=(("chain", f"{read.chain.name}, pitch {pitch:g} mm"),),
        source=SOURCE,
        warnings=(
            *((ODD,) if odd else ()),
            STRAIGHT,
        ),
        picture=chain_run(
            (pitch_diameter(pitch, small), small), (pitch_diameter(pitch, large), large), at, chosen
        ),
    )  # fmt: skip


def _at(
    links: int, pitch: float, small: int, large: int, least: float, asked: units.Amount | None
) -> str:
    at = centre_for(links, pitch, small, large)
    if at is None or at <= least:
        return "too short"
    told = f"axles {length(round(at, 1))} apart"
    if asked is None:
        return told
    off = at - asked.value
    return f"{told}, {length(round(abs(off), 1))} {'more' if off > 0 else 'less'} than put in"


def _teeth(inputs: Inputs, name: str) -> int:
    teeth = whole_number(inputs, name)
    if not TEETH[0] <= teeth <= TEETH[1]:
        problem = f"{teeth} is no number of teeth of a sprocket"
        raise CalculationError(name, problem, f"count again: {TEETH[0]} to {TEETH[1]}")
    return teeth


def _counted(inputs: Inputs, marked: int | None) -> int | None:
    """The links put in, else those that stand with the size of the chain."""
    if "links" not in inputs:
        return marked
    links = whole_number(inputs, "links")
    if marked not in (None, links):
        problem = f"{links} links here, {marked} behind the size of the chain"
        raise CalculationError("links", problem, "give them once")
    if not 1 <= links <= MOST_LINKS:
        raise CalculationError(
            "links", f"{links} is no number of links", f"give up to {MOST_LINKS}"
        )
    return links


CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        name="chain-links",
        title="Chain length and links",
        text="Links for a distance of the axles, or where the axle stands with a number of links.",
        asked=(
            Asked("chain", "Chain", "words", "520 x 108", help="Its links may stand behind."),
            Asked("front", "Teeth in front", "number", "15"),
            Asked("rear", "Teeth behind", "number", "45"),
            Asked("centre", "Gearbox shaft to axle", "length", "600 mm", optional=True),
            Asked("links", "Links", "number", "108", optional=True,
                  help="All round. Distance or links, one is needed."),
        ),
        calculate=_links,
        caution="Never turn the wheel by the engine with a hand near chain or sprocket.",
        also=("chain slack", "chain adjuster", "gearing", "longer swingarm"),
    ),
)  # fmt: skip
