"""Addresses of the calculators."""

from django.urls import path

from witnessmark.shop.pages.calculate import views

urlpatterns = [
    path("understood/", views.understood, name="understood"),
    path("calculate/", views.calculators, name="calculators"),
    path("calculate/<slug:name>/", views.one, name="calculator"),
    path("visits/<uuid:visit>/calculate/", views.calculators, name="visit-calculators"),
    path("visits/<uuid:visit>/calculate/<slug:name>/", views.one, name="visit-calculator"),
]
