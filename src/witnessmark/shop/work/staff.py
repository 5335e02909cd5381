"""Who works in the shop: added, given a role, a password, retired; and who may do what the role of another may not."""

from __future__ import annotations

from collections.abc import Iterable

from django.contrib.auth import get_user_model
from django.db import transaction
from django.utils.translation import gettext as _

from witnessmark.errors import WitnessError
from witnessmark.ledger.entry import Entry
from witnessmark.shop import roles
from witnessmark.shop.forms import either
from witnessmark.shop.models import Member, Shop, VisitSummary
from witnessmark.shop.models.changes import note
from witnessmark.shop.scope import Desk
from witnessmark.shop.work import planning
from witnessmark.shop.work.visit import Work, read


class StaffError(WitnessError):
    """Something that cannot be done with a person: the shop would have nobody to run it."""


def at_work(desk: Desk) -> list[Member]:
    """Everybody who may sign in, by name."""
    rows = desk.all(Member).filter(user__is_active=True).select_related("user")
    return list(rows.order_by("user__first_name", "user__username"))


def who_may(desk: Desk, least: str) -> str:
    """In words, who has at least this role. Example: ``Mara may (head of the shop).``"""
    able = [one for one in at_work(desk) if roles.RANK[one.role] >= roles.RANK[least]]
    named = [f"{one} ({one.get_role_display()})" for one in able]
    if not named:
        return _("Nobody in this shop may.")
    return _("{people} may.").format(people=either(named))


def is_taken(username: str) -> bool:
    """Whether somebody signs in so already, in whatever shop and case."""
    return bool(get_user_model()._default_manager.filter(username__iexact=username).exists())


def add(
    desk: Desk, *, username: str, first_name: str, last_name: str, role: str, password: str
) -> Member:
    """A new person with a sign-in of their own."""
    with transaction.atomic():
        user = get_user_model().objects.create_user(
            username, password=password, first_name=first_name, last_name=last_name
        )
        member = desk.new(Member, user=user, role=role)
        member.save()
    return member


@transaction.atomic
def give_role(desk: Desk, member: Member, role: str) -> None:
    """Change what a person may do; the entries made before stay theirs. Raises StaffError for the last head."""
    if role != roles.HEAD:
        _not_the_last_head(desk, member)
    member.role = role
    member.save(update_fields=["role"])


@transaction.atomic
def retire(desk: Desk, member: Member) -> None:
    """May sign in no more, and is not planned with; what they did stays. Raises StaffError for the last head."""
    _not_the_last_head(desk, member)
    member.at_the_bench = False
    member.save(update_fields=["at_the_bench"])
    _let_in(member, is_active=False)


@transaction.atomic
def take_on_again(member: Member) -> None:
    """May sign in again, with the password they had."""
    _let_in(member, is_active=True)


@transaction.atomic
def give_password(member: Member, password: str) -> None:
    """A new password; every sign-in made with the old one ends."""
    member.user.set_password(password)
    member.user.save(update_fields=["password"])
    note(member.about(), "password", "", "a new one")


@transaction.atomic
def rename(member: Member, first_name: str, last_name: str) -> None:
    """The name that pages and papers show."""
    before = str(member)
    member.user.first_name, member.user.last_name = first_name, last_name
    member.user.save(update_fields=["first_name", "last_name"])
    note(f"Person: {before}", "name", before, str(member))


def planned_with(desk: Desk, member: Member) -> list[Work]:
    """Visits in the shop whose order of work counts on this person."""
    rows = desk.all(VisitSummary).filter(handed_back_at=None).select_related(
        "visit__machine__owner", "visit__machine__book", "visit__shop"
    )  # fmt: skip
    names = {str(member), f"{member} ({member.user.get_username()})"}
    found = []
    for work in (read(row.visit) for row in rows):
        plan = planning.taken(work)
        if plan and names & {one.name for one in plan.problem.technicians}:
            found.append(work)
    return found


def may_take_back(desk: Desk, entries: Iterable[Entry]) -> set[str]:
    """Which of these entries of a visit the person at the desk may take back."""
    entries = list(entries)
    others = {one.author for one in entries} - {str(desk.member.pk)}
    rows = desk.all(Member).filter(pk__in=others).select_related("user") if others else ()
    authors = {str(one.pk): one for one in (desk.member, *rows)}
    return {
        one.id
        for one in entries
        if roles.may_take_back(desk.member, one.kind, one.body, authors.get(one.author))
    }


def refuse_take_back(desk: Desk, entries: Iterable[Entry], keys: Iterable[str]) -> None:
    """Raise RefusedError unless the person at the desk may take all these entries back."""
    if not may_take_back(desk, entries).issuperset(keys):
        least = roles.TECHNICIAN if desk.member.role == roles.HELPER else roles.HEAD
        raise roles.RefusedError(least, _("You may not take this back."))


def _not_the_last_head(desk: Desk, member: Member) -> None:
    Shop.objects.select_for_update().get(
        pk=desk.shop.pk
    )  # two heads do not retire each other at once
    others = desk.all(Member).filter(role=roles.HEAD, user__is_active=True).exclude(pk=member.pk)
    if member.role == roles.HEAD and not others.exists():
        violation = _("{member} is the only head of this shop").format(member=member)
        raise StaffError("role", violation, _("make somebody else head first"))


def _let_in(member: Member, *, is_active: bool) -> None:
    before, member.user.is_active = member.user.is_active, is_active
    member.user.save(update_fields=["is_active"])
    words = {True: "yes", False: "no"}
    note(member.about(), "may sign in", words[before], words[is_active])
