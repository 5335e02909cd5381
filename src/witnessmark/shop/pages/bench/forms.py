"""What is typed at the bench besides readings: reasons, findings, notes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache, lru_cache
from typing import Any

from django import forms
from django.utils.safestring import SafeString
from django.utils.translation import get_language, gettext
from django.utils.translation import gettext_lazy as _
from django.utils.translation import gettext_noop as noop

from witnessmark.shop.forms import ChoiceTiles, ManyTiles, PhotoInput, SheetForm
from witnessmark.shop.work.forms import JudgeForm, LeaveForm, SettleForm, words
from witnessmark.shop.work.visit import Work

PASSED_BY, SHORT_WAIT = "passed-by", "short-wait"  # fields: why a gate, a wait is passed by
LOOSE = "loose-because"  # field: why a safety-critical fastener is left not tight
AFTER_ALL = "after-all"  # field: the reports that a step cannot be done which doing it answers
WAITS = "waits"  # field: whether the page's tap begins a wait or says that it is over
WONT = [
    noop("stuck"),
    noop("stripped"),
    noop("broken"),
    noop("wrong part"),
    noop("part missing"),
    noop("worse than thought"),
]


class SkipForm(SheetForm):
    """Why a step is not done on this visit."""

    reason = forms.CharField(label=_("Why is it not done?"), max_length=400)


class StopWaitForm(SheetForm):
    """Why a wait is broken off."""

    because = forms.CharField(
        label=_("Why is it broken off?"),
        max_length=400,
        help_text=_("The step is then to be done again. What it opened stays open."),
    )


class WontForm(SheetForm):
    """A step that fails; ``jobs``: those it is for, where it is asked which of them stop."""

    what = forms.ChoiceField(label=_("What is it?"), choices=words(*WONT), widget=ChoiceTiles)
    stops = forms.MultipleChoiceField(
        label=_("Which job stops with it?"),
        widget=ManyTiles,
        error_messages={"required": _("Say which job stops: one of them, or all.")},
    )
    safe_now = forms.CharField(
        label=_("What is safe now?"),
        max_length=400,
        help_text=_("What holds, what is loose, what must not be touched."),
    )
    text = forms.CharField(
        label=_("In more words (if any)"),
        required=False,
        max_length=2000,
        widget=forms.Textarea({"rows": 2}),
    )
    line = forms.CharField(
        label=_("Line for the estimate (if any)"),
        required=False,
        max_length=300,
    )
    minutes = forms.FloatField(
        label=_("Minutes it would take (if known)"), required=False, min_value=0, max_value=10_000
    )
    photo = forms.FileField(label=_("Photo (if any)"), required=False, widget=PhotoInput)

    def __init__(self, *args: Any, jobs: Sequence[tuple[str, str]] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if len(jobs) > 1:
            self.fields["stops"].choices = jobs  # type: ignore[attr-defined]
        else:
            del self.fields["stops"]

    def stopped(self) -> dict[str, object]:
        """The jobs that stop, and whether others still have the step, as the entry says it."""
        said = self.cleaned_data.get("stops", [])
        every = self.fields["stops"].choices if said else ()  # type: ignore[attr-defined]
        return {"jobs": said, "for_others": len(said) < len(every)}


class LeaveJobForm(LeaveForm):
    """A job that is not done on this visit; ``jobs``: those that a card is for."""

    job = forms.ChoiceField(label=_("Which job?"), widget=ChoiceTiles)
    field_order = ("job", "because")

    def __init__(self, *args: Any, jobs: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["job"].choices = jobs  # type: ignore[attr-defined]
        if len(jobs) == 1:
            self.fields["job"].required = False
            self.fields["job"].widget = forms.HiddenInput()

    def clean_job(self) -> str:
        """The one there is, where nobody was asked."""
        return self.cleaned_data["job"] or next(iter(self.fields["job"].choices))[0]  # type: ignore[attr-defined]


class FoundForm(SheetForm):
    """Something found that nobody asked for."""

    text = forms.CharField(label=_("What did you find?"), max_length=1000)
    safety = forms.BooleanField(label=_("It concerns safety"), required=False)
    job = forms.ChoiceField(
        label=_("A job of the book would put it right"),
        required=False,
        error_messages={"invalid_choice": _("That job is part of this visit already.")},
    )
    line = forms.CharField(label=_("or a line in your own words"), required=False, max_length=300)
    minutes = forms.FloatField(
        label=_("Minutes it would take"), required=False, min_value=0, max_value=10_000
    )
    photo = forms.FileField(label=_("Photo"), required=False, widget=PhotoInput)

    def __init__(self, *args: Any, jobs: Iterable[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["job"].choices = [("", gettext("no job")), *jobs]  # type: ignore[attr-defined]


class NoteForm(SheetForm):
    """A remark, with or without a photo."""

    text = forms.CharField(
        label=_("Note"),
        max_length=2000,
        required=False,
        widget=forms.Textarea({"rows": 2}),
    )
    photo = forms.FileField(label=_("Photo"), required=False, widget=PhotoInput)

    def clean(self) -> dict[str, Any]:
        """A note says something or shows something."""
        said = super().clean() or {}
        if not said.get("text") and not said.get("photo") and not self.errors:
            self.add_error("text", gettext("Write a note or take a photo."))
        return said


def fresh(work: Work, jobs: tuple[tuple[str, str], ...]) -> dict[str, SafeString]:
    """The unfilled forms of the page, as it shows them; ``jobs``: those that its card is for."""
    language = get_language()
    found = {"found_form": _blank_found(language, jobs_of(work))}
    return _blank(language) | found | _blank_of_card(language, jobs)


@cache
def _blank(_language: str | None) -> dict[str, SafeString]:
    """Those that are the same on every page."""
    return {
        "skip_form": SkipForm(prefix="skip").render(),
        "stop_form": StopWaitForm(prefix="stop").render(),
        "note_form": NoteForm(prefix="note").render(),
        "settle_form": SettleForm(prefix="settle").render(),
        "judge_form": JudgeForm(prefix="judge").render(),
    }


@lru_cache(maxsize=64)
def _blank_found(_language: str | None, jobs: tuple[tuple[str, str], ...]) -> SafeString:
    return FoundForm(prefix="found", jobs=jobs).render()


@lru_cache(maxsize=256)
def _blank_of_card(
    _language: str | None, jobs: tuple[tuple[str, str], ...]
) -> dict[str, SafeString]:
    made = {"wont_form": WontForm(prefix="wont", jobs=jobs).render()}
    return made | ({"leave_form": LeaveJobForm(prefix="leave", jobs=jobs).render()} if jobs else {})


def jobs_of(work: Work) -> tuple[tuple[str, str], ...]:
    """Id and words of the jobs that can still be taken on."""
    every = work.book.jobs.items()
    return tuple((name, job.text) for name, job in every if name not in work.state.taken)
