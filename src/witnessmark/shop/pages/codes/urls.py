"""Addresses of a visit's trouble codes."""

from django.urls import path

from witnessmark.shop.pages.codes import views

CODES = "visits/<uuid:visit>/codes/"

urlpatterns = [
    path(CODES, views.codes, name="codes"),
    path(f"{CODES}cleared/", views.cleared, name="codes-cleared"),
    path(f"{CODES}undo/", views.undo, name="codes-undo"),
]
