"""Who may sign in: people added, retired, given a password; one's own password; and what was changed by whom."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django import forms
from django.contrib.auth import get_user_model, update_session_auth_hash
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_http_methods

from witnessmark.shop import passwords
from witnessmark.shop.forms import ChoiceTiles, SheetForm, in_words
from witnessmark.shop.models import ChangeKept, Member
from witnessmark.shop.passwords import PasswordField
from witnessmark.shop.responses import done, show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import staff

CHANGES_A_PAGE = 100
ROLES = Member.Role.choices[::-1]


class NewPasswordForm(SheetForm):
    """A password, typed twice; not one that is easily guessed."""

    password = PasswordField(
        label=gettext_lazy("New password"),
        new=True,
        help_text=gettext_lazy("At least 8 characters."),
    )
    password_again = PasswordField(label=gettext_lazy("The same again"), new=True)

    def __init__(self, *args: Any, user: Any = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.user = user

    def clean(self) -> dict[str, Any]:
        """Both the same, and good enough for whom it is."""
        said = super().clean() or {}
        first, again = said.get("password"), said.get("password_again")
        if first and again and first != again:
            self.add_error("password_again", _("The two are not the same."))
        elif first:
            try:
                validate_password(first, self.about(said))
            except ValidationError as error:
                self.add_error("password", error)
        return said

    def about(self, said: dict[str, Any]) -> Any:
        """Whose password it is to be: it must not resemble the name."""
        return self.user


class NewPersonForm(NewPasswordForm):
    """Somebody new: name, sign-in name, role, first password."""

    first_name = forms.CharField(label=gettext_lazy("First name"), max_length=150)
    last_name = forms.CharField(label=gettext_lazy("Last name"), max_length=150, required=False)
    username = forms.CharField(
        label=gettext_lazy("Signs in as"), max_length=150,
        help_text=gettext_lazy("Letters, digits and @ . + - _ only."),
        widget=forms.TextInput({"autocomplete": "off", "autocapitalize": "none"}),
    )  # fmt: skip
    role = forms.ChoiceField(label=gettext_lazy("Role"), choices=ROLES, widget=ChoiceTiles)

    field_order = ("first_name", "last_name", "username", "role", "password", "password_again")

    def clean_username(self) -> str:
        """A sign-in name that nobody has."""
        user = get_user_model()
        name = str(user.normalize_username(self.cleaned_data["username"]))
        user._meta.get_field("username").run_validators(name)
        if staff.is_taken(name):
            raise forms.ValidationError(
                _("{name} is taken; choose another sign-in name.").format(name=name)
            )
        return name

    def about(self, said: dict[str, Any]) -> Any:
        """The user that is to be."""
        names = ("username", "first_name", "last_name")
        return get_user_model()(**{name: said.get(name, "") for name in names})


class OwnPasswordForm(NewPasswordForm):
    """A new password of one's own; the old one says who asks for it."""

    password_now = PasswordField(label=gettext_lazy("Your password now"))

    field_order = ("password_now", "password", "password_again")

    def __init__(self, *args: Any, request: DeskRequest, **kwargs: Any) -> None:
        super().__init__(*args, user=request.desk.member.user, **kwargs)
        self.request = request

    def clean(self) -> dict[str, Any]:
        """The old one is right; a wrong one counts as a refused sign-in."""
        said = super().clean()
        if said.get("password_now") and not self.errors:
            fault = passwords.fault(self.request, said["password_now"])
            if fault:
                self.add_error("password_now", fault)
        return said


@require_http_methods(["GET", "POST"])
def new(request: DeskRequest) -> HttpResponse:
    """Somebody new, with a sign-in of their own."""
    form = NewPersonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        said = {key: value for key, value in form.cleaned_data.items() if key != "password_again"}
        member = staff.add(request.desk, **said)
        return done(
            request, "person", member.pk, said=_("{member} can sign in now.").format(member=member)
        )
    return show(
        request, "settings/one.html", {"form": form, "title": _("Somebody new"), "back": "settings"}
    )


@require_http_methods(["GET", "POST"])
def retire(request: DeskRequest, member: UUID) -> HttpResponse:
    """Close a sign-in, told first where the person is planned with; or open it again."""
    row = request.desk.get(Member, member, "user")
    problem = ""
    if request.method == "POST" and "again" in request.POST:
        staff.take_on_again(row)
        return done(request, "person", row.pk, said=_("{row} may sign in again.").format(row=row))
    if request.method == "POST":
        try:
            staff.retire(request.desk, row)
        except staff.StaffError as error:
            problem = in_words(error)
        else:
            return done(
                request,
                "settings",
                said=_("{row} can no longer sign in. What {row} did stays.").format(row=row),
            )
    context = {"person": row, "planned": staff.planned_with(request.desk, row), "problem": problem}
    return show(request, "settings/retire.html", context, faulty=bool(problem))


@require_http_methods(["GET", "POST"])
def password(request: DeskRequest, member: UUID) -> HttpResponse:
    """A new password for somebody who has forgotten theirs, or lost it to others."""
    row = request.desk.get(Member, member, "user")
    if row.pk == request.desk.member.pk:  # one's own is changed with the old one
        return done(request, "own-password")
    form = NewPasswordForm(request.POST or None, user=row.user)
    if request.method == "POST" and form.is_valid():
        staff.give_password(row, form.cleaned_data["password"])
        return done(
            request,
            "person",
            row.pk,
            said=_("{row} has a new password, and must sign in again with it.").format(row=row),
        )
    return show(
        request,
        "settings/password.html",
        {"form": form, "title": _("New password for {row}").format(row=row)},
    )


@require_http_methods(["GET", "POST"])
def own(request: DeskRequest) -> HttpResponse:
    """One's own password."""
    form = OwnPasswordForm(request.POST or None, request=request)
    if request.method == "POST" and form.is_valid():
        member = request.desk.member
        staff.give_password(member, form.cleaned_data["password"])
        update_session_auth_hash(request, member.user)
        return done(request, "today", said=_("Your new password holds from now on."))
    return show(request, "settings/password.html", {"form": form, "title": _("Your password")})


@require_GET
def changes(request: DeskRequest) -> HttpResponse:
    """What was changed of prices, rules, people, wrenches and books; and which sign-ins were refused."""
    rows = request.desk.all(ChangeKept).select_related("by__user")
    names = {m.user.get_username(): str(m) for m in request.desk.all(Member).select_related("user")}
    page = Paginator(rows, CHANGES_A_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "refused": passwords.refused(names)}
    return show(request, "settings/changes.html", context)
