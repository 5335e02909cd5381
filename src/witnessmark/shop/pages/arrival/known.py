"""What was done before the machine came here: job by job, by the owner's word or by a record that was brought."""

from __future__ import annotations

from typing import Any

from django import forms
from django.forms.formsets import BaseFormSet
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from witnessmark.book.model import Book
from witnessmark.shop.fields import DayInput
from witnessmark.shop.forms import ChoiceTiles, QuantityField, SheetForm
from witnessmark.shop.models import LastDoneKnown
from witnessmark.shop.pages.arrival.forms import in_unit
from witnessmark.shop.scope import Desk
from witnessmark.units import show

ROWS = 2


class KnownForm(SheetForm):
    """One job that was done: at what distance, on which day, and how that is known."""

    job = forms.ChoiceField(label=gettext_lazy("Job"), required=False)
    km = QuantityField("distance", label=gettext_lazy("At"), required=False)
    on = forms.DateField(label=gettext_lazy("On"), required=False, widget=DayInput)
    known = forms.ChoiceField(
        label=gettext_lazy("How is it known?"),
        choices=[("word", gettext_lazy("owner says")), ("record", gettext_lazy("a record"))],
        required=False,
        widget=ChoiceTiles,
    )
    source = forms.CharField(
        label=gettext_lazy("Which record"),
        required=False,
        max_length=200,
        help_text=gettext_lazy("Stamp, invoice, page. No names of people."),
    )

    def __init__(self, *args: Any, desk: Desk, book: Book, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.desk = desk
        in_unit(self.fields["km"], desk)
        jobs = [(name, job.text) for name, job in book.jobs.items()]
        self.fields["job"].choices = [("", "—"), *jobs]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """A job needs a distance or a day, and how it is known; a record is named."""
        said = super().clean() or {}
        if not self.has_changed():
            return said
        if not said.get("job") and "job" not in self.errors:
            self.add_error("job", _("Which job was it?"))
        if not (said.get("km") or said.get("on") or {"km", "on"} & set(self.errors)):
            self.add_error("km", _("Give the distance, the day, or both."))
        if said.get("on") and said["on"] > timezone.localdate():
            self.add_error("on", _("That day is still to come."))
        if not said.get("known"):
            self.add_error("known", _("Does the owner say so, or did you see a record?"))
        elif said["known"] == "record" and not said.get("source"):
            self.add_error("source", _("Say which record, so that it can be found again."))
        return said

    def row(self) -> LastDoneKnown:
        """The row to be kept; its machine is set later."""
        said = self.cleaned_data
        word = said["known"] == "word"
        return self.desk.new(
            LastDoneKnown,
            job=said["job"],
            known=said["known"],
            km=said["km"].value if said["km"] else None,
            on=said["on"],
            source=said["source"] or ("the owner's word" if word else ""),
        )


class KnownRows(BaseFormSet):
    """A few of them; those left empty say nothing."""

    def not_beyond(self, odometer_km: float) -> bool:
        """Whether nothing was done at more than the odometer reads; says so where it was."""
        beyond = [
            f
            for f in self.filled()
            if f.cleaned_data["km"] and f.cleaned_data["km"].value > odometer_km
        ]
        for form in beyond:
            form.add_error(
                "km",
                _("More than the odometer reads, {odometer_km}.").format(
                    odometer_km=show(odometer_km, "distance")
                ),
            )
        return not beyond

    def filled(self) -> list[KnownForm]:
        """The rows in which something stands."""
        return [form for form in self.forms if form.has_changed() and form.is_valid()]

    def rows(self) -> list[LastDoneKnown]:
        """What is to be kept."""
        return [form.row() for form in self.filled()]


def known_rows(desk: Desk, book: Book | None, data: Any = None) -> KnownRows | None:
    """The rows of a page; none without a service book, which names the jobs."""
    if book is None:
        return None
    made = forms.formset_factory(KnownForm, formset=KnownRows, extra=ROWS, max_num=20)
    rows: KnownRows = made(data, prefix="known", form_kwargs={"desk": desk, "book": book})  # type: ignore[assignment]
    return rows
