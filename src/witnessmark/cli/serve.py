"""Commands that start the web application or hand over to it: serve, manage, rebuild, verify, money."""

from __future__ import annotations

import fcntl
import gc
import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from enum import StrEnum
from ipaddress import ip_address
from pathlib import Path
from typing import Annotated, Any

import typer
from django.core.management import CommandError, call_command, execute_from_command_line
from django.db import DatabaseError

COLLECTED = 20_000, 20, 50  # objects and rounds after which the collector looks: `gc.set_threshold`


def setup() -> None:
    """Set Django up."""
    import django  # noqa: PLC0415 - only these commands pay for it

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "witnessmark.shop.settings")
    django.setup()


def settings(*, older: bool = False, read_only: bool = False) -> None:
    """Set Django up, and refuse a store this version must not open (see `opening.open_store`).

    read_only: the database is opened to read alone, as it must be in a copy.
    """
    setup()
    from witnessmark.shop.opening import open_store  # noqa: PLC0415 - after the settings
    from witnessmark.shop.read_only import open_read_only  # noqa: PLC0415

    if read_only:
        open_read_only()
    open_store(older=older, read_only=read_only)


@contextmanager
def in_words() -> Iterator[None]:
    """What the database or the disk refuses is one line on stderr, and exit 1."""
    try:
        yield
    except (DatabaseError, OSError) as problem:
        from witnessmark.shop.storage_faults import trouble  # noqa: PLC0415 - only these commands pay for it

        known = trouble(problem)
        detail = f"{known.problem} " if known else ""
        typer.echo(f"{detail}{str(problem).strip()}", err=True)
        raise typer.Exit(1) from None


def _run(command: str, *told: str, **options: Any) -> None:
    """Run one of Django's commands; what is wrong is one line on stderr, exit 2, or 1 for database and disk."""
    try:
        with in_words():
            call_command(command, *told, **options)
    except CommandError as problem:
        typer.echo(str(problem), err=True)
        raise typer.Exit(2) from None


def serve(
    host: Annotated[str, typer.Option(help="address to listen on")] = "127.0.0.1",
    port: Annotated[int, typer.Option(help="port to listen on", min=1, max=65535)] = 8000,
    workers: Annotated[int, typer.Option(help="processes", min=1, max=64)] = 2,
    migrate: Annotated[bool, typer.Option(help="bring the database up to date first")] = True,
) -> None:
    """Serve the pages.

    To reach it from a tablet: `--host 0.0.0.0`, and WITNESSMARK_HOSTS with the names it is called by.
    """
    settings(older=migrate)
    if migrate:
        with _one_at_a_time():
            _run("migrate", verbosity=0, interactive=False)
    _run("check", databases=["default"], verbosity=0)
    _refuse_the_demo(host)
    typer.echo(f"Witness Mark on http://{host}:{port}/ (stop with Ctrl-C)", err=True)
    _gunicorn(bind=f"{host}:{port}", workers=workers, threads=4, worker_class="gthread")


@contextmanager
def _one_at_a_time() -> Iterator[None]:
    """Who starts on the same home meanwhile waits: two would make the same table."""
    from django.conf import settings as chosen  # noqa: PLC0415 - after Django's set-up

    home = os.open(chosen.HOME, os.O_RDONLY)
    try:
        fcntl.flock(home, fcntl.LOCK_EX)
        yield
    finally:
        os.close(home)


def _refuse_the_demo(host: str) -> None:
    """Exit 2 where others than this machine could sign in with the demo's password."""
    from django.conf import settings as chosen  # noqa: PLC0415 - after Django's set-up

    from witnessmark.shop.passwords import still_of_the_demo  # noqa: PLC0415

    if all(_is_this_machine(name) for name in (host, *chosen.ALLOWED_HOSTS)) and not chosen.HTTPS:
        return
    names = still_of_the_demo()
    if names:
        typer.echo(
            f"{', '.join(names)} can sign in with the demo's password, which everybody knows: not served to others. "
            f"Give each another (`witnessmark manage changepassword {names[0]}`), or serve on 127.0.0.1 only.",
            err=True,
        )
        raise typer.Exit(2)


def _is_this_machine(name: str) -> bool:
    try:
        return ip_address(name.strip("[]")).is_loopback
    except ValueError:
        return name == "localhost"


def _gunicorn(**options: Any) -> None:
    from gunicorn.app.base import BaseApplication  # noqa: PLC0415 - does not exist on Windows

    class Server(BaseApplication):
        """gunicorn with the options given here, and no file or environment of its own."""

        def load_config(self) -> None:
            for name, value in options.items():
                self.cfg.set(name, value)
            self.cfg.set("loglevel", "warning")
            self.cfg.set("accesslog", None)

        def load(self) -> Any:
            from django.core.wsgi import get_wsgi_application  # noqa: PLC0415 - in the worker

            application = get_wsgi_application()
            # What is loaded now stays, and what is kept of visits holds no rings: pages need not wait while
            # the collector looks through all of it again and again.
            gc.freeze()
            gc.set_threshold(*COLLECTED)
            return application

    Server().run()


def manage(ctx: typer.Context) -> None:
    """Run a command of Django: `witnessmark manage migrate`, `witnessmark manage open_shop --help`.

    `witnessmark manage help` lists them.
    """
    settings(older=True)
    execute_from_command_line(["witnessmark manage", *ctx.args])


def rebuild(
    shop: Annotated[str | None, typer.Option(help="one shop, by its id; else all")] = None,
    after: Annotated[
        str | None, typer.Option(help="go on behind this visit, as a rebuild cut off told it")
    ] = None,
) -> None:
    """Make every table that follows from the ledger again, from the entries alone. The pages go on meanwhile."""
    settings()
    _run("rebuild", shop=shop, after=after)


AnchorFile = Annotated[
    Path | None,
    typer.Option("--file", help="file of anchors; else anchors.jsonl in the home folder"),
]
AnchorKey = Annotated[
    Path | None, typer.Option("--key", help="private key; else keys/anchor.pem in the home folder")
]


class MoneyList(StrEnum):
    """What `money` writes."""

    csv = "csv"
    text = "text"
    open = "open"


def verify(
    shop: Annotated[str | None, typer.Option(help="one shop, by its id; else all")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="faults as JSON on stdout")] = False,
    file: AnchorFile = None,
    key: AnchorKey = None,
    trusted: Annotated[
        list[str] | None,
        typer.Option(help="public key of the anchors, as written down; may be repeated"),
    ] = None,
    since_anchor: Annotated[
        bool,
        typer.Option(help="leave out what is as the newest anchor has it: quick, for every day"),
    ] = False,
) -> None:
    """Check that nothing kept was changed, dropped, added or swapped. Exit 1 when something was.

    It only reads: a copy that cannot be written will do.
    """
    os.environ.setdefault("WITNESSMARK_SECRET_KEY", secrets.token_urlsafe())  # signs nothing here
    settings(read_only=True)
    _run(
        "verify",
        shop=shop,
        json=as_json,
        file=file,
        key=key,
        trusted=trusted or [],
        since_anchor=since_anchor,
    )


def money(
    what: Annotated[MoneyList, typer.Argument(help="the journal as csv or text, or what is open")],
    first: Annotated[datetime | None, typer.Option(formats=["%Y-%m-%d"], help="first day")] = None,
    last: Annotated[datetime | None, typer.Option(formats=["%Y-%m-%d"], help="last day")] = None,
    shop: Annotated[str | None, typer.Option(help="its id, where there are several")] = None,
) -> None:
    """Write the journal of a period, or the open list, for an accountant.

    It only reads. `text` is what Beancount reads.
    """
    os.environ.setdefault("WITNESSMARK_SECRET_KEY", secrets.token_urlsafe())  # signs nothing here
    settings(read_only=True)
    days = {"first": first and first.date(), "last": last and last.date()}
    _run("money", what.value, shop=shop, **days)


def anchor(file: AnchorFile = None, key: AnchorKey = None) -> None:
    """Sign the newest seal of every visit, and append it to a file outside the database.

    Run it with each backup; let the file leave the machine, and write the public key down elsewhere.
    """
    settings()
    _run("anchor", file=file, key=key)
