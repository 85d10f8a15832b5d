"""The command ``underbench``. Heavy modules are imported by the commands that need them."""

from __future__ import annotations

import logging
import os
import sys
from collections.abc import Sequence
from contextlib import redirect_stdout
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from underbench.daemon.commands.at_option import at_option, bound
from underbench.daemon.commands.init import init
from underbench.daemon.commands.keep import alive, backup, restore
from underbench.daemon.commands.look_ahead import look_and_print, row_of
from underbench.daemon.commands.note import did, handled, moved, outcome, seen, undo, watered
from underbench.daemon.commands.open_garden import (
    CONFIG_NAME,
    CONFIG_VARIABLE,
    archive_of,
    config_path,
    garden_of,
    open_store,
    settings_of,
    supply_of,
    tree_named_in,
)
from underbench.daemon.commands.page import page, page_if_it_can_be, page_password
from underbench.daemon.commands.plan import follow_ups, seasons, whatif, windows, winter
from underbench.daemon.commands.reading import reading
from underbench.daemon.commands.share import export, share, sheet
from underbench.daemon.commands.skill import skill
from underbench.daemon.faults import Fault
from underbench.daemon.wording.json_form import document

if TYPE_CHECKING:
    from underbench.daemon.alerts.hourly_pass import Pass
    from underbench.daemon.config.settings import Settings
    from underbench.daemon.delivery.outbox import Services
    from underbench.daemon.store.store import Store
    from underbench.daemon.weather.csv_series import Series
    from underbench.rules.garden.inventory import Garden

FAULT, UNDELIVERED = 2, 1
DELIVERY_S = 30.0


class _Group(click.Group):
    """Commands whose known faults end in one clear line each and exit code 2."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command."""
        try:
            return super().invoke(ctx)
        except Fault as fault:
            click.echo(str(fault), err=True)
            sys.exit(FAULT)
        except KeyboardInterrupt:
            sys.exit(130)


@click.group(cls=_Group, context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--config",
    "config",
    type=click.Path(path_type=Path),
    help=f"The garden's file; else ${CONFIG_VARIABLE}, else ./{CONFIG_NAME}, "
    f"else ~/.config/underbench/{CONFIG_NAME}.",
)
@click.option("-v", "--verbose", is_flag=True, help="Say on stderr what is done, not only trouble.")
@click.version_option(package_name="underbench")
@click.pass_context
def main(ctx: click.Context, config: Path | None, verbose: bool) -> None:
    """Keep a bonsai garden alive through the weather: what to protect, shade, vent or water."""
    logging.basicConfig(
        level=logging.INFO if verbose else logging.WARNING,
        stream=sys.stderr,
        format="%(levelname)s %(name)s: %(message)s",
    )
    logging.getLogger("apscheduler").setLevel(logging.WARNING)
    # Each retry is a warning there that repeats the whole address; how it ended is said by us.
    logging.getLogger("urllib3.connectionpool").setLevel(logging.ERROR)
    logging.getLogger("paho").setLevel(logging.CRITICAL)  # likewise, each attempt
    ctx.obj = config


json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print it as JSON, for programs."
)


@main.command()
@click.pass_obj
def run(config: Path | None) -> None:
    """Watch the garden until stopped: a pass each hour, messages to the phone."""
    from underbench.daemon.config.reloading import Reloading
    from underbench.daemon.running import scheduler as clock
    from underbench.daemon.store.lock import watching_alone

    garden = Reloading(config_path(config))
    settings = garden.settings()
    if not settings.telling.urls:
        raise Fault("telling.urls names no push service: nothing would reach a phone")
    with watching_alone(settings.store_path):
        open_store(settings).close()
        with page_if_it_can_be(garden, datetime.now(UTC)):
            clock.run(
                garden,
                _services,
                lambda: open_store(settings),
                lambda store: supply_of(garden.settings(), store),
            )


@main.command()
@click.option("--dry-run", is_flag=True, help="Tell nobody and keep nothing.")
@click.option("--json", "as_json", is_flag=True, help="Print what was seen and told as JSON.")
@at_option
@click.pass_obj
def once(config: Path | None, dry_run: bool, as_json: bool, now: datetime) -> None:
    """Run one pass: look ahead, tell what is due, and say why."""
    from underbench.daemon.alerts.hourly_pass import run_pass
    from underbench.daemon.page.last_pass import keep_ahead
    from underbench.daemon.rehearsal.pass_report import pass_json, pass_text

    settings = settings_of(config)
    services = None if dry_run else _services(settings)
    with open_store(settings) as store:
        done = run_pass(settings, store, supply_of(settings, store), now, dry_run=dry_run)
        if not dry_run:
            keep_ahead(store, done.outlook)
        click.echo(pass_json(done) if as_json else pass_text(done))
        if services:
            # A terminal among the services must not write into the JSON.
            with redirect_stdout(sys.stderr if as_json else sys.stdout):
                _deliver(store, services, now, settings)


def _services(settings: Settings) -> Services:
    from underbench.daemon.delivery.outbox import Services

    telling = settings.telling
    return Services(telling.urls, telling.danger_urls, settings.stand_in_urls)


def _deliver(store: Store, services: Services, now: datetime, settings: Settings) -> None:
    from underbench.daemon.delivery.outbox import deliver, manner_of

    failed = deliver(store, services, now, DELIVERY_S, manner_of(settings)).failed
    for one in failed:
        click.echo(f"not delivered to {one.service}: {one.reason}", err=True)
    if failed:
        sys.exit(UNDELIVERED)


@main.command()
@json_option
@at_option
@click.pass_obj
def ahead(config: Path | None, as_json: bool, now: datetime) -> None:
    """Show the coming days, tree by tree."""
    from underbench.daemon.views.ahead import ahead_json, ahead_text

    def read(done: Pass, _store: Store) -> str:
        return ahead_json(done.outlook) if as_json else ahead_text(done.outlook)

    look_and_print(config, now, read)


@main.command()
@click.argument("tree")
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON, in °C.")
@at_option
@click.pass_obj
def why(config: Path | None, tree: str, as_json: bool, now: datetime) -> None:
    """Say what presses TREE most: its limit and whose word that is, what it will feel hour by
    hour, whether that is acted on, and what would change the decision."""
    from underbench.daemon.alerts.hourly_pass import PAST_EPISODES
    from underbench.daemon.charts.hours_of_a_tree import Feeling
    from underbench.daemon.views.why import Explainer

    wanted = tree_named_in(config, tree)

    def read(done: Pass, store: Store) -> str:
        feeling = Feeling(done.outlook, row_of(done.outlook, wanted))
        explained = Explainer(feeling, store.episodes.since(now - PAST_EPISODES))
        return explained.as_json() if as_json else explained.text()

    look_and_print(config, now, read)


@main.command()
@click.option(
    "--weather",
    "path",
    type=click.Path(path_type=Path),
    help="Hourly weather, CSV with a header (columns: see README); without it, the archived weather"
    " of the garden's place.",
)
@click.option(
    "--with",
    "other",
    type=click.Path(path_type=Path),
    help="Another garden file: show which alerts would come or go with it.",
)
@click.option("--from", "start", callback=bound, help="Not before then (UTC).")
@click.option("--to", "end", callback=bound, help="Not after then (UTC).")
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON.")
@click.pass_obj
def rehearse(
    config: Path | None,
    path: Path | None,
    other: Path | None,
    start: datetime | None,
    end: datetime | None,
    as_json: bool,
) -> None:
    """Show what would have been told in the weather of a file, or in that of days gone by at the
    garden's place; nothing is sent or kept."""
    from underbench.daemon.rehearsal import compare as rehearsal_compare
    from underbench.daemon.rehearsal import month_report as rehearsal_report
    from underbench.daemon.rehearsal import replay as rehearsal
    from underbench.daemon.weather.csv_series import read_series
    from underbench.daemon.weather.past_series import archived_series

    settings = settings_of(config)

    def read(garden: Garden) -> Series:
        if path is not None:
            return read_series(path, garden)
        return archived_series(archive_of(settings), garden, start, end, datetime.now(UTC))

    planned = rehearsal.plan(settings, read(settings.garden), start, end)
    if other is None:
        show = rehearsal_report.show_json if as_json else rehearsal_report.show_text
        show(planned, click.echo)
        return
    side = settings_of(other)
    sides = rehearsal_compare.both_sides(planned, config_path(config), side, other, read)
    compare = rehearsal_compare.compare_json if as_json else rehearsal_compare.compare_text
    compare(*sides, click.echo)


@main.command()
@click.argument("tree")
@click.option(
    "--chart",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Draw the next two days into this file too (SVG).",
)
@json_option
@at_option
@click.pass_obj
def feels(config: Path | None, tree: str, chart: Path | None, as_json: bool, now: datetime) -> None:
    """Show hour by hour what TREE feels, against what it can bear."""
    from underbench.daemon.charts.hours_of_a_tree import Feeling
    from underbench.daemon.charts.tree_chart import write_chart
    from underbench.daemon.views.feels import feels_json, feels_text

    wanted = tree_named_in(config, tree)

    def read(done: Pass, _store: Store) -> str:
        feeling = Feeling(done.outlook, row_of(done.outlook, wanted))
        if chart is not None:
            write_chart(feeling, chart)
        return feels_json(feeling) if as_json else feels_text(feeling)

    look_and_print(config, now, read)


@main.command()
@json_option
@click.pass_obj
def trees(config: Path | None, as_json: bool) -> None:
    """List the trees, where they stand, and what was derived about them."""
    from underbench.daemon.outlook.outlook import journal_at
    from underbench.daemon.views.trees import trees_json, trees_text

    now, show = datetime.now(UTC), trees_json if as_json else trees_text
    with garden_of(config) as (settings, store):
        click.echo(show(settings, journal_at(settings, store, now), now))


@main.command()
@click.argument("words", metavar="[NAME]", nargs=-1)
@click.option("--us", is_flag=True, help="Degrees Fahrenheit.")
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON, in °C.")
def species(words: Sequence[str], us: bool, as_json: bool) -> None:
    """List the species known, or show one with the source of every number."""
    from underbench.daemon.views.species import listed, listed_json, shown, shown_json
    from underbench.daemon.wording.units import Units

    name = " ".join(words)
    if as_json:
        click.echo(shown_json(name) if name else listed_json())
    else:
        click.echo(shown(name, Units("us" if us else "metric")) if name else listed())


@main.command()
@click.option("--days", type=click.IntRange(1, 3660), default=14, help="How far back (14).")
@click.option("--full", is_flag=True, help="The messages whole.")
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON.")
@at_option
@click.pass_obj
def told(config: Path | None, days: int, full: bool, as_json: bool, now: datetime) -> None:
    """Show what was said, when, to whom, by which service, and how that went."""
    from underbench.daemon.views.told import ToldView
    from underbench.daemon.wording.units import Units

    settings = settings_of(config)
    services = _services(settings)
    with open_store(settings) as store:
        records = store.messages.records(now - timedelta(days=days))
    units = Units(settings.units)
    view = ToldView(records, services, settings.garden.timezone, units, now)
    click.echo(view.as_json() if as_json else view.text(full))


@main.command()
@json_option
@click.pass_obj
def check(config: Path | None, as_json: bool) -> None:
    """Check the configuration, the weather source, the database and the push services."""
    from underbench.daemon.views.checkup import Here, checkup

    settings, here = settings_of(config), Here(config_path(config), os.environ, datetime.now(UTC))
    lines = []
    for line in checkup(
        settings, here, lambda: open_store(settings), lambda store: supply_of(settings, store)
    ):
        lines.append(line)
        if not as_json:
            click.echo(line.text)
    good = all(line.good for line in lines)
    if as_json:
        click.echo(document({"good": good, "parts": [line.parts for line in lines]}))
    if not good:
        sys.exit(FAULT)


@main.command()
def demo() -> None:
    """Run an invented garden through an invented, eventful week."""
    from underbench.daemon.demo.driver import run_demo

    run_demo(click.echo)


OTHERS = (
    *(init, did, moved, seen, watered, handled, outcome, reading, undo),
    *(windows, whatif, follow_ups, winter, seasons),
    *(page, page_password, share, export, sheet, skill, backup, restore, alive),
)
for other in OTHERS:
    main.add_command(other)
