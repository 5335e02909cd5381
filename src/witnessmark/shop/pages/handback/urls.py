"""Addresses of hand-back."""

from django.urls import path

from witnessmark.shop.pages.handback import closing, pass_gates, views

HANDBACK = "visits/<uuid:visit>/handback/"

urlpatterns = [
    path(HANDBACK, views.handback, name="handback"),
    path(f"{HANDBACK}road-test/", pass_gates.road_test, name="handback-road-test"),
    path(f"{HANDBACK}return/", pass_gates.give_back, name="handback-return"),
    path(f"{HANDBACK}override/", pass_gates.override, name="handback-override"),
    path(f"{HANDBACK}look/", closing.look, name="handback-look"),
    path(f"{HANDBACK}alone/", closing.alone, name="handback-alone"),
    path(f"{HANDBACK}walk/", closing.walk, name="handback-walk"),
    path(f"{HANDBACK}close/", closing.close, name="handback-close"),
    path(f"{HANDBACK}leave/", closing.leave, name="handback-leave"),
    path(f"{HANDBACK}take-back/", closing.take_back, name="handback-take-back"),
]
