"""Addresses of the shop's settings, its shelf and its prices."""

from django.urls import path

from witnessmark.shop.pages.settings import packs, people, prices, sign_ins, views

urlpatterns = [
    path("shop/", views.settings, name="settings"),
    path("shop/money/", views.money, name="settings-money"),
    path("shop/invoices/", views.invoices, name="settings-invoices"),
    path("shop/people/new/", sign_ins.new, name="person-new"),
    path("shop/people/<uuid:member>/", people.person, name="person"),
    path("shop/people/<uuid:member>/close/", sign_ins.retire, name="person-retire"),
    path("shop/people/<uuid:member>/password/", sign_ins.password, name="person-password"),
    path("shop/changes/", sign_ins.changes, name="changes"),
    path("password/", sign_ins.own, name="own-password"),
    path("shop/room/", people.room, name="room"),
    path("shop/packs/", packs.packs, name="packs"),
    path("shop/packs/new/", packs.new_pack, name="pack-new"),
    path("shop/packs/<uuid:stockpack>/", packs.pack, name="pack"),
    path("shop/prices/", prices.prices, name="prices"),
    path("shop/prices/all/", prices.common, name="prices-common"),
    path("shop/prices/<uuid:storedbook>/", prices.of_book, name="prices-book"),
]
