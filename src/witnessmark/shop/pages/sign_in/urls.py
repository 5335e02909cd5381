"""Addresses of the door: signing in and out, and the switches that need no sign-in."""

from django.urls import path

from witnessmark.shop.pages.sign_in import open_shop, views

urlpatterns = [
    path("sign-in/", views.SignIn.as_view(), name="sign-in"),
    path("open/", open_shop.open_shop, name="open-shop"),
    path("sign-out/", views.SignOut.as_view(), name="sign-out"),
    path("look/", views.look, name="look"),
]
