"""Addresses of what is charged, issued and paid."""

from django.urls import path

from witnessmark.shop.pages.invoice import deciding, documents, paying, views

INVOICE = "visits/<uuid:visit>/invoice/"

urlpatterns = [
    path(INVOICE, views.invoice, name="invoice"),
    path(f"{INVOICE}lines/<slug:line>/", deciding.line, name="invoice-line"),
    path(f"{INVOICE}beside/", deciding.extra, name="invoice-extra"),
    path(f"{INVOICE}beside/agreed/", deciding.consent, name="invoice-consent"),
    path(f"{INVOICE}beside/off/", deciding.take_off, name="invoice-take-off"),
    path(f"{INVOICE}issue/", documents.issue_invoice, name="invoice-issue"),
    path(f"{INVOICE}advance/", documents.advance, name="invoice-advance"),
    path(f"{INVOICE}cancel/", documents.cancel, name="invoice-cancel"),
    path(f"{INVOICE}receipt/", documents.receipt, name="invoice-receipt"),
    path(f"{INVOICE}documents/<str:sha256>.pdf", documents.document, name="invoice-document"),
    path(f"{INVOICE}documents/<str:sha256>/<slug:syntax>/", documents.data, name="invoice-data"),
    path(f"{INVOICE}paid/", paying.pay, name="invoice-pay"),
    path(f"{INVOICE}paid/off/", paying.take_back, name="invoice-pay-off"),
    path(f"{INVOICE}written-off/", paying.write_off, name="invoice-write-off"),
    path("owed/", paying.owed, name="owed"),
]
