"""Addresses of the backup."""

from django.urls import path

from witnessmark.shop.pages.backup import views

urlpatterns = [
    path("shop/backup/", views.backup, name="backup"),
    path("shop/backup/now/", views.now, name="backup-now"),
]
