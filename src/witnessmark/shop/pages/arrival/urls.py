"""Addresses of arrival."""

from django.urls import path

from witnessmark.shop.pages.arrival import new_visit, views

urlpatterns = [
    path("arrive/", new_visit.arrive, name="arrive"),
    path("visits/<uuid:visit>/arrival/", views.arrival, name="arrival"),
    path("visits/<uuid:visit>/arrival/book/", views.pin, name="arrival-book"),
]
