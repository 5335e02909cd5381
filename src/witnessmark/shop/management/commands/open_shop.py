"""`witnessmark manage open_shop NAME --user USER`: a new shop and who signs in to it first."""

import getpass
import sys
from argparse import ArgumentParser
from typing import Any

from django.contrib.auth import get_user_model
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from witnessmark.shop.models import Member, Shop
from witnessmark.shop.models.changes import changing, note


class Command(BaseCommand):
    """Opens a shop, or adds a member to one that is there."""

    help = "Open a shop, or add a person to it. The password is asked for, or read from a pipe."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help="name of the shop")
        parser.add_argument("--user", required=True, help="sign-in name")
        parser.add_argument("--person", default="", help="name as papers print it")
        parser.add_argument(
            "--role",
            choices=Member.Role.values,
            help="head where the shop has none, else technician",
        )
        parser.add_argument("--currency", default="EUR")
        parser.add_argument("--time-zone", default="UTC")

    @transaction.atomic
    def handle(self, *args: Any, **options: Any) -> None:
        users = get_user_model()
        if users.objects.filter(username=options["user"]).exists():
            raise CommandError(f"{options['user']}: this sign-in exists; choose another name")
        shop = Shop.objects.filter(name=options["name"]).first() or self._opened(options)
        user = users(username=options["user"], first_name=options["person"])
        password = self._password(user)
        user.set_password(password)
        user.save()
        member = Member(shop=shop, user=user, role=options["role"] or self._role(shop))
        member.save()
        token = changing.set(member)  # that somebody was added at the terminal is kept, too
        note(member.about(), "added at the terminal", "", member.get_role_display())
        changing.reset(token)
        self.stdout.write(f"{user} can sign in to {shop} as {member.get_role_display()}")

    def _role(self, shop: Shop) -> str:
        """A shop has somebody who runs it."""
        run = Member.objects.filter(shop=shop, role=Member.Role.HEAD, user__is_active=True)
        return Member.Role.TECHNICIAN if run.exists() else Member.Role.HEAD

    def _opened(self, options: dict[str, Any]) -> Shop:
        shop = Shop(
            name=options["name"], currency=options["currency"], time_zone=options["time_zone"]
        )
        self._valid(shop.full_clean)
        shop.save()
        return shop

    def _password(self, user: Any) -> str:
        if sys.stdin.isatty():
            password = getpass.getpass(f"Password for {user}: ")
        else:
            password = sys.stdin.readline().rstrip("\n")
        self._valid(validate_password, password, user)
        return password

    @staticmethod
    def _valid(check: Any, *args: Any) -> None:
        try:
            check(*args)
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error
