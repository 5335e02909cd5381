"""Addresses of the reckoner."""

from django.urls import path

from witnessmark.shop.pages.reckon import views

urlpatterns = [
    path("understood/", views.understood, name="understood"),
    path("reckon/", views.reckonings, name="reckonings"),
    path("reckon/<slug:name>/", views.one, name="reckoning"),
]
