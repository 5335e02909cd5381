"""Papers as PDF/A: estimate, job card, road-test sheet, service record, call-back letter, sheets of an override."""

from witnessmark.papers.contents import (
    CallBack,
    EstimatePaper,
    JobCard,
    Paper,
    RoadTest,
    ServiceRecord,
    SignedOverride,
)
from witnessmark.papers.print_pdf import PressError, pdf, texts

__all__ = [
    "CallBack",
    "EstimatePaper",
    "JobCard",
    "Paper",
    "PressError",
    "RoadTest",
    "ServiceRecord",
    "SignedOverride",
    "pdf",
    "texts",
]
