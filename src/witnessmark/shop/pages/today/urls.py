"""Addresses of the day's machines."""

from django.urls import path

from witnessmark.shop.pages.today import views

urlpatterns = [path("", views.today, name="today")]
