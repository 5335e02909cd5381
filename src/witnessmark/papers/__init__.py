"""Papers: estimate, job card, road-test sheet and service record as PDF/A."""

from witnessmark.papers.forms import Estimate, JobCard, Paper, RoadTest, ServiceRecord
from witnessmark.papers.press import PressError, pdf

__all__ = ["Estimate", "JobCard", "Paper", "PressError", "RoadTest", "ServiceRecord", "pdf"]
