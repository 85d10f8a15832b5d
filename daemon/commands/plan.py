"""The commands that plan work: when to do it, what would follow, what is open after it, winter."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from underbench.daemon.commands.look_ahead import living, look_and_print, row_of
from underbench.daemon.commands.note import Percent
from underbench.daemon.commands.open_garden import garden_of, settings_of, supply_of, tree_named_in
from underbench.daemon.commands.options import at_option, json_option
from underbench.daemon.faults import Fault

if TYPE_CHECKING:
    from underbench.daemon.alerts.hourly_pass import Pass
    from underbench.daemon.store.store import Store


@click.command()
@click.argument("words", metavar="[WORK] [TREE]", nargs=-1)
@click.option("--second-job", is_flag=True, help="Offer a second major work in one year too.")
@json_option
@at_option
@click.pass_obj
def windows(
    config: Path | None, words: Sequence[str], second_job: bool, as_json: bool, now: datetime
) -> None:
    """Show which days suit WORK on TREE: ahead, and in most years."""
    from underbench.daemon.outlook.past_years import bring_years, usual_of
    from underbench.daemon.planning.windows import Planner
    from underbench.daemon.planning.windows_text import WindowsView, asked_for

    with garden_of(config) as (settings, store):
        asked_for(settings, words)  # a wrong name is reported before a forecast is fetched
        bring_years(store, settings.garden, supply_of(settings, store).archive, now)

    def read(done: Pass, store: Store) -> str:
        usual = usual_of(store, done.outlook.settings.garden)
        works, rows = asked_for(done.outlook.settings, words)
        if len(rows) == 1:
            living(done.outlook, rows[0])
        planner = Planner(done.outlook, usual, second_job=second_job)
        one_asked = len(works) == len(rows) == 1
        found = list(planner.windows(works, rows, even_if_never=one_asked))
        view = WindowsView(planner, found, whole=bool(words))
        return view.as_json() if as_json else view.text()

    look_and_print(config, now, read)


@click.command()
@click.argument("words", metavar="did WORK TREE", nargs=-1)
@click.option("--roots", "roots_pct", type=Percent(), help="The share of roots cut, such as 40%.")
@click.option("--on", "day", metavar="DAY", help="A later day to compare with, such as 2027-04-20.")
@json_option
@at_option
@click.pass_obj
def whatif(
    config: Path | None,
    words: Sequence[str],
    roots_pct: float | None,
    day: str | None,
    as_json: bool,
    now: datetime,
) -> None:
    """Show which limits and alerts would follow a WORK on TREE."""
    from underbench.daemon.journal.works import work_first
    from underbench.daemon.outlook.past_years import usual_of
    from underbench.daemon.planning.whatif import later_day, tried, what_if
    from underbench.daemon.planning.whatif_text import WhatIfView
    from underbench.daemon.planning.windows import Planner

    asked = words[1:] if words[:1] == ("did",) else words
    if len(asked) < 2:
        raise Fault("whatif: expected did WORK TREE, as in: underbench whatif did repot Ember")
    work, tree = work_first(asked)
    kind, wanted = tried(work), tree_named_in(config, " ".join(tree))
    on = None if day is None else later_day(day, now, settings_of(config).garden.timezone)

    def read(done: Pass, store: Store) -> str:
        row = row_of(done.outlook, wanted)
        living(done.outlook, row)
        usual = usual_of(store, done.outlook.settings.garden)
        view = WhatIfView(what_if(Planner(done.outlook, usual), row, kind, roots_pct, on))
        return view.as_json() if as_json else view.text()

    look_and_print(config, now, read)


@click.command("follow-ups")
@json_option
@at_option
@click.pass_obj
def follow_ups(config: Path | None, as_json: bool, now: datetime) -> None:
    """Show what is still to do after works, and when."""
    from underbench.daemon.planning import follow_ups as views

    def read(done: Pass, store: Store) -> str:
        found = views.follow_ups(done.outlook, store)
        return views.as_json(found) if as_json else views.text(found)

    look_and_print(config, now, read)


@click.command()
@click.argument("tree", required=False)
@json_option
@at_option
@click.pass_obj
def winter(config: Path | None, tree: str | None, as_json: bool, now: datetime) -> None:
    """Show what the winter asks for: in, out, frost cover.

    With TREE it shows that tree alone."""
    from underbench.daemon.outlook.past_years import bring_years
    from underbench.daemon.planning.lacking import lacking
    from underbench.daemon.planning.winter import winters
    from underbench.daemon.planning.winter_text import WinterView

    wanted = None if tree is None else tree_named_in(config, tree)
    with garden_of(config) as (settings, store):
        bring_years(store, settings.garden, supply_of(settings, store).archive, now)

    def read(done: Pass, store: Store) -> str:
        found = [one for one in winters(done.outlook, store) if wanted in (None, one.tree)]
        short = None if wanted else lacking(done.outlook, store)
        view = WinterView(done.outlook, found, short)
        return view.as_json() if as_json else view.text()

    look_and_print(config, now, read)


@click.command()
@json_option
@at_option
@click.pass_obj
def seasons(config: Path | None, as_json: bool, now: datetime) -> None:
    """Show which trees lived, after which works."""
    from underbench.daemon.planning import seasons as past
    from underbench.daemon.wording.units import Units

    with garden_of(config) as (settings, store):
        groups, made = past.seasons(settings, store, now), past.made_of(settings.trees)
    units = Units(settings.units)
    show = past.seasons_json(groups, made) if as_json else past.seasons_text(groups, made, units)
    click.echo(show)
