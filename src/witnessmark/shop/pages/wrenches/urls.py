"""Addresses of the wrenches, of what happened to them, and of what one found wrong has closed."""

from django.urls import path

from witnessmark.shop.pages.wrenches import doubt, events, views

WRENCH = "shop/wrenches/<uuid:wrench>/"
EVENT = "shop/wrenches/events/<uuid:wrenchevent>/"

urlpatterns = [
    path("shop/wrenches/", views.wrenches, name="wrenches"),
    path("shop/wrenches/new/", views.new_wrench, name="wrench-new"),
    path(WRENCH, views.wrench, name="wrench"),
    path(f"{WRENCH}change/", views.change, name="wrench-change"),
    path(f"{WRENCH}check/", events.check, name="wrench-check"),
    path(f"{WRENCH}dropped/", events.dropped, name="wrench-dropped"),
    path(f"{WRENCH}given-back/", events.given_back, name="wrench-given-back"),
    path(f"{EVENT}take-back/", events.take_back, name="wrench-event-take-back"),
    path(f"{EVENT}time/", events.time_of_check, name="wrench-event-time"),
    path(f"{EVENT}closed/", doubt.closed, name="wrench-doubt"),
    path(f"{EVENT}closed.csv", doubt.table, name="wrench-doubt-csv"),
]
