"""What each line costs: integers of minor units, rates as decimals, rounded half-up once."""

from witnessmark.money.cases import deciding, estimate_by_cases, if_brought
from witnessmark.money.charge import Charge, ChargedLine, charge
from witnessmark.money.currency import MoneyError, amount_text, exponent, read_amount
from witnessmark.money.estimate import (
    Estimate,
    EstimateLine,
    ExtraLine,
    ExtraPart,
    Item,
    LineCase,
    Tax,
    from_canonical,
    together,
)
from witnessmark.money.minutes import carried, labour_tenths
from witnessmark.money.pricing import estimate, plan_form, plan_hash
from witnessmark.money.rates import Consumables, Disposal, Rates

__all__ = [
    "Charge",
    "ChargedLine",
    "Consumables",
    "Disposal",
    "Estimate",
    "EstimateLine",
    "ExtraLine",
    "ExtraPart",
    "Item",
    "LineCase",
    "MoneyError",
    "Rates",
    "Tax",
    "amount_text",
    "carried",
    "charge",
    "deciding",
    "estimate",
    "estimate_by_cases",
    "exponent",
    "from_canonical",
    "if_brought",
    "labour_tenths",
    "plan_form",
    "plan_hash",
    "read_amount",
    "together",
]
