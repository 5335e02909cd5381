"""A reading of a step: what is asked for, and its limits, which are figures with their source."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from witnessmark import units
from witnessmark.book import Book, edit
from witnessmark.book.edit import Standing
from witnessmark.book.model import Figure, Reading
from witnessmark.book.text_edit import Changes
from witnessmark.shop.pages.books.edit_forms import (
    LinesField,
    StepForm,
    declared,
    readable,
    step_of,
)


class ReadingForm(StepForm):
    """What a reading asks for and its limits; of the step `of`, a new one where no `thing` is named."""

    heading = gettext_lazy("A reading")
    text = forms.CharField(label=gettext_lazy("What is read"), max_length=200)
    quantity = forms.ChoiceField(
        label=gettext_lazy("Kind"),
        choices=[(one, one) for one in ("words", *(q for q in units.QUANTITIES if q != "words"))],
    )
    unit = forms.CharField(
        label=gettext_lazy("Unit it is read in"), required=False, max_length=20,
        help_text=gettext_lazy("mm, V, km; none for words."),
    )  # fmt: skip
    low = forms.CharField(label=gettext_lazy("At least"), required=False, max_length=60)
    high = forms.CharField(label=gettext_lazy("At most"), required=False, max_length=60)
    source = forms.CharField(
        label=gettext_lazy("Document and page of the limits"), required=False, max_length=200,
        help_text=gettext_lazy("Without it a limit cannot be relied on at hand-back."),
    )  # fmt: skip
    instrument = forms.CharField(label=gettext_lazy("Read with"), required=False, max_length=80)
    choices = LinesField(label=gettext_lazy("Words: what can be seen, one a line"))
    bad = LinesField(label=gettext_lazy("Those of them that are a finding"))
    PLAIN = ("text", "instrument", "choices", "bad")

    def begin(self) -> None:
        """What the reading says, its limits by their values."""
        super().begin()
        self.reading = self.was.readings[self.asked] if self.asked else None
        if self.reading is None:
            return
        for key in (*self.PLAIN, "unit"):
            self.fields[key].initial = getattr(self.reading, key)
        for key in ("low", "high"):
            self.fields[key].initial = self._limit(self.was, key)
        named = [figure for key in ("low", "high") if (figure := getattr(self.reading, key))]
        self.fields["source"].initial = next(
            (one for name in named if (one := self.was.figures[name].source)), ""
        )
        del self.fields["quantity"]

    @property
    def about(self) -> str:
        """The reading, else the step that it is for."""
        return self.reading.text if self.reading else self.step_was.text

    @property
    def kind(self) -> units.Quantity:
        """Its quantity."""
        return self.reading.quantity if self.reading else self.cleaned_data.get("quantity", "words")

    def clean(self) -> dict[str, Any]:
        """Limits are quantities, in their order; words have choices in place of them."""
        said = super().clean() or {}
        if self.kind == "words":
            for key in ("low", "high", "unit"):
                if said.get(key):
                    self.add_error(key, _("Words have none: write what can be seen below."))
        else:
            for key in ("choices", "bad"):
                if said.get(key):
                    self.add_error(key, _("Only words are chosen: leave this empty."))
            if not said.get("unit") and self.kind != "count":
                self.add_error("unit", _("Say in which unit it is read."))
            ends = [readable(self, key, self.kind) for key in ("low", "high")]
            if None not in ends and ends[0] > ends[1]:  # type: ignore[operator]
                self.add_error("high", _("The most is less than the least."))
        for one in said.get("bad", []):
            if one not in said.get("choices", []):
                self.add_error(
                    "bad", _("“{words}” is not among what can be seen.").format(words=one)
                )
        return said

    def changes(self, now: Standing) -> Changes:
        """The reading, the figures of its limits, and on the step that reads it."""
        said = self.cleaned_data
        name = self.asked or edit.id_of(said["text"], now.book.readings)
        values: dict[str, Any] = self.said(*self.PLAIN, "unit")
        made: dict[tuple[str, ...], Any] = {}
        for key, words in (("low", _("least")), ("high", _("most"))):
            if {key, "source"} & set(self.changed_data) or not self.reading:
                made |= self._limit_changes(now, name, key, words, values)
        if self.asked:
            return {**made, **edit.says(now, ("readings", name), values)}
        here = {key: said[key] for key in (*self.PLAIN, "unit") if said[key]}
        here |= {
            "quantity": said["quantity"],
            **{k: v for k, v in values.items() if k in ("low", "high")},
        }
        read = [*step_of(now.book, self.name).readings, name]
        return {
            **made,
            **declared("readings", name, here, Reading),
            **edit.says(now, self.path, {"readings": read}),
        }

    def _limit(self, book: Book, key: str) -> str:
        """The value of a limit as its figure has it."""
        name = getattr(self.reading, key)
        figure = book.figures[name] if name else None
        return (figure.value or getattr(figure, key) or "") if figure else ""

    def _limit_changes(
        self, now: Standing, name: str, key: str, words: str, values: dict[str, Any]
    ) -> Changes:
        """A limit is a figure with its source: the one it has, else a new one; none where it was emptied."""
        said = self.cleaned_data
        figure = getattr(self.reading, key) if self.reading else None
        if not said[key]:
            if figure and key in self.changed_data:
                values[key] = None
            return {}
        if figure is None:
            figure = edit.id_of(f"{name}_{'least' if key == 'low' else 'most'}", now.book.figures)
            values[key] = figure
            new = {"text": f"{said['text']}, {words}", "quantity": self.kind, "value": said[key]}
            return declared("figures", figure, new | {"source": said["source"]}, Figure)
        stands = now.book.figures[figure]
        at = "value" if stands.value or not getattr(stands, key) else key
        return edit.says(now, ("figures", figure), {at: said[key], "source": said["source"]})
