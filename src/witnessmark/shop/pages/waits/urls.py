"""Addresses of the strip of waits."""

from django.urls import path

from witnessmark.shop.pages.waits import views

urlpatterns = [
    path("waits/", views.waits, name="waits"),
    path("visits/<uuid:visit>/waits/", views.waits, name="visit-waits"),
]
