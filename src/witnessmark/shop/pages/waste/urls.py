"""Addresses of the waste containers and their log."""

from django.urls import path

from witnessmark.shop.pages.waste import views

CONTAINER = "shop/waste/<uuid:wastecontainer>/"

urlpatterns = [
    path("shop/waste/", views.waste, name="waste"),
    path("shop/waste/log.csv", views.table, name="waste-csv"),
    path("shop/waste/new/", views.new_container, name="waste-new"),
    path(CONTAINER, views.container, name="waste-container"),
    path(f"{CONTAINER}change/", views.change, name="waste-change"),
    path(f"{CONTAINER}put-in/", views.put_in, name="waste-put-in"),
    path(f"{CONTAINER}collected/", views.collected, name="waste-collected"),
    path("shop/waste/moves/<uuid:wastemove>/take-back/", views.take_back, name="waste-take-back"),
]
