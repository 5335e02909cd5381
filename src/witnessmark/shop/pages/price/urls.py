"""Addresses of the price."""

from django.urls import path

from witnessmark.shop.pages.price import answers, views

PRICE = "visits/<uuid:visit>/price/"

urlpatterns = [
    path(PRICE, views.price, name="price"),
    path(f"{PRICE}offer/", answers.offer, name="price-offer"),
    path(f"{PRICE}answers/", answers.answer, name="price-answers"),
    path(f"{PRICE}change/", answers.change, name="price-change"),
    path(f"{PRICE}brought/", answers.brought, name="price-brought"),
    path(f"{PRICE}limit/", answers.limit, name="price-limit"),
    path(f"{PRICE}rest/", views.rest, name="price-rest"),
    path(f"{PRICE}estimates/<str:sha256>/", views.estimate, name="price-estimate"),
]
