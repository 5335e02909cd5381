"""Addresses of the order of work."""

from django.urls import path

from witnessmark.shop.pages.order import views

ORDER = "visits/<uuid:visit>/order/"

urlpatterns = [
    path(ORDER, views.order, name="order"),
    path(f"{ORDER}take/", views.take, name="order-take"),
    path(f"{ORDER}stands/", views.stands, name="order-stands"),
    path(f"{ORDER}saving/", views.saving, name="order-saving"),
    path(f"{ORDER}wish/", views.wish, name="order-wish"),
    path(f"{ORDER}moments/", views.moments, name="order-moments"),
]
