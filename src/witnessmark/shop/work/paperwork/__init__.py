"""Fill the papers of a visit from its entries: the same state fills the same form, and prints the same bytes."""

from witnessmark.shop.work.paperwork.call_back import call_back
from witnessmark.shop.work.paperwork.estimate import estimate, estimates
from witnessmark.shop.work.paperwork.job_card import job_card
from witnessmark.shop.work.paperwork.language_and_heading import NoPaperError, Pen, pen_of
from witnessmark.shop.work.paperwork.money_paper import money_paper
from witnessmark.shop.work.paperwork.road_test import rides_of, road_test
from witnessmark.shop.work.paperwork.service_record import service_record
from witnessmark.shop.work.paperwork.signed_override import signed_override, wanted

__all__ = [
    "NoPaperError",
    "Pen",
    "call_back",
    "estimate",
    "estimates",
    "job_card",
    "money_paper",
    "pen_of",
    "rides_of",
    "road_test",
    "service_record",
    "signed_override",
    "wanted",
]
