"""The commands that watch: run looks ahead each hour, once makes a single pass."""

from __future__ import annotations

import sys
from contextlib import redirect_stdout
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from underbench.daemon.commands.open_garden import (
    open_copy,
    open_store,
    reaching,
    services_of,
    settings_of,
    supply_of,
)
from underbench.daemon.commands.options import at_option, json_option
from underbench.daemon.commands.page import file_or_asked, page_if_it_can_be

if TYPE_CHECKING:
    from underbench.daemon.config.settings import Settings
    from underbench.daemon.delivery.outbox import Services
    from underbench.daemon.store.store import Store

UNDELIVERED = 1


@click.command()
@click.pass_obj
def run(config: Path | None) -> None:
    """Watch the garden, and tell your phone what to do.

    It looks ahead once an hour, until you stop it. Without a garden's file it asks a few questions
    on the page first, as init does."""
    from underbench.daemon.config.reloading import Reloading
    from underbench.daemon.running import scheduler as clock
    from underbench.daemon.store.lock import watching_alone

    garden = Reloading(file_or_asked(config, needs_phone=True), reaching)
    settings = garden.settings()
    with watching_alone(settings.store_path):
        open_store(settings).close()
        with page_if_it_can_be(garden, datetime.now(UTC)):
            clock.run(
                garden,
                reaching,
                lambda: open_store(settings),
                lambda store: supply_of(garden.settings(), store),
            )


@click.command()
@click.option("--dry-run", is_flag=True, help="Tell nobody. Keep nothing.")
@json_option
@at_option
@click.pass_obj
def once(config: Path | None, dry_run: bool, as_json: bool, now: datetime) -> None:
    """Look ahead once, now, and tell what is due."""
    from underbench.daemon.alerts.hourly_pass import run_pass
    from underbench.daemon.alerts.untaken import open_again
    from underbench.daemon.page.last_pass import keep_ahead
    from underbench.daemon.rehearsal.pass_report import pass_json, pass_text

    settings = settings_of(config)
    services = None if dry_run else services_of(settings)
    with open_copy(settings) if dry_run else open_store(settings) as store:
        if services and services.keys:
            open_again(settings, store, now)
        done = run_pass(settings, store, supply_of(settings, store), now, dry_run=dry_run)
        if not dry_run:
            keep_ahead(store, done)
        click.echo(pass_json(done) if as_json else pass_text(done))
        if services:
            # A terminal among the services must not write into the JSON.
            with redirect_stdout(sys.stderr if as_json else sys.stdout):
                _deliver(store, services, now, settings)


def _deliver(store: Store, services: Services, now: datetime, settings: Settings) -> None:
    from underbench.daemon.delivery.outbox import DELIVERY_S, deliver, manner_of

    failed = deliver(store, services, now, DELIVERY_S, manner_of(settings)).failed
    for one in failed:
        click.echo(f"not delivered to {one.service}: {one.reason}", err=True)
    if failed:
        sys.exit(UNDELIVERED)
