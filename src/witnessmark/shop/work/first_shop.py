"""The first shop of an empty store, and who signs in to it first."""

from __future__ import annotations

from django.contrib.auth import get_user_model
from django.contrib.auth.models import User
from django.db import transaction

from witnessmark.shop import roles
from witnessmark.shop.models import Member, Shop
from witnessmark.shop.sums import lock_table


def is_empty() -> bool:
    """Whether nobody can sign in yet, for there is nobody."""
    return not Member.objects.exists()


@transaction.atomic
def opened(shop: str, time_zone: str, *, username: str, password: str, person: str) -> User | None:
    """The head of the shop just opened; None where there is one already, as for a second tap."""
    lock_table(Shop, "SHARE ROW EXCLUSIVE")  # an empty store has no row to lock
    if not is_empty():
        return None
    new = Shop.objects.create(name=shop, time_zone=time_zone)
    user = get_user_model().objects.create_user(username, password=password, first_name=person)
    Member(shop=new, user=user, role=roles.HEAD).save()
    return user
