"""The command ``underbench``: its own options, and its commands in families."""

from __future__ import annotations

import logging
import sys
from pathlib import Path

import click

from underbench.daemon.commands.families import Families
from underbench.daemon.commands.init import init
from underbench.daemon.commands.look import ahead, feels, species, today, told, trees, why
from underbench.daemon.commands.machine import alive, backup, check, restore
from underbench.daemon.commands.note import (
    accept,
    did,
    handled,
    moved,
    outcome,
    seen,
    undo,
    watered,
)
from underbench.daemon.commands.open_garden import CONFIG_NAME, CONFIG_VARIABLE
from underbench.daemon.commands.page import page, page_password
from underbench.daemon.commands.plan import follow_ups, seasons, whatif, windows, winter
from underbench.daemon.commands.reading import reading
from underbench.daemon.commands.share import export, share, sheet
from underbench.daemon.commands.skill import skill
from underbench.daemon.commands.try_out import demo, rehearse, tune
from underbench.daemon.commands.watch import once, run


@click.group(cls=Families, context_settings={"help_option_names": ["-h", "--help"]})
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
    # urllib3 logs each retry with the whole address. Underbench itself logs how it ended.
    logging.getLogger("urllib3.connectionpool").setLevel(logging.ERROR)
    logging.getLogger("paho").setLevel(logging.CRITICAL)  # it logs each attempt likewise
    ctx.obj = config


main.add_family("For every day", init, run, today, did, moved, why)
main.add_family("Look", ahead, feels, told, trees, species)
main.add_family("Note", seen, watered, handled, outcome, accept, reading, undo)
main.add_family("Plan work", windows, whatif, follow_ups, winter, seasons)
main.add_family("Try out", demo, once, rehearse, tune, skill)
main.add_family("Share", page, page_password, share, sheet, export)
main.add_family("Keep the machine", check, alive, backup, restore)
