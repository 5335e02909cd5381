"""An arrival left half typed while its service book is made: kept with the sign-in, shown again as it was."""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import urlencode

from django import forms
from django.http import HttpRequest, QueryDict
from django.urls import reverse

from witnessmark.shop.receipts import NOT_SAID

KEPT = "half_typed"  # in the session: by the id of its form, as the form would be sent
MOST = 3  # the oldest goes


def keep(request: HttpRequest, form: str, said: QueryDict) -> str:
    """Keep what was typed, once for each form; returns the page that shows it again."""
    typed = said.copy()
    for name in (*NOT_SAID, "half", "build"):
        typed.pop(name, None)
    others = {one: text for one, text in _all(request).items() if one != form}
    latest = {**others, form: typed.urlencode()}
    request.session[KEPT] = dict([*latest.items()][-MOST:])
    return f"{reverse('arrive')}?{urlencode({'half': form})}"


def again(request: HttpRequest, form: str) -> QueryDict | None:
    """What was typed; None where it is not here any more."""
    text = _all(request).get(form)
    return None if text is None else QueryDict(text, mutable=True)


def names(request: HttpRequest) -> Mapping[str, str]:
    """Each of them in words: plate and model, as far as they were typed."""
    typed = {form: QueryDict(text) for form, text in _all(request).items()}
    return {
        form: " ".join(filter(None, (said.get(f"machine-{n}", "") for n in ("maker", "model", "plate"))))
        for form, said in typed.items()
    }  # fmt: skip


def drop(request: HttpRequest, form: str) -> None:
    """Forget one that was taken in."""
    if form in _all(request):
        request.session[KEPT] = {one: said for one, said in _all(request).items() if one != form}


def begin_with(form: forms.BaseForm, typed: QueryDict, but: tuple[str, ...] = ()) -> None:
    """Let a form that was not sent show what was typed, and no fault yet."""
    for name, field in form.fields.items():
        value = field.widget.value_from_datadict(typed, {}, form.add_prefix(name))
        if name not in but and value not in (None, "", []):
            form.initial[name] = value


def _all(request: HttpRequest) -> dict[str, str]:
    kept: dict[str, str] = request.session.get(KEPT, {})
    return kept
