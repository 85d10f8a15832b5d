"""The command that shows how good the forecasts of the nights were: skill."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from underbench.daemon.moments import at_option
from underbench.daemon.opening import garden_of


@click.command()
@click.option("--nights", type=click.IntRange(1, 730), default=30, help="How far back (30).")
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON, in °C.")
@click.option(
    "--chart",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Draw the nights into this SVG file.",
)
@at_option
@click.pass_obj
def skill(
    config: Path | None, nights: int, as_json: bool, chart: Path | None, now: datetime
) -> None:
    """Show the last nights as forecast, as corrected and as your thermometer had them."""
    from underbench.daemon.skill import skill_json, skill_of, skill_text
    from underbench.daemon.skill_chart import write_skill_chart

    with garden_of(config) as (settings, store):
        found = skill_of(settings, store, now, nights)
    if chart is not None:
        write_skill_chart(found, chart)
    click.echo(skill_json(found, now) if as_json else skill_text(found))
