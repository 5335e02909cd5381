"""Addresses of the day's plan."""

from django.urls import path

from witnessmark.shop.pages.board import views

urlpatterns = [
    path("board/", views.board, name="board"),
    path("board/sheet/", views.sheet, name="board-sheet"),
]
