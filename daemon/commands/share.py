"""The commands that share the garden: a link to look, the sheet, the data."""

from __future__ import annotations

from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path

import click

from underbench.daemon.commands.open_garden import garden_of, open_store, settings_of
from underbench.daemon.faults import Fault

NO_ADDRESS = (
    "page.address is not set: say where phones find the page, such as 'https://garden.example'"
)


@click.command()
@click.argument("name", required=False)
@click.option("--revoke", metavar="NAME", help="End the link of NAME at once.")
@click.option("--list", "listing", is_flag=True, help="Show who has a link.")
@click.pass_obj
def share(config: Path | None, name: str | None, revoke: str | None, listing: bool) -> None:
    """Print a link with which NAME may look at the page.

    NAME can change nothing there. The link is shown once."""
    if sum((name is not None, revoke is not None, listing)) != 1:
        raise click.UsageError("give a NAME, --revoke NAME or --list, one of them")
    settings, now = settings_of(config), datetime.now(UTC)
    with open_store(settings) as store:
        if name is not None:
            address = settings.page.address
            if address is None:
                raise Fault(NO_ADDRESS)
            if store.pages.kept("password") is None:
                raise Fault(
                    "the page has no password, so anybody may look and change things; "
                    "set one first, with underbench page-password"
                )
            click.echo(f"{address}/come-in/{store.guests.invite(name, now)}")
        elif revoke is not None:
            store.guests.revoke(revoke, now)
            click.echo(f"The link of {revoke} no longer works.")
        else:
            for guest in store.guests.all():
                ended = f", ended {guest.revoked_at:%Y-%m-%d}" if guest.revoked_at else ""
                click.echo(f"{guest.name}: since {guest.made_at:%Y-%m-%d}{ended}")


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Everything, as JSON.")
@click.option("--csv", "table", hidden=True)
@click.pass_obj
def export(config: Path | None, as_json: bool, table: str | None) -> None:
    """Print all data of the garden, for other programs."""
    from underbench.daemon.views import export as exporting

    if table is not None:
        raise Fault(f"--csv: there is no CSV any more: underbench export --json has {table} too")
    if not as_json:
        raise click.UsageError("give --json")
    with garden_of(config) as (settings, store):
        click.echo(exporting.as_json(settings, store, datetime.now(UTC)))


@click.command()
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@click.pass_obj
def sheet(config: Path | None, file: Path) -> None:
    """Write FILE, a page to print for whoever stands in for you."""
    try:
        from jinja2 import Environment, PackageLoader
    except ImportError:
        from underbench.daemon.commands.page import MISSING

        raise Fault(MISSING) from None
    from underbench.daemon.outlook.garden_now import journal_at
    from underbench.daemon.page.last_pass import kept_ahead
    from underbench.daemon.views.sheet import sheet_of
    from underbench.rules.garden.journal import fold

    now = datetime.now(UTC)
    with garden_of(config) as (settings, store):
        journal, kept = journal_at(settings, store, now), kept_ahead(store) or {"trees": {}}
        standing = [fold(tree, journal, now) for tree in settings.trees]
    stages = {name: tree["stage"] for name, tree in kept["trees"].items()}
    shelf = Environment(loader=PackageLoader("underbench.daemon.page"), autoescape=True)
    css = (files("underbench.daemon.page") / "static" / "sheet.css").read_text(encoding="utf-8")
    made = sheet_of(settings, standing, stages, now)
    try:
        file.write_text(
            shelf.get_template("sheet.html").render(sheet=made, css=css), encoding="utf-8"
        )
    except OSError as error:
        raise Fault(f"{file}: cannot be written: {error.strerror}") from None
    click.echo(f"Written to {file}: print it from a browser.")
