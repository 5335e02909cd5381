"""Papers: estimate, job card, road-test sheet, service record and call-back letter as PDF/A."""

from witnessmark.papers.forms import CallBack, Estimate, JobCard, Paper, RoadTest, ServiceRecord
from witnessmark.papers.press import PressError, pdf

__all__ = [
    "CallBack",
    "Estimate",
    "JobCard",
    "Paper",
    "PressError",
    "RoadTest",
    "ServiceRecord",
    "pdf",
]
