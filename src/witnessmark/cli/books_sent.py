"""`witnessmark book export` and `import`: books of the store to another shop as one signed file, and from one."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any

import typer

from witnessmark.book import BookError
from witnessmark.book.errors import known
from witnessmark.book.parcel import MOST_BYTES, ParcelError
from witnessmark.cli.serve import in_words, settings

User = Annotated[str, typer.Option(help="sign-in name of who does it; tells the shop, too")]


@contextmanager
def _member(user: str) -> Iterator[Any]:
    """Who does it, with the store open; what they change is kept under their name. Raises BookError for nobody."""
    settings()
    from witnessmark.shop.models import Member  # noqa: PLC0415 - after the settings
    from witnessmark.shop.models.changes import changing  # noqa: PLC0415

    with in_words():
        rows = Member.objects.select_related("shop", "user")
        one = rows.filter(user__username=user, user__is_active=True).first()
        if one is None:
            raise BookError("--user", f'nobody signs in as "{user}"', "give a sign-in name")
        token = changing.set(one)
        try:
            yield one
        finally:
            changing.reset(token)


def export(
    names: Annotated[list[str], typer.Argument(help="ids of books in the store")], user: User
) -> None:
    """Print a signed file with books of the store, to send to another shop."""
    with _member(user) as member:
        from django.utils import timezone  # noqa: PLC0415 - after the settings

        from witnessmark.shop.models import StoredBook  # noqa: PLC0415
        from witnessmark.shop.work.books_sent import file_of  # noqa: PLC0415

        here = {one.name: one for one in StoredBook.of(member.shop).select_related("current")}
        for name in names:
            if name not in here:
                raise BookError(name, "no such book in the store", known("book", name, here))
        chosen = [here[name] for name in dict.fromkeys(names)]
        raw, left_out = file_of(member, chosen, timezone.now())
        if left_out:
            typer.echo(f"{left_out} photos of pages had no room in the file", err=True)
        sys.stdout.buffer.write(raw)


def take_in(
    file: Annotated[Path, typer.Argument(help="file that another shop sent")],
    user: User,
    take: Annotated[bool, typer.Option("--take", help="take it in; else only shown")] = False,
    theirs: Annotated[
        list[str] | None, typer.Option(help="BOOK:DIFFERENCE that shall be as they have it")
    ] = None,
    remember: Annotated[
        str, typer.Option(help="its digits were compared: remember the sender by this name")
    ] = "",
    unknown_sender: Annotated[
        bool, typer.Option("--unknown-sender", help="take it in from a sender not compared")
    ] = False,
) -> None:
    """Show what a file from another shop brings, and take it in with --take. Exit 1 for what cannot be used here."""
    with _member(user) as member:
        from django.db import transaction  # noqa: PLC0415 - after the settings

        from witnessmark.shop.work import books_sent  # noqa: PLC0415

        with transaction.atomic():
            raw = _contents(file)
            looked = books_sent.look(member.shop, raw)
            if remember:
                books_sent.remember(member.shop, looked, remember)
                looked = books_sent.look(member.shop, raw)
            _print(looked)
            chosen = _chosen(looked, theirs or [])
            if take and looked.known is None and not unknown_sender:
                typer.echo("not taken in: --remember NAME or --unknown-sender", err=True)
                raise typer.Exit(1)
            for stored in books_sent.take_in(member.shop, looked, chosen, chosen) if take else ():
                typer.echo(f"taken in: {stored.name}")
    raise typer.Exit(1 if any(one.fault for one in looked.books) else 0)


def _contents(file: Path) -> bytes:
    try:
        with file.open("rb") as opened:
            return opened.read(MOST_BYTES + 1)
    except OSError as error:
        problem = f"cannot be read: {error.strerror}"
        raise ParcelError(str(file), problem, "give a file that another shop sent") from None


def _chosen(looked: Any, theirs: list[str]) -> dict[str, list[str]]:
    """By book, what shall be as the sender has it. Raises BookError for what is no difference."""
    chosen: dict[str, list[str]] = {one.sent.name: [] for one in looked.books}
    there = [f"{one.sent.name}:{d.id}" for one in looked.books for d in one.differences]
    for text in theirs:
        if text not in there:
            raise BookError("--theirs", f'no difference "{text}"', known("difference", text, there))
        book, _, difference = text.partition(":")
        chosen[book].append(difference)
    return chosen


def _print(looked: Any) -> None:
    known_as = f"known here as {looked.known}" if looked.known else "not known here"
    typer.echo(f"from {looked.parcel.shop}, {looked.parcel.by}, {looked.parcel.at}: {known_as}")
    typer.echo(f"digits {looked.digits}")
    for other in looked.others:
        typer.echo(f"{other} is known here by another key: ring it first", err=True)
    for one in looked.books:
        name = one.sent.name
        if one.fault:
            typer.echo(f"{name}: cannot be used here: {one.fault}", err=True)
            continue
        state = "nothing new" if not one.brings else "here already" if one.stored else "new here"
        typer.echo(f"{name}: {one.sent.title}: {state}")
        for words in one.other_blocks:
            typer.echo(f"  says something else here: {words}")
        for words in one.gaps:
            typer.echo(f"  missing here: {words}")
        for d in one.differences:
            typer.echo(f"  {name}:{d.id}  {d.words}")
            typer.echo(f"    yours: {d.ours or 'not here'}")
            typer.echo(f"    theirs: {d.theirs}")
