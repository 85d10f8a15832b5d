"""The command ``underbench``. Heavy modules are imported by the commands that need them."""

from __future__ import annotations

import logging
import os
import sys
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from underbench.daemon.faults import Fault

if TYPE_CHECKING:
    from underbench.daemon.outbox import Services
    from underbench.daemon.passes import Pass
    from underbench.daemon.settings import Settings
    from underbench.daemon.store import Store
    from underbench.daemon.weather.supply import Supply

CONFIG_VARIABLE = "UNDERBENCH_CONFIG"
CONFIG_NAME = "garden.toml"
FAULT, UNDELIVERED = 2, 1
DELIVERY_S = 30.0
FIRST_YEAR, LAST_YEAR = 1970, 2200  # beyond, no weather is known and clocks overflow


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
@click.version_option(package_name="underbench")
@click.pass_context
def main(ctx: click.Context, config: Path | None) -> None:
    """Keep a bonsai garden alive through the weather: what to protect, shade, vent or water."""
    logging.basicConfig(
        level=logging.INFO, stream=sys.stderr, format="%(levelname)s %(name)s: %(message)s"
    )
    logging.getLogger("apscheduler").setLevel(logging.WARNING)
    # Each retry is a warning there that repeats the whole address; how it ended is said by us.
    logging.getLogger("urllib3.connectionpool").setLevel(logging.ERROR)
    ctx.obj = config


def config_path(given: Path | None) -> Path:
    """Return which configuration file is meant."""
    if given is not None:
        return given
    if named := os.environ.get(CONFIG_VARIABLE):
        return Path(named)
    here = Path(CONFIG_NAME)
    if here.is_file():
        return here
    base = os.environ.get("XDG_CONFIG_HOME") or "~/.config"
    return Path(base).expanduser() / "underbench" / CONFIG_NAME


def _settings(given: Path | None) -> Settings:
    from underbench.daemon.settings import load

    return load(config_path(given))


def _open(settings: Settings) -> Store:
    from underbench.daemon.store import Store

    return Store.open(settings.store_path)


def _supply(settings: Settings, store: Store) -> Supply:
    from underbench.daemon.weather.openmeteo import OpenMeteo
    from underbench.daemon.weather.supply import Supply

    source = settings.weather
    provider = OpenMeteo(source.base_url, source.api_key, source.contact, source.timeout_s)
    return Supply(provider, settings.garden, store)


def _moment(_ctx: click.Context, _param: click.Parameter, value: str | None) -> datetime:
    """Read --at: ISO 8601; without an offset it is UTC."""
    return datetime.now(UTC) if value is None else _read_moment(value)


def _bound(_ctx: click.Context, _param: click.Parameter, value: str | None) -> datetime | None:
    """Read --from or --to as --at; without one there is no bound."""
    return None if value is None else _read_moment(value)


def _read_moment(value: str) -> datetime:
    try:
        moment = datetime.fromisoformat(value)
        moment = moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
        if not FIRST_YEAR <= moment.year <= LAST_YEAR:
            raise ValueError
    except (ValueError, OverflowError):
        raise click.BadParameter(
            f"{value!r}: expected a moment like 2027-04-20T17:00 (UTC) or 2027-04-20T17:00+02:00"
        ) from None
    return moment


at_option = click.option("--at", "now", callback=_moment, help="As if it were then (UTC).")


@main.command()
@click.pass_obj
def run(config: Path | None) -> None:
    """Watch the garden until stopped: a pass each hour, messages to the phone."""
    from underbench.daemon import clock
    from underbench.daemon.outbox import Services

    settings = _settings(config)
    if not settings.telling_urls:
        raise Fault("telling.urls names no push service: nothing would reach a phone")
    services = Services(settings.telling_urls)
    _open(settings).close()
    clock.run(settings, services, lambda: _open(settings), lambda store: _supply(settings, store))


@main.command()
@click.option("--dry-run", is_flag=True, help="Tell nobody and keep nothing.")
@click.option("--json", "as_json", is_flag=True, help="Print what was seen and told as JSON.")
@at_option
@click.pass_obj
def once(config: Path | None, dry_run: bool, as_json: bool, now: datetime) -> None:
    """Run one pass: look ahead, tell what is due, and say why."""
    from underbench.daemon.passes import run_pass
    from underbench.daemon.report import pass_json, pass_text

    settings = _settings(config)
    services = None if dry_run else _services(settings)
    with _open(settings) as store:
        done = run_pass(settings, store, _supply(settings, store), now, dry_run=dry_run)
        click.echo(pass_json(done) if as_json else pass_text(done))
        if services:
            _deliver(store, services, now)


def _services(settings: Settings) -> Services:
    from underbench.daemon.outbox import Services

    return Services(settings.telling_urls)


def _deliver(store: Store, services: Services, now: datetime) -> None:
    from underbench.daemon.outbox import deliver

    failed = deliver(store, services, now, DELIVERY_S).failed
    for outcome in failed:
        click.echo(f"not delivered to {outcome.service}: {outcome.reason}", err=True)
    if failed:
        sys.exit(UNDELIVERED)


def _look(config: Path | None, now: datetime, read: Callable[[Pass, Store], str]) -> None:
    """Look ahead without telling or keeping anything, and print what ``read`` makes of it."""
    from underbench.daemon.passes import run_pass

    settings = _settings(config)
    with _open(settings) as store:
        done = run_pass(settings, store, _supply(settings, store), now, dry_run=True)
        click.echo(read(done, store))


@main.command()
@at_option
@click.pass_obj
def ahead(config: Path | None, now: datetime) -> None:
    """Show the coming days, tree by tree."""
    from underbench.daemon.ahead import ahead_text

    def read(done: Pass, _store: Store) -> str:
        return ahead_text(done.outlook)

    _look(config, now, read)


@main.command()
@click.argument("tree")
@at_option
@click.pass_obj
def why(config: Path | None, tree: str, now: datetime) -> None:
    """Say what TREE can bear, what it will feel, and what would change the decision."""
    from underbench.daemon.explain import Explainer
    from underbench.daemon.names import tree_named
    from underbench.daemon.passes import PAST_EPISODES

    wanted = tree_named(_settings(config), tree)

    def read(done: Pass, store: Store) -> str:
        names = [one.name for one in done.outlook.settings.trees]
        explainer = Explainer(done.outlook, names.index(wanted.name))
        return explainer.text(store.episodes(now - PAST_EPISODES))

    _look(config, now, read)


@main.command()
@click.option(
    "--weather",
    "path",
    type=click.Path(path_type=Path),
    required=True,
    help="Hourly weather, CSV with a header (columns: see README).",
)
@click.option("--from", "start", callback=_bound, help="Not before then (UTC).")
@click.option("--to", "end", callback=_bound, help="Not after then (UTC).")
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON.")
@click.pass_obj
def rehearse(
    config: Path | None, path: Path, start: datetime | None, end: datetime | None, as_json: bool
) -> None:
    """Show what would have been told in the weather of a file; nothing is sent or kept."""
    from underbench.daemon import rehearsal, rehearsal_report
    from underbench.daemon.weather.series import read_series

    settings = _settings(config)
    planned = rehearsal.plan(settings, read_series(path, settings.garden), start, end)
    show = rehearsal_report.show_json if as_json else rehearsal_report.show_text
    show(planned, path, click.echo)


@main.command()
@click.argument("tree")
@click.option(
    "--chart",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Draw the next two days into this file too (SVG).",
)
@at_option
@click.pass_obj
def feels(config: Path | None, tree: str, chart: Path | None, now: datetime) -> None:
    """Show hour by hour what TREE feels, against what it can bear."""
    from underbench.daemon.feels import Feeling, feels_text
    from underbench.daemon.feels_chart import write_chart
    from underbench.daemon.names import tree_named

    wanted = tree_named(_settings(config), tree)

    def read(done: Pass, _store: Store) -> str:
        names = [one.name for one in done.outlook.settings.trees]
        feeling = Feeling(done.outlook, names.index(wanted.name))
        if chart is not None:
            write_chart(feeling, chart)
        return feels_text(feeling)

    _look(config, now, read)


@main.command()
@click.pass_obj
def trees(config: Path | None) -> None:
    """List the trees, where they stand, and what was derived about them."""
    from underbench.daemon.garden_view import trees_text
    from underbench.daemon.outlook import journal_at

    settings = _settings(config)
    now = datetime.now(UTC)
    with _open(settings) as store:
        click.echo(trees_text(settings, journal_at(settings, store, now), now))


@main.command()
@click.argument("words", metavar="[NAME]", nargs=-1)
@click.option("--us", is_flag=True, help="Degrees Fahrenheit.")
def species(words: Sequence[str], us: bool) -> None:
    """List the species known, or show one with the source of every number."""
    from underbench.daemon.garden_view import species_list_text, species_text
    from underbench.daemon.names import species_named
    from underbench.daemon.units import Units

    if not words:
        click.echo(species_list_text())
    else:
        found = species_named(" ".join(words))
        click.echo(species_text(found, Units("us" if us else "metric")))


@main.command()
@click.pass_obj
def check(config: Path | None) -> None:
    """Check the configuration, the weather source, the database and the push services."""
    from underbench.daemon.checkup import checkup

    settings = _settings(config)
    good = True
    for line in checkup(settings, lambda: _open(settings), lambda s: _supply(settings, s)):
        click.echo(line.text)
        good = good and line.good
    if not good:
        sys.exit(FAULT)


@main.command()
def demo() -> None:
    """Run an invented garden through an invented, eventful week."""
    from underbench.daemon.demo.driver import run_demo

    run_demo(click.echo)


day_option = click.option("--on", "day", help="The day it was, like 2027-04-20; else today.")


@main.command()
@click.argument("work")
@click.argument("names", metavar="TREE...", nargs=-1, required=True)
@click.option("--roots", "roots_pct", type=click.FloatRange(0, 100), help="Roots cut, percent.")
@day_option
@click.pass_obj
def did(
    config: Path | None, work: str, names: Sequence[str], roots_pct: float | None, day: str | None
) -> None:
    """Record WORK done to trees: repot, slip-pot, root-prune, divide, collect, chop, hard-prune,
    wire, defoliate, start-layer, sever-layer, bag, unbag."""
    from underbench.daemon import noting

    settings = _settings(config)
    kind, trees_ = noting.work_named(work), noting.trees_named(settings, names)
    at = noting.moment_of(day, settings)
    with _open(settings) as store:
        click.echo(noting.note_work(store, settings, trees_, kind, at, roots_pct))


@main.command()
@click.argument("names", metavar="TREE... SPOT", nargs=-1, required=True)
@day_option
@click.pass_obj
def moved(config: Path | None, names: Sequence[str], day: str | None) -> None:
    """Record that trees were carried to SPOT ("home": each to its own)."""
    from underbench.daemon import noting

    settings = _settings(config)
    names, spot = noting.spot_at_the_end(settings, names)
    if not names:
        raise click.UsageError("name one tree or more, and then the spot")
    trees_ = noting.trees_named(settings, names)
    at = noting.moment_of(day, settings)
    with _open(settings) as store:
        click.echo(noting.note_move(store, settings, trees_, spot, at))


@main.command()
@click.argument("stage")
@click.argument("names", metavar="TREE...", nargs=-1, required=True)
@day_option
@click.pass_obj
def seen(config: Path | None, stage: str, names: Sequence[str], day: str | None) -> None:
    """Record the STAGE trees were seen at: dormant, bud-swell, leafing-out, extending, hardened,
    colouring. It wins over the estimate from then on."""
    from underbench.daemon import noting

    settings = _settings(config)
    trees_ = noting.trees_named(settings, names)
    at = noting.moment_of(day, settings)
    with _open(settings) as store:
        click.echo(noting.note_stage(store, settings, trees_, stage, at))


@main.command()
@click.argument("names", metavar="TREE...", nargs=-1, required=True)
@day_option
@click.pass_obj
def watered(config: Path | None, names: Sequence[str], day: str | None) -> None:
    """Record a watering beside the routine, till it drained."""
    from underbench.daemon import noting

    settings = _settings(config)
    trees_ = noting.trees_named(settings, names)
    at = noting.moment_of(day, settings)
    with _open(settings) as store:
        click.echo(noting.note_watering(store, trees_, at))
