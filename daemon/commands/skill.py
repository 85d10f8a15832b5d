"""The command that shows how good the forecasts of the nights were: skill."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from underbench.daemon.commands.open_garden import garden_of
from underbench.daemon.commands.options import at_option, json_option


@click.command()
@click.option("--nights", type=click.IntRange(1, 730), default=30, help="How far back (30).")
@json_option
@at_option
@click.pass_obj
def skill(config: Path | None, nights: int, as_json: bool, now: datetime) -> None:
    """Show how well the last nights were forecast.

    They are shown as forecast, as corrected, and as your thermometer measured them."""
    from underbench.daemon.readings.skill import skill_json, skill_of, skill_text

    with garden_of(config) as (settings, store):
        found = skill_of(settings, store, now, nights)
    click.echo(skill_json(found, now) if as_json else skill_text(found))
