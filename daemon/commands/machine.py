"""The commands for whoever keeps the machine: the check-up, and copies of the database."""

from __future__ import annotations

import os
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import click

from underbench.daemon.commands.families import FAULT
from underbench.daemon.commands.open_garden import (
    config_path,
    open_store,
    settings_of,
    supply_of,
    take_over,
)
from underbench.daemon.commands.options import json_option

# A pass is due each hour, and a failed one is tried again every ten minutes.
ALIVE_FOR = timedelta(hours=3)
DEAD = 1


@click.command()
@click.option("--push", is_flag=True, help="Send a test message to every push address.")
@json_option
@click.pass_obj
def check(config: Path | None, push: bool, as_json: bool) -> None:
    """Check the file, the weather, the database and your phone.

    The exit code is 2 when something is bad."""
    from underbench.daemon.views.checkup import Here, checkup
    from underbench.daemon.wording.json_form import document

    settings, here = settings_of(config), Here(config_path(config), os.environ, datetime.now(UTC))
    lines = []
    for line in checkup(
        settings, here, lambda: open_store(settings), lambda store: supply_of(settings, store), push
    ):
        lines.append(line)
        if not as_json:
            click.echo(line.text)
    good = all(line.good for line in lines)
    if as_json:
        click.echo(document({"good": good, "parts": [line.parts for line in lines]}))
    if not good:
        sys.exit(FAULT)


@click.command()
@click.argument("to", metavar="FILE", type=click.Path(dir_okay=False, path_type=Path))
@click.pass_obj
def backup(config: Path | None, to: Path) -> None:
    """Copy the database to FILE. The daemon may keep running."""
    from underbench.daemon.store.backup import back_up

    settings = settings_of(config)
    take_over(settings)
    back_up(settings.store_path, to)
    click.echo(f"Copied to {to}. Keep a copy of the garden's file with it.")


@click.command()
@click.argument("copy", metavar="FILE", type=click.Path(dir_okay=False, path_type=Path))
@click.pass_obj
def restore(config: Path | None, copy: Path) -> None:
    """Put a copy of the database back. Stop the daemon first.

    The database that was there is kept beside it."""
    from underbench.daemon.store.backup import put_back

    settings = settings_of(config)
    before = put_back(copy, settings.store_path, datetime.now(UTC))
    kept = f" What was there before is kept as {before.name}." if before else ""
    click.echo(f"Put back from {copy}.{kept}")


@click.command()
@json_option
@click.pass_obj
def alive(config: Path | None, as_json: bool) -> None:
    """Say when the last good pass was.

    The exit code is 1 when that is more than 3 hours ago."""
    from underbench.daemon.store.duties import LAST_PASS
    from underbench.daemon.wording.json_form import document

    settings = settings_of(config)
    with open_store(settings) as store:
        last = store.duties.last_done(LAST_PASS)
    age = datetime.now(UTC) - last if last else None
    good = age is not None and timedelta(minutes=-5) <= age <= ALIVE_FOR
    body = {"alive": good, "last_good_pass": last}
    click.echo(document(body) if as_json else f"last good pass: {_ago(age)}")
    if not good:
        sys.exit(DEAD)


def _ago(age: timedelta | None) -> str:
    if age is None:
        return "none yet"
    minutes = round(age.total_seconds() / 60)
    if minutes < 0:
        return "later than now: was the clock set back?"
    return f"{minutes} min ago" if minutes < 120 else f"{minutes // 60} h ago"
