"""Addresses of the service books."""

from django.urls import path

from witnessmark.shop.pages.books import build, editing, figures, texts, travel, views

urlpatterns = [
    path("books/", views.books, name="books"),
    path("books/new/", build.new, name="book-new"),
    path("books/new/look/", build.look, name="book-new-look"),
    path("books/add/", texts.add, name="book-add"),
    path("books/send/", travel.send, name="book-send"),
    path("books/take-in/", travel.take_in, name="book-take-in"),
    path("books/<uuid:storedbook>/", views.book, name="book"),
    path("books/<uuid:storedbook>/figures/", figures.sheet, name="book-figures"),
    path("books/<uuid:storedbook>/figures/look/", figures.look, name="book-look"),
    path("books/<uuid:storedbook>/build/", build.change, name="book-build"),
    path("books/<uuid:storedbook>/build/look/", build.look, name="book-build-look"),
    path("books/<uuid:storedbook>/jobs/<str:job>/", editing.job, name="book-job"),
    path(
        "books/<uuid:storedbook>/jobs/<str:job>/steps/<str:step>/", editing.step, name="book-step"
    ),
    path("books/<uuid:storedbook>/change/<str:what>/", editing.change, name="book-change"),
    path("books/<uuid:storedbook>/text/", texts.change, name="book-text"),
]
