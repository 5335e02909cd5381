"""Addresses of arrival."""

from django.urls import path

from witnessmark.shop.pages.arrival import door, views

urlpatterns = [
    path("arrive/", door.arrive, name="arrive"),
    path("visits/<uuid:visit>/arrival/", views.arrival, name="arrival"),
    path("visits/<uuid:visit>/arrival/book/", views.pin, name="arrival-book"),
]
