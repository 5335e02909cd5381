"""Addresses of this page."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
