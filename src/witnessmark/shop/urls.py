"""Addresses: every page keeps its own in `pages/<page>/urls.py`, whole from the root.

A parameter is named after the table whose row it addresses (`<uuid:visit>`, `<uuid:machine>`), so
that a test can visit every address as another shop.
"""

from importlib import import_module

from django.urls import URLPattern, URLResolver, include, path

from witnessmark.shop import photos

PAGES = [
    "today",
    "waits",
    "board",
    "machine",
    "arrival",
    "needs",
    "price",
    "order",
    "bench",
    "figures",
    "beyond_book",
    "repair",
    "codes",
    "handback",
    "invoice",
    "papers",
    "settings",
    "backup",
    "wrenches",
    "waste",
    "shims",
    "books",
    "calculate",
    "sign_in",
]

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include(import_module(f"witnessmark.shop.pages.{page}.urls"))) for page in PAGES
]
urlpatterns.append(path("photos/<uuid:photokept>/", photos.picture, name="photo"))

handler400 = "witnessmark.shop.pages.sign_in.views.not_understood"
handler403 = "witnessmark.shop.pages.sign_in.views.not_allowed"
handler404 = "witnessmark.shop.pages.sign_in.views.not_found"
handler500 = "witnessmark.shop.pages.sign_in.views.broken"
