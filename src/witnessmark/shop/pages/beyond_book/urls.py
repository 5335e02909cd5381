"""Addresses of what goes beyond the book: own lines, things opened, the complaint."""

from django.urls import path

from witnessmark.shop.pages.beyond_book import complaint, lines, opened

VISIT = "visits/<uuid:visit>/"

urlpatterns = [
    path(f"{VISIT}line/", lines.line, name="own-line"),
    path(f"{VISIT}line/strike/", lines.strike, name="own-strike"),
    path(f"{VISIT}opened/", opened.opened, name="own-opened"),
    path(f"{VISIT}complaint/", complaint.complaint, name="complaint"),
]
