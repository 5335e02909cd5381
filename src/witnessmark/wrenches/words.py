"""Shares as people write them."""


def per_cent(share: float, *, signed: bool = False, decimals: int = 1) -> str:
    """A share as per cent, no idle zero. Example: ``4 %``, ``+9.6 %``, ``−0.6 %``."""
    digits = f"{abs(share) * 100:.{decimals}f}"
    digits = digits.rstrip("0").rstrip(".") if "." in digits else digits
    sign = "−" if share < 0 else "+" if signed else ""
    return f"{sign if digits != '0' else ''}{digits} %"
