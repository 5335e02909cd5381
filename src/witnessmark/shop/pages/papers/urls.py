"""Addresses of the papers."""

from django.urls import path

from witnessmark.shop.pages.papers import views

urlpatterns = [
    path("visits/<uuid:visit>/papers/", views.papers, name="papers"),
    path("visits/<uuid:visit>/papers/<slug:slug>.pdf", views.paper, name="paper"),
]
