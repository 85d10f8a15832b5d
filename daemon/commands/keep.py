"""Commands for whoever keeps the machine: copies of the database, and whether all is alive."""

from __future__ import annotations

import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import click

from underbench.daemon.commands.open_garden import open_store, settings_of
from underbench.daemon.wording.json_form import document

# Three hours of passes: one that fails is tried again every ten minutes.
ALIVE_FOR = timedelta(hours=3)
DEAD = 1


@click.command()
@click.argument("to", metavar="FILE", type=click.Path(dir_okay=False, path_type=Path))
@click.pass_obj
def backup(config: Path | None, to: Path) -> None:
    """Copy the database to FILE, as it is at one moment; the daemon may run on."""
    from underbench.daemon.store.backup import back_up

    settings = settings_of(config)
    back_up(settings.store_path, to)
    click.echo(f"Copied to {to}. Keep a copy of the garden's file with it.")


@click.command()
@click.argument("copy", metavar="FILE", type=click.Path(dir_okay=False, path_type=Path))
@click.pass_obj
def restore(config: Path | None, copy: Path) -> None:
    """Put a copy of the database back; what was there is kept beside it. Stop the daemon first."""
    from underbench.daemon.store.backup import put_back

    settings = settings_of(config)
    before = put_back(copy, settings.store_path, datetime.now(UTC))
    kept = f" What was there before is kept as {before.name}." if before else ""
    click.echo(f"Put back from {copy}.{kept}")


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON, for programs.")
@click.pass_obj
def alive(config: Path | None, as_json: bool) -> None:
    """Say when the last good pass was; exit code 1 when that is more than 3 hours ago."""
    from underbench.daemon.running.scheduler import LAST_PASS

    with open_store(settings_of(config)) as store:
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
