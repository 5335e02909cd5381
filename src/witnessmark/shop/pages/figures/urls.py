"""Addresses of the figures that a visit asks for."""

from django.urls import path

from witnessmark.shop.pages.figures import acts, views

FIGURES = "visits/<uuid:visit>/figures/"

urlpatterns = [
    path(FIGURES, views.figures, name="figures"),
    path(f"{FIGURES}<slug:figure>/", views.figure, name="figure"),
    path(f"{FIGURES}<slug:figure>/look/", views.look, name="figure-look"),
    path(f"{FIGURES}<slug:figure>/set/", acts.set_figure, name="figure-set"),
    path(f"{FIGURES}<slug:figure>/same/", acts.same, name="figure-same"),
    path(f"{FIGURES}<slug:figure>/confirm/", acts.confirm, name="figure-confirm"),
]
