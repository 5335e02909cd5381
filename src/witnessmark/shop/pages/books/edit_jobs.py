"""A job as a whole: the order of its steps, those left out, one more, and a job after the pattern of another."""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from witnessmark.book import Book, BookError, BookErrors, edit
from witnessmark.book.edit import Standing
from witnessmark.book.model import Step
from witnessmark.book.own_job import OWN, own_job_of
from witnessmark.book.own_job_text import with_job
from witnessmark.book.select import in_turn
from witnessmark.book.text_edit import Changes
from witnessmark.shop.pages.books.edit_forms import (
    FEW,
    EditForm,
    LinesField,
    MinutesField,
    StepForm,
    tiles,
)


class JobWordsForm(EditForm):
    """What a job is called, and what it is for."""

    heading = gettext_lazy("Words")
    text = forms.CharField(label=gettext_lazy("Called"), max_length=200)
    why = forms.CharField(
        label=gettext_lazy("What it is for, for the owner"), required=False, widget=FEW,
        max_length=600,
    )  # fmt: skip
    also_called = LinesField(label=gettext_lazy("Also found by, one name to a line"))

    def begin(self) -> None:
        """What the job says."""
        for key in ("text", "why", "also_called"):
            self.fields[key].initial = getattr(self.job_was, key)

    def changes(self, now: Standing) -> Changes:
        """The keys that were changed."""
        return edit.says(now, ("jobs", self.job), self.said("text", "why", "also_called"))


class OrderForm(EditForm):
    """The order of a job's steps, moved one at a time."""

    heading = gettext_lazy("Order of the steps")
    order = forms.CharField(widget=forms.HiddenInput)

    def begin(self) -> None:
        """The order there is."""
        self.fields["order"].initial = ",".join(in_turn(self.was, self.job))

    @property
    def names(self) -> list[str]:
        """The steps in the order that the page shows: what was sent, after the button that was pressed."""
        names = [
            one for one in str(self["order"].value()).split(",") if one in self.job_was.operations
        ]
        way, _sign, name = self.data.get("move", "").partition(":")
        if name in names and way in ("up", "down"):
            at = names.index(name)
            to = min(max(at + (-1 if way == "up" else 1), 0), len(names) - 1)
            names[at], names[to] = names[to], names[at]
        return names

    @property
    def rows(self) -> list[tuple[str, Step]]:
        """Each step in that order."""
        return [(name, self.job_was.operations[name]) for name in self.names]

    def show_again(self, shown: str, looked: str, **more: str) -> None:
        """With the step moved."""
        super().show_again(shown, looked, order=",".join(self.names), move="", **more)

    def clean(self) -> dict[str, Any]:
        """Every step once."""
        if sorted(self.names) != sorted(self.job_was.operations):
            raise ValidationError(_("This is not every step of the job, each once."))
        return super().clean() or {}

    def changes(self, now: Standing) -> Changes:
        """What the page turned round, where the job still has these steps."""
        there = now.book.jobs[self.job].operations
        if set(there) != set(self.names):
            words = _("The job has other steps by now: look at their order again.")
            raise BookErrors([BookError(self.job_was.text, words, "")])
        return edit.in_order(now, self.job, self.names)


class StepsForm(EditForm):
    """Which steps of a job are done; what is not ticked is left out, and can be put back."""

    heading = gettext_lazy("Steps left out, or back in")
    steps = tiles(gettext_lazy("Done in this job"))

    def __init__(self, *args: Any, beneath: Book | None, **kwargs: Any) -> None:
        self.beneath = beneath
        super().__init__(*args, **kwargs)

    def begin(self) -> None:
        """The steps that the job has, and those that it has only by the block."""
        here = self.job_was.operations
        below = self.beneath.jobs.get(self.job) if self.beneath else None
        every = {
            **here,
            **{
                name: one
                for name, one in (below.operations if below else {}).items()
                if name not in here
            },
        }
        cast("forms.MultipleChoiceField", self.fields["steps"]).choices = [
            (name, every[name].text)
            for name in (*in_turn(self.was, self.job), *(n for n in every if n not in here))
        ]
        self.fields["steps"].initial = list(here)
        self.every = list(every)

    def clean_steps(self) -> list[str]:
        """One at least."""
        said: list[str] = self.cleaned_data["steps"]
        if not said:
            raise ValidationError(
                _("A job has a step at least. Leave out the whole job in place of it.")
            )
        return said

    def changes(self, now: Standing) -> Changes:
        """What was unticked is out, what was ticked is in; the others are as they stand now."""
        here, sent = self.job_was.operations, self.cleaned_data["steps"]
        stands = now.book.jobs[self.job].operations
        out = {name for name in self.every if name not in stands}
        out |= {name for name in here if name not in sent}
        out -= {name for name in sent if name not in here}
        return edit.left_out(now, self.job, out)


class LeaveJobForm(EditForm):
    """A whole job left out of the book."""

    heading = gettext_lazy("Leave this job out")

    def changes(self, now: Standing) -> Changes:
        """Without it."""
        return edit.job_left_out(now, self.job)


class NewStepForm(StepForm):
    """A step more, behind the one it is asked from; it needs the machine as that one leaves it."""

    heading = gettext_lazy("A step of your own")
    text = forms.CharField(label=gettext_lazy("What it is called"), max_length=200)
    does = LinesField(label=gettext_lazy("What to do, line by line"))
    minutes = MinutesField(label=gettext_lazy("Somebody works on it for"))

    @property
    def about(self) -> str:
        """Where it goes."""
        return _("behind “{step}”").format(step=self.step_was.text)

    def changes(self, now: Standing) -> Changes:
        """The step, and what came after the one before it comes after this."""
        said = self.cleaned_data
        job, _slash, before = self.name.partition("/")
        own = now.book.jobs[job].operations
        ahead = own[before]
        name = edit.id_of(said["text"], own)
        needs = {**ahead.needs, **{one: [state] for one, state in ahead.sets.items()}}
        values = {"text": said["text"], "minutes": said["minutes"], "does": said["does"],
                  "place": ahead.place, "needs": needs, "after": [before]}  # fmt: skip
        path = ("jobs", job, "operations")
        made: dict[tuple[str, ...], Any] = {
            (*path, name, key): value for key, value in values.items() if value or key == "minutes"
        }
        for other, step in own.items():
            if before in step.after:
                after = [name if one == before else one for one in step.after]
                made |= edit.says(now, (*path, other), {"after": after})
        return made


class OwnJobForm(EditForm):
    """A job of one's own after the pattern of another: its steps and what they need, under new words."""

    heading = gettext_lazy("A job of your own, after this one")
    text = forms.CharField(label=gettext_lazy("What it is called"), max_length=200)
    why = forms.CharField(
        label=gettext_lazy("What it is for, for the owner"), required=False, widget=FEW,
        max_length=600,
    )  # fmt: skip

    @property
    def about(self) -> str:
        """Its pattern."""
        return _("after “{job}”; change its steps, words and fasteners next").format(
            job=self.job_was.text
        )

    def clean_text(self) -> str:
        """A name that no other job has."""
        words: str = self.cleaned_data["text"]
        if any(words.casefold() == job.text.casefold() for job in self.was.jobs.values()):
            raise ValidationError(_("There is a job of that name: call it otherwise."))
        return words

    def text_with(self, now: Standing) -> tuple[str, str]:
        """The text of the book with the job, and the id of the job."""
        said = self.cleaned_data
        name = edit.id_of(said["text"], {**now.book.jobs, **now.book.services})
        alike: dict[str, Any] = {
            "every_distance": None, "every_time": None, "early": [], "likely": None,
        }  # fmt: skip
        own = own_job_of(now.book, self.job).model_copy(
            # what the pattern alone speaks of is of the same machine: both name it
            update=alike | {table: {} for table in OWN} | {"text": said["text"], "why": said["why"]}
        )
        return with_job(now.text, now.book, own, name), name


class BackForm(EditForm):
    """As the block says: the override of one thing taken away. `of`: its path, with slashes."""

    heading = gettext_lazy("As the block says")

    def begin(self) -> None:
        """KeyError for what no page of ours offers."""
        if self.path[0] not in ("jobs", "access", "cautions", "readings") or len(self.path) < 2:
            raise KeyError(self.name)

    @property
    def path(self) -> tuple[str, ...]:
        """Where it stands in the book."""
        return tuple(self.name.split("/"))

    @property
    def about(self) -> str:
        """The difference tells it."""
        return ""

    @cached_property
    def job(self) -> str:
        """The job it is of."""
        return self.path[1] if self.path[0] == "jobs" else ""

    @property
    def step(self) -> str:
        """The step it is of."""
        return self.path[3] if len(self.path) > 3 else ""

    def changes(self, now: Standing) -> Changes:
        """Nothing of the book's own there."""
        here: Any = now.beneath
        for part in self.path[:4] if self.step else self.path[:2]:
            here = here.get(part) if isinstance(here, dict) else getattr(here, part, None)
        if here is None:
            words = _(
                "No block says anything of this: it is of this book alone. Leave it out where you do not want it."
            )
            raise BookErrors([BookError("", words, "")])
        return edit.as_the_block_says(now, self.path)
