"""The accounts that documents and payments are posted to: the shop's own names, with a usual set to begin with."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated

from pydantic import StringConstraints

from witnessmark.frozen import FrozenModel
from witnessmark.invoice import Treatment

# As plain-text accounting writes them: a kind, then parts that begin with a capital letter or a digit.
Account = Annotated[
    str,
    StringConstraints(
        pattern=r"^(Assets|Liabilities|Equity|Income|Expenses)(:[A-Z0-9][A-Za-z0-9-]*)+$",
        max_length=120,
    ),
]


class Accounts(FrozenModel):
    """One account for each purpose. Income and tax have one below theirs for each treatment or per cent."""

    receivable: Account = "Assets:Receivable"
    cash: Account = "Assets:Cash"
    card: Account = "Assets:Card"
    bank: Account = "Assets:Bank"
    advances: Account = "Liabilities:Advances"
    deposits: Account = "Liabilities:Deposits"
    tax: Account = "Liabilities:Tax"
    income: Account = "Income:Work"
    rounding: Account = "Expenses:Rounding"
    written_off: Account = "Expenses:Written-Off"
    till: Account = "Expenses:Till-Differences"

    def income_of(self, treatment: Treatment, percent: Decimal) -> str:
        """Where sales under a treatment and per cent are posted; what is outside tax is no sale."""
        if treatment == "outside tax":
            return self.deposits
        name = _percent(percent) if treatment == "standard" else treatment.title().replace(" ", "-")
        return f"{self.income}:{name}"

    def tax_of(self, percent: Decimal) -> str:
        """Where the tax of a per cent is owed."""
        return f"{self.tax}:{_percent(percent)}"


DEFAULT = Accounts()


def _percent(percent: Decimal) -> str:
    """Example: 19.0 gives ``19``, 5.5 gives ``5-5``."""
    plain = format(percent.normalize(), "f")
    return plain.replace(".", "-")
