"""What a machine needs now: by distance or time, whichever comes first; what is not known is due."""

from witnessmark.due.decide import known_as, what_is_due
from witnessmark.due.found import jobs_for
from witnessmark.due.status import Due, DueState
from witnessmark.due.visit import NextVisit, next_likely_visit

__all__ = [
    "Due",
    "DueState",
    "NextVisit",
    "jobs_for",
    "known_as",
    "next_likely_visit",
    "what_is_due",
]
