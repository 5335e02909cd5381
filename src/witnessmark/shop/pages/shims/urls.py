"""Addresses of the shims: those of a visit, and the box."""

from django.urls import path

from witnessmark.shop.pages.shims import box, views

SHIMS = "visits/<uuid:visit>/shims/"

urlpatterns = [
    path(SHIMS, views.shims, name="shims"),
    path(f"{SHIMS}fit/", views.fit, name="shims-fit"),
    path("shop/shims/", box.box, name="shim-box"),
    path("shop/shims/new/", box.new_size, name="shim-new"),
    path("shop/shims/<uuid:shimstock>/", box.size, name="shim"),
]
