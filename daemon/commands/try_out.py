"""The commands that try Underbench out: the demo, and a rehearsal in past weather."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from underbench.daemon.commands.open_garden import archive_of, config_path, settings_of, take_over
from underbench.daemon.commands.options import bound, json_option

if TYPE_CHECKING:
    from underbench.daemon.config.settings import Settings
    from underbench.daemon.weather.csv_series import Series
    from underbench.rules.garden.inventory import Garden


@click.command()
def demo() -> None:
    """Rehearse an invented garden in an invented, eventful week."""
    from underbench.daemon.demo.demo import run_demo

    run_demo(click.echo)


@click.command()
@click.option(
    "--weather",
    "path",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Hourly weather as CSV (its columns: config_examples/README.md). Without it the weather"
    " archive is asked for the garden's place.",
)
@click.option(
    "--with",
    "other",
    type=click.Path(path_type=Path),
    help="Another garden file: show which alerts come or go with it.",
)
@click.option("--from", "start", metavar="MOMENT", callback=bound, help="Begin then (UTC).")
@click.option("--to", "end", metavar="MOMENT", callback=bound, help="End then (UTC).")
@json_option
@click.pass_obj
def rehearse(
    config: Path | None,
    path: Path | None,
    other: Path | None,
    start: datetime | None,
    end: datetime | None,
    as_json: bool,
) -> None:
    """Show what would have been told in past weather.

    The weather is that of a file, or that of your place as archived. Nothing is sent or kept."""
    from underbench.daemon.commands.progress import stopped_by_hand
    from underbench.daemon.rehearsal import compare as rehearsal_compare
    from underbench.daemon.rehearsal import month_report as rehearsal_report
    from underbench.daemon.rehearsal import replay as rehearsal
    from underbench.daemon.weather.csv_series import read_series
    from underbench.daemon.weather.past_series import archived_series

    settings = settings_of(config)
    take_over(settings)

    def read(garden: Garden) -> Series:
        if path is not None:
            return read_series(path, garden)
        return archived_series(archive_of(settings), garden, start, end, datetime.now(UTC))

    planned = rehearsal.plan(settings, read(settings.garden), start, end)
    with stopped_by_hand() as progress:
        if other is None:
            show = rehearsal_report.show_json if as_json else rehearsal_report.show_text
            show(planned, progress.echo, progress)
            return
        side = settings_of(other)
        sides = rehearsal_compare.both_sides(
            planned, config_path(config), side, other, read, progress
        )
        compare = rehearsal_compare.compare_json if as_json else rehearsal_compare.compare_text
        compare(*sides, progress.echo)


@click.command()
@click.argument("name")
@click.argument("limit", required=False)
@click.option(
    "--weather",
    "path",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Hourly weather as CSV. Without it the garden's own record serves, else the archive.",
)
@click.option("--from", "start", metavar="MOMENT", callback=bound, help="Begin then (UTC).")
@click.option("--to", "end", metavar="MOMENT", callback=bound, help="End then (UTC).")
@click.option(
    "--values",
    "count",
    type=click.IntRange(5, 9),
    default=5,
    show_default=True,
    help="How many values to try.",
)
@click.option(
    "--chart", type=click.Path(dir_okay=False, path_type=Path), help="Draw it into this SVG file."
)
@json_option
@click.pass_obj
def tune(
    config: Path | None,
    name: str,
    limit: str | None,
    path: Path | None,
    start: datetime | None,
    end: datetime | None,
    count: int,
    chart: Path | None,
    as_json: bool,
) -> None:
    """Show what other values of a limit would have brought.

    NAME is a tree, a spot or a species in the garden. LIMIT is a key of its limits, like
    leaf_frost_c. Without it the one that makes most difference is tried. Nothing is sent."""
    from underbench.daemon.charts.svg_elements import write
    from underbench.daemon.commands.progress import stopped_by_hand
    from underbench.daemon.journal.lookup import named
    from underbench.daemon.rehearsal import replay, tuned_names, tuning_report
    from underbench.daemon.rehearsal import tune as tuning
    from underbench.daemon.weather.past_series import last_winters

    settings = settings_of(config)
    take_over(settings)
    meant = tuned_names.meant_by(settings, name)
    wanted = limit and named("limit", limit, tuned_names.KEYS[settings.units])
    if path is None:
        begins, ends = last_winters(datetime.now(UTC))
        start, end = start or begins, end or ends
    planned = replay.plan(settings, _known_weather(settings, path, start, end), start, end)
    with stopped_by_hand() as progress:
        case = tuning.case_of(planned, meant)
        found = tuning.tune(case, wanted or tuning.most_leverage(case, count), count, progress)
        show = tuning_report.tuning_json if as_json else tuning_report.tuning_text
        progress.echo(show(found, planned))
    if chart is not None:
        write(tuning_report.tuning_svg(found, settings.units), chart)


def _known_weather(
    settings: Settings, path: Path | None, start: datetime | None, end: datetime | None
) -> Series:
    """The weather of a file, or between two moments: the garden's own record, or the archive's."""
    from underbench.daemon.weather.csv_series import read_series
    from underbench.daemon.weather.past_series import archived_series, recorded_series

    if path is not None:
        return read_series(path, settings.garden)
    own = start and end and recorded_series(settings.store_path, settings.garden, start, end)
    now = datetime.now(UTC)
    return own or archived_series(archive_of(settings), settings.garden, start, end, now)
