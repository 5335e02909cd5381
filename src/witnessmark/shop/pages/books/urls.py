"""Addresses of the service books."""

from django.urls import path

from witnessmark.shop.pages.books import figures, texts, views

urlpatterns = [
    path("books/", views.books, name="books"),
    path("books/new/", texts.new, name="book-new"),
    path("books/add/", texts.add, name="book-add"),
    path("books/<uuid:storedbook>/", views.book, name="book"),
    path("books/<uuid:storedbook>/figures/", figures.sheet, name="book-figures"),
    path("books/<uuid:storedbook>/figures/look/", figures.look, name="book-look"),
    path("books/<uuid:storedbook>/text/", texts.change, name="book-text"),
]
