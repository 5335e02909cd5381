"""Addresses of the machines and their owners."""

from django.urls import path

from witnessmark.shop.pages.machine import edit, numbers_read, views

urlpatterns = [
    path("machines/", views.machines, name="machines"),
    path("machines/number/", numbers_read.number, name="number-told"),
    path("machines/tyre/", numbers_read.tyre, name="tyre-told"),
    path("machines/<uuid:machine>/", views.machine, name="machine"),
    path("machines/<uuid:machine>/edit/", edit.machine, name="machine-edit"),
    path("owners/<uuid:owner>/edit/", edit.owner, name="owner-edit"),
    path("owners/<uuid:owner>/erase/", edit.erase, name="owner-erase"),
]
