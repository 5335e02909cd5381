"""Backup and restore: `witnessmark backup`, `backup-key`, `restore`."""

from __future__ import annotations

import os
import sys
from getpass import getpass
from pathlib import Path
from typing import Annotated

import typer
from django.core.management import call_command

from witnessmark.cli.serve import in_words, settings, setup


def backup(
    folder: Annotated[
        Path | None,
        typer.Argument(help="where the backups lie, on another disk; else where the last one went"),
    ] = None,
    fresh: Annotated[
        bool, typer.Option(help="begin anew in a folder whose backups are gone")
    ] = False,
) -> None:
    """Copy the whole store, encrypted, while the pages run. Exit 1 when it could not be done now: try again."""
    settings()
    from witnessmark.shop.backups.backup_folder import total  # noqa: PLC0415
    from witnessmark.shop.backups.errors import NotNowError  # noqa: PLC0415 - after the settings
    from witnessmark.shop.backups.making import back_up  # noqa: PLC0415

    try:
        run = back_up(folder, fresh=fresh)
    except NotNowError as problem:
        typer.echo(str(problem), err=True)
        raise typer.Exit(1) from None
    typer.echo(f"{run.folder}/{run.name}: {total(run.held)}, {run.bytes / 1e6:.1f} MB")
    if run.missing:
        typer.echo(
            f"{run.missing} photos are gone from the store, or altered: see `witnessmark verify`",
            err=True,
        )
        raise typer.Exit(1)


def backup_key(
    anew: Annotated[bool, typer.Option(help="in place of the key that is there")] = False,
) -> None:
    """Make the key of the backups and print its secret half, once: write it down, keep it elsewhere."""
    settings()
    from witnessmark.shop.backups.keys import make_key  # noqa: PLC0415 - after the settings
    from witnessmark.shop.home import home  # noqa: PLC0415

    typer.echo(make_key(home(), anew=anew))
    typer.echo(
        "Write this line down and keep it away from the shop. "
        "Without it no backup can be read; it is kept nowhere else.",
        err=True,
    )


def restore(
    folder: Annotated[Path, typer.Argument(help="where the backups lie")],
    into: Annotated[Path, typer.Argument(help="the folder to make: WITNESSMARK_HOME from then on")],
    name: Annotated[
        str | None, typer.Option("--backup", help="one of them, by its name; else the newest")
    ] = None,
    key: Annotated[
        Path | None, typer.Option(help="file with the secret key; else it is asked for, or piped")
    ] = None,
    anchors: Annotated[
        Path | None, typer.Option(help="the newest copy of anchors.jsonl, if one left the machine")
    ] = None,
) -> None:
    """Read a backup back into an empty folder, verify it, and prove every photo. Exit 1 with each fault in a line."""
    os.umask(0o077)
    os.environ["WITNESSMARK_HOME"] = str(into.resolve())
    from witnessmark.shop.backups import backup_folder, keys  # noqa: PLC0415 - only these commands pay for it

    chosen = backup_folder.chosen(folder, name)
    secret = keys.identity(_secret(key))
    with in_words(), backup_folder.empty(into):
        setup()
        from witnessmark.shop.backups.restoring import restore as bring_back  # noqa: PLC0415

        got = bring_back(chosen, secret, anchors)
    typer.echo(f"{chosen.name} is in {into}: {backup_folder.total(got.contents.held)}")
    for fault in got.faults:
        typer.echo(fault)
    call_command("verify")  # exit 1 with each fault in a line
    if got.faults:
        raise typer.Exit(1)
    typer.echo("every photo is there, and is what its name says")


def _secret(file: Path | None) -> str:
    try:
        if file is not None:
            return file.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise typer.BadParameter(f"{file}: cannot be read: {error}") from None
    if sys.stdin.isatty():
        return getpass("Secret key of the backups: ")
    return sys.stdin.readline()
