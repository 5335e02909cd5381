"""Plain values that flow back from the machine: odometer, readings, what was done when, how it is ridden.

Frozen and without behaviour beyond their own plausibility; distances in kilometres, days as dates.
"""

from witnessmark.facts.curve import Curve, on_bent_curve, on_curve
from witnessmark.facts.known import Known, LastDone, ReadingTaken
from witnessmark.facts.months import add_months
from witnessmark.facts.odometer import MOST_KM_A_DAY, FactError, Odometer, plausible_odometer
from witnessmark.facts.riding import Riding, riding
from witnessmark.facts.verdict import Limit, Verdict, judge

__all__ = [
    "MOST_KM_A_DAY",
    "Curve",
    "FactError",
    "Known",
    "LastDone",
    "Limit",
    "Odometer",
    "ReadingTaken",
    "Riding",
    "Verdict",
    "add_months",
    "judge",
    "on_bent_curve",
    "on_curve",
    "plausible_odometer",
    "riding",
]
