"""The commands that show what comes, why, what a tree feels, and what was told."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import click

from underbench.daemon.commands.look_ahead import look_and_print, row_of
from underbench.daemon.commands.open_garden import (
    garden_of,
    open_store,
    services_of,
    settings_of,
    tree_named_in,
)
from underbench.daemon.commands.options import at_option, json_option

if TYPE_CHECKING:
    from underbench.daemon.alerts.hourly_pass import Pass
    from underbench.daemon.store.store import Store


@click.command()
@json_option
@at_option
@click.pass_obj
def today(config: Path | None, as_json: bool, now: datetime) -> None:
    """Show what to do now, what stands where, and what comes.

    It only looks: nothing is told, and no job is marked as told."""
    from underbench.daemon.planning.follow_ups import follow_ups
    from underbench.daemon.views.today import Today

    def read(done: Pass, store: Store) -> str:
        due = [one for one in follow_ups(done.outlook, store) if one.due]
        view = Today(done, due)
        return view.as_json() if as_json else view.text()

    look_and_print(config, now, read)


@click.command()
@click.argument("tree")
@json_option
@at_option
@click.pass_obj
def why(config: Path | None, tree: str, as_json: bool, now: datetime) -> None:
    """Explain what threatens TREE most, and what would help.

    It shows the limit and who set it, what TREE will feel hour by hour, what is decided, and what
    would change that decision."""
    from underbench.daemon.charts.hours_of_a_tree import Feeling
    from underbench.daemon.journal.borne import noted_lines
    from underbench.daemon.views.why import Explainer

    wanted = tree_named_in(config, tree)

    def read(done: Pass, store: Store) -> str:
        feeling = Feeling(done.outlook, row_of(done.outlook, wanted))
        episodes, plan = store.episodes.lately(now), done.plans.get(wanted)
        noted = noted_lines(done.outlook.settings, feeling.tree, store.journal.entries())
        explained = Explainer(feeling, episodes, plan, noted)
        return explained.as_json() if as_json else explained.text()

    look_and_print(config, now, read)


@click.command()
@json_option
@at_option
@click.pass_obj
def ahead(config: Path | None, as_json: bool, now: datetime) -> None:
    """Show the coming days, tree by tree."""
    from underbench.daemon.views.ahead import ahead_json, ahead_text

    def read(done: Pass, _store: Store) -> str:
        return ahead_json(done.outlook) if as_json else ahead_text(done.outlook, done.plans)

    look_and_print(config, now, read)


@click.command()
@click.argument("tree")
@click.option(
    "--chart",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Draw the next two days into this SVG file too.",
)
@json_option
@at_option
@click.pass_obj
def feels(config: Path | None, tree: str, chart: Path | None, as_json: bool, now: datetime) -> None:
    """Show what TREE feels hour by hour, and what it can bear."""
    from underbench.daemon.charts.hours_of_a_tree import Feeling
    from underbench.daemon.charts.svg import draw
    from underbench.daemon.charts.svg_elements import write
    from underbench.daemon.charts.tree_chart import feels_chart
    from underbench.daemon.views.feels import feels_json, feels_text

    wanted = tree_named_in(config, tree)

    def read(done: Pass, _store: Store) -> str:
        feeling = Feeling(done.outlook, row_of(done.outlook, wanted))
        if chart is not None:
            write(draw(feels_chart(feeling)), chart)
        return feels_json(feeling) if as_json else feels_text(feeling)

    look_and_print(config, now, read)


@click.command()
@click.option("--days", type=click.IntRange(1, 3660), default=14, help="How far back (14).")
@click.option("--full", is_flag=True, help="Show whole messages.")
@json_option
@at_option
@click.pass_obj
def told(config: Path | None, days: int, full: bool, as_json: bool, now: datetime) -> None:
    """Show the messages sent, to whom, and whether they arrived."""
    from underbench.daemon.views.told import ToldView
    from underbench.daemon.wording.units import Units

    settings = settings_of(config)
    services = services_of(settings)
    with open_store(settings) as store:
        records = store.messages.records(now - timedelta(days=days))
    units = Units(settings.units)
    view = ToldView(records, services, settings.garden.timezone, units, now)
    click.echo(view.as_json() if as_json else view.text(full))


@click.command()
@json_option
@click.pass_obj
def trees(config: Path | None, as_json: bool) -> None:
    """List your trees, where they stand, and what was worked out."""
    from underbench.daemon.outlook.garden_now import journal_at
    from underbench.daemon.views.trees import trees_json, trees_text

    now, show = datetime.now(UTC), trees_json if as_json else trees_text
    with garden_of(config) as (settings, store):
        click.echo(show(settings, journal_at(settings, store, now), now))


@click.command()
@click.argument("words", metavar="[NAME]", nargs=-1)
@click.option("--us", is_flag=True, help="Show degrees Fahrenheit.")
@json_option
def species(words: Sequence[str], us: bool, as_json: bool) -> None:
    """List the species known, or show one with its sources."""
    from underbench.daemon.views.species import listed, listed_json, shown, shown_json
    from underbench.daemon.wording.units import Units

    name = " ".join(words)
    if as_json:
        click.echo(shown_json(name) if name else listed_json())
    else:
        click.echo(shown(name, Units("us" if us else "metric")) if name else listed())
