"""A page with one form, as any page of the shop has it; for the tests of forms in a real browser."""

from django import forms
from django.template import engines
from django.urls import include, path

from witnessmark.shop.forms import ChoiceTiles, QuantityField, SheetForm
from witnessmark.shop.responses import UNPROCESSABLE, done

PAGE = """{% extends "base.html" %}{% block title %}Form{% endblock %}{% block main %}<h1>Form</h1>
<form method="post" novalidate{% if boosted %} hx-boost="true"{% endif %}>{% csrf_token %}
{{ form }}<div class="acts"><button class="act">Store</button></div></form>{% endblock %}"""
stored = []


class Form(SheetForm):
    """One of each kind of field."""

    note = forms.CharField(required=False)
    torque = QuantityField("torque")
    distance = QuantityField("distance", unit="km")
    keys = forms.ChoiceField(choices=[("1", "one"), ("2", "two")], widget=ChoiceTiles)
    agreed = forms.BooleanField(label="The owner agreed", help_text="By telephone counts.")


def page(request, how):
    form = Form(request.POST or None)
    if form.is_bound and form.is_valid():
        stored.append(form.cleaned_data)
        return done(request, "today", said="Stored.")
    context = {"form": form, "boosted": how == "boosted"}
    text = engines["django"].from_string(PAGE).render(context, request)
    from django.http import HttpResponse

    return HttpResponse(text, status=UNPROCESSABLE if form.is_bound else 200)


urlpatterns = [path("form/<str:how>/", page), path("", include("witnessmark.shop.urls"))]
