"""What can be changed of a book, one thing to a page: a form for each, and what it makes of the text."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar, cast

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from witnessmark import units
from witnessmark.book import Book, edit
from witnessmark.book.edit import Standing
from witnessmark.book.model import Fastener, Figure, Job, Step
from witnessmark.book.text_edit import Changes
from witnessmark.shop.forms import ManyTiles, SheetForm, in_words

DAY = 24 * 60  # minutes
MOST_BOLTS = 60  # in a group (`model.Fastener`)
LINES = forms.Textarea({"rows": 6})
FEW = forms.Textarea({"rows": 3})


class MinutesField(forms.CharField):
    """Minutes of work, in tenths; cleans to a float."""

    unit = "min"

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=12, **kwargs)
        self.widget.attrs |= {"inputmode": "decimal", "autocomplete": "off"}

    def prepare_value(self, value: Any) -> Any:
        """Without a point where it is whole."""
        return f"{value:g}" if isinstance(value, float | int) else value

    def clean(self, value: Any) -> Any:
        """Read the number; the error says what would be right."""
        text = super().clean(value).strip() or "0"
        try:
            minutes = units.read_number(text, unit=self.unit, most=DAY)
        except units.QuantityError as error:
            raise ValidationError(in_words(error)) from None
        if not 0 <= minutes <= DAY:
            problem = _(
                "A step takes from 0 to {most} minutes: what takes longer is more than one."
            )
            raise ValidationError(problem.format(most=DAY))
        return round(minutes, 1)

    def has_changed(self, initial: Any, data: Any) -> bool:
        """By the number."""
        return bool(self.clean(data or "") != (initial or 0.0))


class LinesField(forms.CharField):
    """One thing on each line; cleans to a list."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, strip=True, widget=LINES, max_length=8000, **kwargs)

    def prepare_value(self, value: Any) -> Any:
        """Line by line."""
        return "\n".join(value) if isinstance(value, list) else value

    def clean(self, value: Any) -> Any:
        """Without empty lines, each once."""
        lines = (line.strip() for line in super().clean(value).splitlines())
        return list(dict.fromkeys(line for line in lines if line))

    def has_changed(self, initial: Any, data: Any) -> bool:
        """By its lines."""
        return self.clean(data or "") != (initial or [])


def tiles(label: Any) -> forms.MultipleChoiceField:
    """Some of what the book has, as tiles."""
    return forms.MultipleChoiceField(label=label, required=False, widget=ManyTiles)


class EditForm(SheetForm):
    """One change. `shown`: the book that the page showed, so that only what was changed on it counts."""

    heading: ClassVar[Any]
    of = forms.CharField(widget=forms.HiddenInput)  # what is changed: "job", "job/step"
    thing = forms.CharField(
        widget=forms.HiddenInput, required=False
    )  # of a step: its reading or caution
    shown = forms.CharField(widget=forms.HiddenInput, required=False)
    looked = forms.CharField(widget=forms.HiddenInput, required=False)
    made = ""  # the id of a job that the change makes

    def __init__(self, *args: Any, was: Book, of: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.was, self.name = was, of
        self.fields["of"].initial = of
        self.begin()

    def begin(self) -> None:
        """Fill in what the book says; KeyError where it has no such thing."""
        self.was.jobs[self.job]  # KeyError for one that is not there

    def changes(self, now: Standing) -> Changes:
        """What the text says then."""
        raise NotImplementedError

    def show_again(self, shown: str, looked: str, **more: str) -> None:
        """Let the page that comes back say what it shows to be saved. What it was first made from stays."""
        data = cast("QueryDict", self.data).copy()
        data["looked"] = looked
        data["shown"] = data.get("shown") or shown
        data.update(more)
        self.data = data

    @property
    def about(self) -> str:
        """What is changed, in words."""
        return self.job_was.text

    @cached_property
    def job(self) -> str:
        """The job that is meant, or whose step is."""
        return self.name.partition("/")[0]

    @property
    def step(self) -> str:
        """The step of it that is meant; none for a job as a whole."""
        return self.name.partition("/")[2]

    @property
    def asked(self) -> str:
        """The reading or caution that is meant."""
        return str((self.data if self.is_bound else self.initial).get("thing", ""))

    @property
    def job_was(self) -> Job:
        """That job as the page showed it."""
        return self.was.jobs[self.job]

    def said(self, *names: str) -> dict[str, Any]:
        """Those of the fields that were changed on the page, as they are now."""
        return {name: self.cleaned_data[name] for name in names if name in self.changed_data}


class StepForm(EditForm):
    """A change of one step: an operation, or an access step."""

    KEYS: ClassVar[tuple[str, ...]] = ()

    def begin(self) -> None:
        """What the step says."""
        said = self.step_was
        for key in self.KEYS:
            self.fields[key].initial = getattr(said, key)

    @cached_property
    def job(self) -> str:
        """The job whose step it is; of an access step the job that it was asked from."""
        return self.name.partition("/")[0] if "/" in self.name else self.asked

    @property
    def path(self) -> tuple[str, ...]:
        """Where the step stands in the book."""
        job, _slash, step = self.name.partition("/")
        return ("jobs", job, "operations", step) if step else ("access", job)

    @property
    def step_was(self) -> Step:
        """The step as the page showed it."""
        return step_of(self.was, self.name)

    @property
    def about(self) -> str:
        """The words of the step."""
        return self.step_was.text

    def changes(self, now: Standing) -> Changes:
        """The keys that were changed; KeyError where the step is gone."""
        step_of(now.book, self.name)
        return edit.says(now, self.path, self.said(*self.KEYS))


class MinutesForm(StepForm):
    """How long a step takes."""

    heading = gettext_lazy("Minutes")
    KEYS = ("minutes", "unattended", "waits_for")
    minutes = MinutesField(label=gettext_lazy("Somebody works on it for"), required=False)
    unattended = MinutesField(
        label=gettext_lazy("Then it needs nobody for"),
        required=False,
        help_text=gettext_lazy("Running out, charging, curing."),
    )
    waits_for = forms.CharField(
        label=gettext_lazy("What is waited for"), required=False, max_length=200
    )

    def clean(self) -> dict[str, Any]:
        """A wait says what for."""
        said = super().clean() or {}
        if said.get("unattended") and not said.get("waits_for"):
            self.add_error("waits_for", _("Say what is waited for: “oil runs out”."))
        return said


class WordsForm(StepForm):
    """What a step is called, and what its card says."""

    heading = gettext_lazy("Words")
    KEYS = ("text", "does", "place")
    text = forms.CharField(label=gettext_lazy("Called"), max_length=200)
    does = LinesField(label=gettext_lazy("What to do, line by line"))
    place = forms.CharField(
        label=gettext_lazy("Where at the machine"), required=False, max_length=80
    )


class NamedForm(StepForm):
    """What a step names of the book, as tiles, those it names first. What is not ticked is not there."""

    NAMES: ClassVar[tuple[tuple[str, str], ...]] = ()  # the key of the step, the table of the book

    def begin(self) -> None:
        """Everything there is, with what the step names ticked."""
        for key, table in self.NAMES:
            named, things = getattr(self.step_was, key), getattr(self.was, table)
            others = sorted(set(things) - set(named), key=lambda one: things[one].text.lower())
            field = cast("forms.MultipleChoiceField", self.fields[key])
            field.choices = [(one, things[one].text) for one in (*named, *others) if one in things]
            field.initial = list(named)

    def changes(self, now: Standing) -> Changes:
        """Each list as it stands, with what was ticked and without what was not any more."""
        step = step_of(now.book, self.name)
        values = {
            key: merged(getattr(step, key), getattr(self.step_was, key), sent)
            for key, sent in self.said(*(key for key, _table in self.NAMES)).items()
        }
        return edit.says(now, self.path, values)


class CautionsForm(NamedForm):
    """The cautions of a step, and a new one."""

    heading = gettext_lazy("Cautions")
    NAMES = (("cautions", "cautions"),)
    new = forms.CharField(
        label=gettext_lazy("Another one, in your words"), required=False, widget=FEW,
        max_length=600,
        help_text=gettext_lazy("What can hurt, and what to do. The maker’s manual and local law come first."),
    )  # fmt: skip
    cautions = tiles(gettext_lazy("On its card"))

    def changes(self, now: Standing) -> Changes:
        """With the new one declared."""
        made = super().changes(now)
        words = self.cleaned_data["new"]
        if not words:
            return made
        name = edit.id_of(words, now.book.cautions)
        stands = step_of(now.book, self.name).cautions
        listed = merged(stands, self.step_was.cautions, self.cleaned_data["cautions"])
        return {
            **edit.says(now, self.path, {"cautions": [*listed, name]}),
            ("cautions", name, "text"): words,
        }


class CautionForm(StepForm):
    """The words of a caution, on every card that has it."""

    heading = gettext_lazy("A caution, on every card that has it")
    text = forms.CharField(label=gettext_lazy("What can hurt, and what to do"), widget=FEW, max_length=600)  # fmt: skip

    def begin(self) -> None:
        """Its words."""
        super().begin()
        self.fields["text"].initial = self.was.cautions[self.asked].text

    def changes(self, now: Standing) -> Changes:
        """Its words."""
        if self.asked not in now.book.cautions:
            raise KeyError(self.asked)
        return edit.says(now, ("cautions", self.asked), self.said("text"))


class ReadingsForm(NamedForm):
    """What is read in a step."""

    heading = gettext_lazy("Readings")
    NAMES = (("readings", "readings"),)
    readings = tiles(gettext_lazy("Read in this step"))


class FastenersForm(NamedForm):
    """What a step loosens and makes tight, and a fastener that the book does not have yet."""

    heading = gettext_lazy("Fasteners")
    NAMES = (("loosens", "fasteners"), ("tightens", "fasteners"))
    loosens = tiles(gettext_lazy("Loosens"))
    tightens = tiles(gettext_lazy("Makes tight"))
    new = forms.CharField(
        label=gettext_lazy("Another one: what it is called"), required=False, max_length=200
    )
    does = forms.MultipleChoiceField(
        label=gettext_lazy("This step"),
        required=False,
        widget=ManyTiles,
        choices=[("loosens", gettext_lazy("loosens it")), ("tightens", gettext_lazy("makes it tight"))],
    )  # fmt: skip
    count = forms.CharField(
        label=gettext_lazy("How many"), required=False, max_length=3, initial="1"
    )
    torque = forms.CharField(label=gettext_lazy("Torque, with its unit"), required=False, max_length=60)  # fmt: skip
    source = forms.CharField(label=gettext_lazy("Document and page"), required=False, max_length=200)  # fmt: skip

    def clean(self) -> dict[str, Any]:
        """A new one has a number, and is loosened or made tight."""
        said = super().clean() or {}
        if said.get("new"):
            if not said.get("does"):
                self.add_error("does", _("Say what this step does with it."))
            if not (said.get("count", "").isdecimal() and 1 <= int(said["count"]) <= MOST_BOLTS):
                self.add_error(
                    "count", _("Write a number from 1 to {most}.").format(most=MOST_BOLTS)
                )
            readable(self, "torque", "torque")
        elif said.get("torque"):
            self.add_error("new", _("Say what it is called."))
        return said

    def changes(self, now: Standing) -> Changes:
        """With the new one declared; its torque is a figure, missing where none was written."""
        made = dict(super().changes(now))
        said = self.cleaned_data
        if not said["new"]:
            return made
        name = edit.id_of(said["new"], {**now.book.fasteners, **now.book.figures})
        figure = edit.id_of(f"{name}_torque", now.book.figures)
        step = step_of(now.book, self.name)
        values = {}
        for key, _table in self.NAMES:
            listed = merged(getattr(step, key), getattr(self.step_was, key), said[key])
            values[key] = [*listed, name] if key in said["does"] else listed
        words = {"text": said["new"], "count": int(said["count"]), "figure": figure}
        torque = {"text": said["new"], "quantity": "torque"}
        torque |= {"value": said["torque"], "source": said["source"]}
        return {
            **edit.says(now, self.path, values),
            **declared("fasteners", name, words, Fastener),
            **declared("figures", figure, torque, Figure),
        }


# ---------------------------------------------------------------- what several of them need


def step_of(book: Book, name: str) -> Step:
    """A step by ``job/step``, or an access step by its id. Raises KeyError."""
    job, _slash, step = name.partition("/")
    return book.jobs[job].operations[step] if step else book.access[job]


def merged(stands: Sequence[str], was: Sequence[str], sent: Sequence[str]) -> list[str]:
    """A list as it stands now, with what a page added to what it had shown, and without what it took away."""
    gone = set(was) - set(sent)
    fresh = [one for one in sent if one not in was and one not in stands]
    return [*(one for one in stands if one not in gone), *fresh]


def declared(table: str, name: str, values: Mapping[str, Any], model: type) -> Changes:
    """A new thing of the book, without what is empty or usual."""
    usual = model.model_fields  # type: ignore[attr-defined]
    return {
        (table, name, key): value
        for key, value in values.items()
        if value not in ("", [], None) and value != usual[key].default
    }


def readable(form: SheetForm, key: str, quantity: units.Quantity) -> float | None:
    """The quantity typed into a field, in its base unit; None where there is none, or it is told there."""
    text = (form.cleaned_data.get(key) or "").strip()
    if not text:
        return None
    try:
        return units.read(text, quantity).value
    except units.QuantityError as error:
        form.refuse(error, key)
        return None
