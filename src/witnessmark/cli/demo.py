"""The invented demo workshop: build it, print the plan of its first machine."""

from __future__ import annotations

import typer

from witnessmark.cli.serve import settings

app = typer.Typer(help="The invented demo workshop.", no_args_is_help=True, add_completion=False)


@app.command()
def build() -> None:
    """Make the demo workshop in WITNESSMARK_HOME, where it does not stand yet."""
    settings(older=True)
    from django.core.management import call_command  # noqa: PLC0415 - after the settings

    from witnessmark.shop import scenario  # noqa: PLC0415
    from witnessmark.shop.models import Shop  # noqa: PLC0415

    call_command("migrate", verbosity=0, interactive=False)
    said = scenario.scenario()
    if Shop.objects.filter(name=said["shop"]["name"]).exists():
        typer.echo("The demo workshop stands already.", err=True)
        return
    if Shop.objects.exists():
        typer.echo(
            "This database has a shop of its own; give WITNESSMARK_HOME another folder.", err=True
        )
        raise typer.Exit(2)
    scenario.build()
    names = " or ".join(said["members"])
    typer.echo(f"Demo workshop built. Sign in as {names}, password {said['password']}.", err=True)


@app.command()
def plan() -> None:
    """Print today's plan of the demo's first machine, with reasons."""
    settings()
    from witnessmark.cli.plan import print_visit  # noqa: PLC0415 - after the settings
    from witnessmark.shop import scenario  # noqa: PLC0415
    from witnessmark.shop.models import Shop  # noqa: PLC0415

    shop = Shop.objects.filter(name=scenario.scenario()["shop"]["name"]).first()
    if shop is None:
        typer.echo("There is no demo workshop here; run `witnessmark demo build` first.", err=True)
        raise typer.Exit(2)
    print_visit(scenario.tour_visit(shop))
