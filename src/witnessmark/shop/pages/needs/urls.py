"""Addresses of what the machine needs."""

from django.urls import path

from witnessmark.shop.pages.needs import views

urlpatterns = [
    path("visits/<uuid:visit>/needs/", views.needs, name="needs"),
]
