"""Addresses of a repair that no book lists: as a whole, one step of it, kept for the model."""

from django.urls import path

from witnessmark.shop.pages.repair import keeping, steps, views

VISIT = "visits/<uuid:visit>/"

urlpatterns = [
    path(f"{VISIT}repair/", views.repair, name="repair"),
    path(f"{VISIT}repair/step/", steps.step, name="repair-step"),
    path(f"{VISIT}repair/keep/", keeping.keep, name="repair-keep"),
]
