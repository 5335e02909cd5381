"""What a step works with, and how often a job is due: tools, parts, what it needs, circuits, intervals."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, ClassVar, cast

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from witnessmark import units
from witnessmark.book import Book, edit
from witnessmark.book.edit import Standing
from witnessmark.book.model import Figure, JobHead, Part
from witnessmark.book.text_edit import Changes
from witnessmark.shop.forms import in_words
from witnessmark.shop.pages.books.edit_forms import (
    EditForm,
    NamedForm,
    StepForm,
    declared,
    merged,
    readable,
    step_of,
    tiles,
)

MOST_PARTS = 1000  # of one part in a step (`model.Step`)
ALL = "all"  # of a circuit that a step opens: every requirement
FIGURES = {"every_distance": "distance", "every_time": "duration"}


class ToolsForm(NamedForm):
    """The tools that are laid out for a step, and a new one."""

    heading = gettext_lazy("Tools")
    NAMES = (("tools", "tools"),)
    new = forms.CharField(
        label=gettext_lazy("Another one: what it is called"), required=False, max_length=200
    )
    tools = tiles(gettext_lazy("Laid out for this step"))

    def changes(self, now: Standing) -> Changes:
        """With the new one declared."""
        words = self.cleaned_data["new"]
        if not words:
            return super().changes(now)
        name = edit.id_of(words, now.book.tools)
        stands = step_of(now.book, self.name).tools
        listed = merged(stands, self.step_was.tools, self.cleaned_data["tools"])
        return {
            **edit.says(now, self.path, {"tools": [*listed, name]}),
            ("tools", name, "text"): words,
        }


class TableForm(StepForm):
    """A table of a step, with a field for each thing that it may name; only what was changed is written."""

    TABLE: ClassVar[str] = ""

    def field_names(self, things: Mapping[str, Any]) -> list[str]:
        """The things in the order of the page: those that the step names first, then by their words."""
        named = getattr(self.step_was, self.TABLE)
        others = sorted(set(things) - set(named), key=lambda one: things[one].text.lower())
        return [*(one for one in named if one in things), *others]


class PartsForm(TableForm):
    """How many of which parts a step uses."""

    heading = gettext_lazy("Parts")
    TABLE = "parts"
    new = forms.CharField(
        label=gettext_lazy("Another one: what it is called"), required=False, max_length=200
    )
    new_count = forms.CharField(
        label=gettext_lazy("How many of it"), required=False, max_length=12, initial="1"
    )
    consumable = forms.BooleanField(
        label=gettext_lazy("A consumable, like rags and cleaner"), required=False
    )

    def begin(self) -> None:
        """A number for each part of the book."""
        super().begin()
        for name in self.field_names(self.was.parts):
            part, count = self.was.parts[name], self.step_was.parts.get(name)
            label = part.text if part.unit == "piece" else f"{part.text}, {part.unit}"
            self.fields[f"of_{name}"] = forms.CharField(
                label=label, required=False, max_length=12,
                initial="" if count is None else f"{count:g}",
                widget=forms.TextInput({"inputmode": "decimal", "autocomplete": "off"}),
            )  # fmt: skip
        used = [f"of_{name}" for name in self.step_was.parts]
        self.order_fields([*used, "new", "new_count", "consumable"])

    def clean(self) -> dict[str, Any]:
        """Numbers of parts, more than none; empty: not used."""
        said = super().clean() or {}
        for key in [name for name in said if name.startswith("of_") or name == "new_count"]:
            text = (said.get(key) or "").strip()
            if not text:
                said[key] = None
                continue
            try:
                said[key] = units.read_number(text, most=MOST_PARTS)
            except units.QuantityError as error:
                self.add_error(key, in_words(error))
                continue
            if not 0 < said[key] <= MOST_PARTS:
                words = _("More than none and at most {most}; empty where it is not used.")
                self.add_error(key, words.format(most=MOST_PARTS))
        if said.get("new") and not said.get("new_count") and "new_count" not in self.errors:
            self.add_error("new_count", _("Say how many of it."))
        return said

    def changes(self, now: Standing) -> Changes:
        """The counts that were changed, and the new part."""
        step_of(now.book, self.name)
        said = self.cleaned_data
        counts = {
            name.removeprefix("of_"): said[name]
            for name in self.changed_data
            if name.startswith("of_")
        }
        if not said["new"]:
            return edit.entries(now, self.path, "parts", counts)
        name = edit.id_of(said["new"], now.book.parts)
        words = {"text": said["new"], "consumable": said["consumable"]}
        counts[name] = said["new_count"]
        return {
            **edit.entries(now, self.path, "parts", counts),
            **declared("parts", name, words, Part),
        }


class NeedsForm(TableForm):
    """How the machine must stand for a step: the states that will do, condition by condition."""

    heading = gettext_lazy("What it needs of the machine")
    TABLE = "needs"

    def begin(self) -> None:
        """The states of each condition; none ticked: all the same."""
        super().begin()
        for name in self.field_names(self.was.conditions):
            condition = self.was.conditions[name]
            field = tiles(condition.text)
            field.choices = [(s, condition.state_words.get(s, s)) for s in condition.states]
            field.initial = self.step_was.needs.get(name, [])
            self.fields[f"of_{name}"] = field

    def changes(self, now: Standing) -> Changes:
        """The conditions that were changed."""
        step_of(now.book, self.name)
        changed = [name for name in self.changed_data if name.startswith("of_")]
        values = {name.removeprefix("of_"): self.cleaned_data[name] or None for name in changed}
        return edit.entries(now, self.path, "needs", values)


class CircuitsForm(StepForm):
    """What a step opens of circuits, and what it shows closed."""

    heading = gettext_lazy("Circuits opened and closed")
    opens = tiles(gettext_lazy("Opens"))
    closes = tiles(gettext_lazy("Shows closed"))

    def begin(self) -> None:
        """Every requirement of every circuit, those of this step first."""
        super().begin()
        circuits = self.was.circuits
        for key in ("opens", "closes"):
            named = list(_pairs(self.was, getattr(self.step_was, key)))
            every = [f"{c}/{r}" for c, circuit in circuits.items() for r in circuit.closed_by]
            field = cast("forms.MultipleChoiceField", self.fields[key])
            field.choices = [
                (one, self._words(*one.split("/")))
                for one in (*named, *(one for one in every if one not in named))
            ]
            field.initial = named

    def _words(self, circuit: str, requirement: str) -> str:
        about = self.was.circuits[circuit]
        return f"{about.text}: {about.closed_by[requirement].text}"

    def changes(self, now: Standing) -> Changes:
        """Circuit by circuit, with what was ticked and without what was not any more."""
        step = step_of(now.book, self.name)
        made: dict[tuple[str, ...], Any] = {}
        for key, sent in self.said("opens", "closes").items():
            stands, was = getattr(step, key), getattr(self.step_was, key)
            listed = merged([*_pairs(now.book, stands)], [*_pairs(self.was, was)], sent)
            values: dict[str, Any] = {}
            for circuit in {**stands, **dict.fromkeys(one.split("/")[0] for one in listed)}:
                closed_by = now.book.circuits[circuit].closed_by
                ours = [r for r in closed_by if f"{circuit}/{r}" in listed]
                whole = key == "opens" and len(ours) == len(closed_by)
                values[circuit] = [ALL] if whole else ours or None
            changed = {c: value for c, value in values.items() if value != stands.get(c)}
            made |= edit.entries(now, self.path, key, changed)
        return made


def _pairs(book: Book, said: Mapping[str, Sequence[str]]) -> Iterator[str]:
    """``circuit/requirement``, one by one."""
    for circuit, named in said.items():
        about = book.circuits[circuit]
        wanted = about.wanted(named)
        yield from (f"{circuit}/{r}" for r in about.closed_by if r in wanted)


class IntervalsForm(EditForm):
    """How often a job is due; its intervals are figures with their source, which other jobs may share."""

    heading = gettext_lazy("How often it is due")
    every_distance = forms.CharField(
        label=gettext_lazy("Every, by distance"), required=False, max_length=60,
        help_text=gettext_lazy("With its unit: 6000 km. Empty: not by distance."),
    )  # fmt: skip
    every_time = forms.CharField(
        label=gettext_lazy("Or every, by time"), required=False, max_length=60,
        help_text=gettext_lazy("With its unit: 12 months. Empty: not by time."),
    )  # fmt: skip
    source = forms.CharField(
        label=gettext_lazy("Document and page"), required=False, max_length=200
    )
    alone = forms.BooleanField(label=gettext_lazy("For this job alone"), required=False)

    def begin(self) -> None:
        """The figures there are; a shared one is changed for all of its jobs, or for this one alone."""
        names = [name for key in FIGURES if (name := getattr(self.job_was, key))]
        figures = self.was.figures
        for key in FIGURES:
            name = getattr(self.job_was, key)
            self.fields[key].initial = (figures[name].value or "") if name else ""
        sources = (figures[name].source for name in names)
        self.fields["source"].initial = next(filter(None, sources), "")
        shared = [
            job.text
            for other, job in self.was.jobs.items()
            if other != self.job and {*names} & {job.every_distance, job.every_time}
        ]
        if shared:
            words = _("Else it changes as well for: {jobs}.").format(jobs=", ".join(shared))
            self.fields["alone"].help_text = words
        else:
            del self.fields["alone"]

    def clean(self) -> dict[str, Any]:
        """Quantities that are more than nothing."""
        said = super().clean() or {}
        for key, quantity in FIGURES.items():
            value = readable(self, key, cast("units.Quantity", quantity))
            if value is not None and value <= 0:
                self.add_error(key, _("An interval is more than nothing."))
        return said

    def changes(self, now: Standing) -> Changes:
        """The figures, and which of them the job names."""
        said, job = self.cleaned_data, now.book.jobs[self.job]
        changed = [key for key in FIGURES if {key, "source"} & {*self.changed_data}]
        named: dict[str, Any] = {}
        made: dict[tuple[str, ...], Any] = {}
        for key in changed:
            figure, value = getattr(job, key), said[key].strip()
            given = {"value": value, "source": said["source"]}
            if not value:
                # a figure that is still missing stays asked for, unless its job is to have none
                if figure and key in self.changed_data:
                    named[key] = None
            elif figure is None or said.get("alone"):
                quantity = FIGURES[key]
                figure = edit.id_of(f"{self.job}_every_{quantity}", now.book.figures)
                text = _("{job}, every").format(job=job.text)
                made |= declared("figures", figure, {"text": text, "quantity": quantity} | given, Figure)  # fmt: skip
                named[key] = figure
            else:
                made |= edit.says(now, ("figures", figure), given)
        assert set(named) <= set(JobHead.model_fields)
        return {**made, **edit.says(now, ("jobs", self.job), named)}
