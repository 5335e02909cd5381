"""NLGI grades of grease by worked penetration (ASTM D217 / ISO 2137), in tenths of a millimetre at 25 °C."""

from __future__ import annotations

from witnessmark.fluids.volume import FluidError

# NLGI; grade 5 from memory, between its neighbours. The gaps between grades belong to none.
NLGI: dict[str, tuple[int, int]] = {
    "000": (445, 475), "00": (400, 430), "0": (355, 385), "1": (310, 340), "2": (265, 295),
    "3": (220, 250), "4": (175, 205), "5": (130, 160), "6": (85, 115),
}  # fmt: skip


def nlgi(penetration: float) -> str | None:
    """The grade of a worked penetration; None between two grades. Raises FluidError for what cannot be."""
    if not 0 < penetration <= 600:
        raise FluidError("penetration", f"{penetration:g} tenths of a millimetre", "give 85 to 475")
    return next((name for name, (low, high) in NLGI.items() if low <= penetration <= high), None)
