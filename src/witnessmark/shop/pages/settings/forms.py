"""What can be set about the shop."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, get_args

from babel import Locale, UnknownLocaleError
from babel.numbers import list_currencies
from django import forms
from django.forms.formsets import BaseFormSet
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from stdnum import iban

from witnessmark.money import MoneyError, exponent, read_amount
from witnessmark.money.rates import LineKind
from witnessmark.shop.fields import MoneyField, PercentField, plain
from witnessmark.shop.forms import ChoiceTiles, SheetForm, SheetModelForm
from witnessmark.shop.models import Shop

KINDS: dict[str, Any] = {
    "labour": _("Labour"),
    "part": _("Parts"),
    "fluid": _("Fluids"),
    "consumables": _("Consumables"),
    "disposal": _("Disposal"),
    "other": _("Other lines"),
}
assert set(KINDS) == set(get_args(LineKind))
SPARE_ROWS = 2
ROW = "tax-"  # the prefix of the rows of rates
AMOUNTS = (
    "labour_per_hour", "labour_minimum", "labour_step", "disposal_amount", "delay_per_day", "return_cost",
)  # fmt: skip
RULES = {"fluids": Shop.Fluids, "consumables": Shop.Consumables, "disposal": Shop.Disposal}


class ShopForm(SheetModelForm):
    """Who the shop is, where, and its rules."""

    class Meta:
        model = Shop
        fields = (
            "name", "address", "phone", "tax_number", "time_zone", "locale", "units",
            "refuse_unproven_wrench", "refuse_override", "estimate_text",
        )  # fmt: skip
        widgets = {
            "address": forms.Textarea({"rows": 3}),
            "estimate_text": forms.Textarea({"rows": 4}),
            "units": ChoiceTiles,
            "time_zone": forms.TextInput({"list": "zones", "autocomplete": "off"}),
        }
        labels = {
            "locale": _("How numbers and money are written"),
            "refuse_unproven_wrench": _(
                "A wrench out of calibration proves nothing where safety is concerned"
            ),
            "refuse_override": _("Nothing that concerns safety is let through at hand-back"),
            "estimate_text": _("Text above the signature on an estimate"),
        }
        help_texts = {
            "time_zone": _("By its IANA name, like Europe/Lisbon."),
            "locale": _("A language and a country, like en_GB or pt_PT."),
            "refuse_unproven_wrench": _("Holds for visits that begin from now on."),
            "refuse_override": _("Where local law forbids it, even with a signed paper."),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["units"].choices = Shop.Units.choices  # type: ignore[attr-defined]

    def clean_locale(self) -> str:
        """A locale that the number formats are known of."""
        name: str = self.cleaned_data["locale"].strip().replace("-", "_")
        try:
            return str(Locale.parse(name))
        except (UnknownLocaleError, ValueError):
            raise forms.ValidationError(
                gettext("{name}: no such locale; write one like en_GB.").format(name=name)
            ) from None


PREFIXES = ("invoice_prefix", "advance_prefix", "credit_prefix", "receipt_prefix")


class InvoicesForm(SheetModelForm):
    """What stands on documents of money, and how they are numbered."""

    storage_day_minor = MoneyField(label=_("A day of storage, without tax"), required=False)

    class Meta:
        model = Shop
        fields = (
            "country", "vat_number", "iban", "bic", "payment_days", "invoice_text", "no_tax", "no_tax_text",
            "yearly_numbers", *PREFIXES, "storage_day_minor", "leaves",
        )  # fmt: skip
        widgets = {
            "invoice_text": forms.Textarea({"rows": 4}),
            "no_tax_text": forms.Textarea({"rows": 2}),
            "no_tax": ChoiceTiles,
            "leaves": ChoiceTiles,
        }
        labels = {
            "country": _("Country of the shop"),
            "vat_number": _("VAT number"),
            "iban": _("Account (IBAN)"),
            "bic": _("BIC"),
            "payment_days": _("Days until an invoice is to be paid"),
            "invoice_text": _("Text on every invoice"),
            "no_tax": _("Where no tax is charged, that is"),
            "no_tax_text": _("Why no tax is charged, as your law wants it said"),
            "yearly_numbers": _("Number documents anew each year"),
            "invoice_prefix": _("Numbers of invoices begin with"),
            "advance_prefix": _("… of advance invoices"),
            "credit_prefix": _("… of credit notes"),
            "receipt_prefix": _("… of receipts"),
            "leaves": _("A machine may leave"),
        }
        help_texts = {
            "country": _("Two letters of ISO 3166, like PT."),
            "invoice_text": _(
                "What your law or custom wants there. Ask your tax adviser: none is shipped."
            ),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["storage_day_minor"].currency = self.instance.currency  # type: ignore[attr-defined]
        for name, choices in (("no_tax", Shop.NoTax), ("leaves", Shop.Leaves)):
            self.fields[name].choices = choices.choices  # type: ignore[attr-defined]

    def clean_iban(self) -> str:
        """An IBAN whose check digits agree (ISO 13616), or nothing."""
        typed: str = self.cleaned_data["iban"].strip()
        if typed and not iban.is_valid(typed):
            raise forms.ValidationError(
                gettext("Its check digits do not agree; copy it from a statement of the bank.")
            )
        return iban.format(typed) if typed else ""

    def clean(self) -> dict[str, Any]:
        """Each kind of document is told from the others by its number."""
        said = super().clean() or {}
        typed = [said.get(name, getattr(self.instance, name)) for name in PREFIXES]
        if len(set(typed)) < len(typed):
            self.add_error("invoice_prefix", gettext("Two kinds of documents begin the same."))
        return said


class TaxForm(SheetForm):
    """One tax rate: its name, and how many per cent."""

    name = forms.CharField(label=_("Name of the rate"), required=False, max_length=40)
    percent = PercentField(label=_("Rate"), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.show_hidden_initial = True

    @property
    def name_before(self) -> str:
        """The name that the page had shown; empty for a new row."""
        return str(self.data.get(self.add_initial_prefix("name"), ""))

    def clean(self) -> dict[str, Any]:
        """Both or neither."""
        said = super().clean() or {}
        if said.get("name") and said.get("percent") is None and "percent" not in self.errors:
            self.add_error("percent", gettext("How many per cent? Write 0 where none is due."))
        if said.get("percent") is not None and not said.get("name"):
            self.add_error("name", gettext("Give the rate a name, such as standard."))
        return said


class TaxRows(BaseFormSet):
    """The shop's tax rates; a row left empty is none, so a rate goes by clearing its row."""

    def clean(self) -> None:
        """No name twice."""
        names = [f.cleaned_data.get("name") for f in self.forms if f.is_valid()]
        twice = {name for name in names if name and names.count(name) > 1}
        if twice:
            raise forms.ValidationError(
                gettext("Two rates are named {names}.").format(names=", ".join(sorted(twice)))
            )

    @property
    def names(self) -> list[str]:
        """The names as they stand on the page, and as they stood."""
        found = [str(form["name"].value() or "").strip() for form in self.forms]
        before = [form.name_before for form in self.forms]
        return list(dict.fromkeys(name for name in [*found, *before] if name))

    def laid_over(self, rates: dict[str, str]) -> tuple[dict[str, str], dict[str, str]]:
        """The rates with what was changed on the page, per cent as text; and old names by which new ones."""
        changed = {
            f.name_before: f.cleaned_data for f in self.forms if f.has_changed() and f.name_before
        }
        added = [f.cleaned_data for f in self.forms if f.has_changed() and not f.name_before]
        renamed = {old: said["name"] for old, said in changed.items()}
        said = [changed.get(name, {"name": name, "percent": rate}) for name, rate in rates.items()]
        every = [one for one in [*said, *added] if one.get("name")]
        return {one["name"]: str(one["percent"]) for one in every}, renamed


def tax_rows(shop: Shop, data: Any = None) -> TaxRows:
    """The rates of the shop, and a few spare rows."""
    made = forms.formset_factory(TaxForm, formset=TaxRows, extra=SPARE_ROWS, max_num=12)
    initial = [{"name": name, "percent": percent} for name, percent in shop.tax_rates.items()]
    rows: TaxRows = made(data, prefix="tax", initial=initial)  # type: ignore[assignment]
    return rows


def with_usual_named(data: Any) -> Any:
    """What was sent, with the usual rate by its name: the page says it by the row the rate stands in."""
    row = str(data.get("usual_tax", ""))
    if not row.startswith(ROW):
        return data
    names = (data.get(f"{row}-name", ""), data.get(f"initial-{row}-name", ""))
    return {**data.dict(), "usual_tax": next((n for n in map(str.strip, names) if n), "")}


class MoneyForm(SheetModelForm):
    """Currency, labour, which tax falls on what, and the rules for fluids, consumables and disposal.

    `taxed_<kind>`: the rate a kind of item falls under where it is not the usual one.
    """

    labour_per_hour = MoneyField(label=_("An hour of labour, without tax"))
    labour_minimum = MoneyField(label=_("The labour of a line is at least"), required=False)
    labour_step = MoneyField(
        label=_("… and a multiple of"),
        required=False,
        help_text=_("Such as 0.50. Empty: to the last decimal."),
    )
    consumables_amount = forms.CharField(label=_("How much"), required=False, max_length=40)
    disposal_amount = MoneyField(label=_("How much"), required=False)
    delay_per_day = MoneyField(
        label=_("What a day’s delay costs"),
        required=False,
        help_text=_("0: it is not weighed whether a part is better ordered now."),
    )
    return_cost = MoneyField(label=_("Sending a part back costs"), required=False)
    return_percent = PercentField(label=_("… and of its price"), required=False)

    class Meta:
        model = Shop
        fields = (
            "currency", "labour_per_hour", "labour_minimum", "labour_step", "usual_tax", "fluids",
            "consumables", "consumables_amount", "disposal", "disposal_amount",
            "delay_per_day", "return_cost", "return_percent",
        )  # fmt: skip
        labels = {
            "usual_tax": _("The usual rate"),
            "consumables": _("Consumables (rags, cleaner, grease)"),
            "disposal": _("Disposal of what was drained"),
        }
        help_texts = {"currency": _("Three letters of ISO 4217, like EUR.")}
        widgets = {"fluids": ChoiceTiles, "consumables": ChoiceTiles, "disposal": ChoiceTiles}

    def __init__(self, *args: Any, rates: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.is_bound:
            self.data = with_usual_named(self.data)
        shop: Shop = self.instance
        currency = self._currency_typed()
        named = [(name, name) for name in rates]
        self.fields["usual_tax"] = forms.ChoiceField(
            label=gettext("The usual rate"), required=False, choices=[("", gettext("no tax")), *named],
            initial=shop.usual_tax, show_hidden_initial=True,
        )  # fmt: skip
        for kind, words in KINDS.items():
            self.fields[f"taxed_{kind}"] = forms.ChoiceField(
                label=words, required=False, choices=[("", gettext("the usual rate")), *named],
                initial=shop.taxed.get(kind, ""), show_hidden_initial=True,
            )  # fmt: skip
        for name in AMOUNTS:
            self.fields[name].currency = currency  # type: ignore[attr-defined]
            self.initial[name] = _typed(getattr(shop, name), shop.currency)
        self.initial["return_percent"] = f"{shop.return_percent.normalize():f}"
        by_visit = shop.consumables == Shop.Consumables.VISIT
        amount = shop.consumables_amount
        self.initial["consumables_amount"] = (
            _typed(amount, shop.currency) if by_visit else f"{amount.normalize():f}"
        )
        self.fields["consumables_amount"].help_text = gettext(
            "Per cent, or {currency} per visit."
        ).format(currency=currency)
        for name, rule in RULES.items():
            self.fields[name].choices = rule.choices  # type: ignore[attr-defined]

    def _currency_typed(self) -> str:
        typed = str(self.data.get(self.add_prefix("currency"), "")).strip().upper()
        return typed if typed in list_currencies() else self.instance.currency

    def clean_currency(self) -> str:
        """A currency of ISO 4217."""
        code: str = self.cleaned_data["currency"]
        if code not in list_currencies():
            raise forms.ValidationError(
                gettext("{code} is no currency of ISO 4217; write one like EUR.").format(code=code)
            )
        return code

    def clean(self) -> dict[str, Any]:
        """Amounts as decimals of the currency; what kind the one of consumables is follows from its rule."""
        said = super().clean() or {}
        currency = self._currency_typed()
        for name in AMOUNTS:
            if name in said:
                said[name] = Decimal(said[name] or 0).scaleb(-exponent(currency))
        typed = (said.get("consumables_amount") or "").strip() or "0"
        try:
            if said.get("consumables") == Shop.Consumables.VISIT:
                minor = read_amount(typed, currency)
                said["consumables_amount"] = Decimal(minor).scaleb(-exponent(currency))
            else:
                said["consumables_amount"] = PercentField().clean(typed)
        except MoneyError as error:
            self.refuse(error, "consumables_amount")
        except forms.ValidationError as error:
            self.add_error("consumables_amount", error)
        return said

    def clean_return_percent(self) -> Decimal:
        """At most all of the price; empty: nothing."""
        percent = Decimal(self.cleaned_data["return_percent"] or 0)
        if percent > 100:
            raise forms.ValidationError(gettext("At most 100 % of the price is lost."))
        return percent

    def meet(self, rates: dict[str, str], renamed: dict[str, str]) -> bool:
        """Whether every rate chosen is one of the rates, after they were renamed; says so where it is none."""
        for name in ("usual_tax", *(f"taxed_{kind}" for kind in KINDS)):
            chosen = self.cleaned_data.get(name, "")
            chosen = renamed.get(chosen, chosen) or chosen
            if chosen and chosen not in rates:
                self.add_error(
                    name,
                    gettext("“{chosen}” is no rate any more; choose another.").format(
                        chosen=chosen
                    ),
                )
            elif name in self.cleaned_data:
                self.cleaned_data[name] = chosen
        return not self.errors

    def taxed(self) -> dict[str, str]:
        """The kinds that fall under another rate than the usual."""
        given = {kind: self.cleaned_data[f"taxed_{kind}"] for kind in KINDS}
        return {kind: name for kind, name in given.items() if name}

    @property
    def taxed_fields(self) -> list[forms.BoundField]:
        """The fields for kinds under another rate."""
        return [self[f"taxed_{kind}"] for kind in KINDS]

    @property
    def taxed_open(self) -> bool:
        """Whether some kind falls under another rate, or its field has a fault."""
        return bool(self.instance.taxed) or any(field.errors for field in self.taxed_fields)


def _typed(amount: Decimal, currency: str) -> str:
    """A decimal of the currency as it is typed, with the currency's decimals where they suffice."""
    minor = amount.scaleb(exponent(currency))
    return plain(int(minor), currency) if minor == int(minor) else f"{amount.normalize():f}"
