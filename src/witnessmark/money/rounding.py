"""Rounding and sharing, exact: integers of the minor unit from fractions of it."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction


def half_up(value: Fraction | Decimal) -> int:
    """The nearest whole number; halves away from zero, so that a credit mirrors its charge.

    EN 16931 leaves the direction to national law; half-up is what most of it says.
    """
    exact = Fraction(value)
    whole = (2 * abs(exact.numerator) + exact.denominator) // (2 * exact.denominator)
    return whole if exact >= 0 else -whole


def share_equally(total: int, among: int) -> list[int]:
    """Divide a whole number equally; what remains goes to the first, one each. Sums to the total."""
    each, rest = divmod(total, among)
    return [each + 1] * rest + [each] * (among - rest)


def share_by_weight(total: int, weights: Sequence[Fraction]) -> list[int]:
    """Divide a whole number in proportion; largest remainders first, then order. Sums to the total.

    Without any weight it is shared equally.
    """
    whole = sum(weights, Fraction(0))
    if not whole:
        return share_equally(total, len(weights))
    return summing_to(total, [total * weight / whole for weight in weights])


def summing_to(total: int, exact: Sequence[Fraction]) -> list[int]:
    """Fractions as whole numbers that sum to the total: down, then up by largest remainder, then by order.

    The total is the sum of the fractions, rounded in whichever direction.
    """
    shares = [share.numerator // share.denominator for share in exact]
    order = sorted(
        range(len(exact)), key=lambda place: shares[place] - exact[place]
    )  # stable: ties by order
    for place in order[: total - sum(shares)]:
        shares[place] += 1
    return shares
