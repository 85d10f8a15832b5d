"""Opening a garden for a command: its settings, its database, its weather, its phones."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from underbench.daemon.faults import Fault

if TYPE_CHECKING:
    from underbench.daemon.config.settings import Settings
    from underbench.daemon.delivery.outbox import Services
    from underbench.daemon.store.store import Store
    from underbench.daemon.weather.archive import Archive
    from underbench.daemon.weather.supply import Supply

CONFIG_VARIABLE = "UNDERBENCH_CONFIG"
CONFIG_NAME = "garden.toml"


def config_path(given: Path | None) -> Path:
    """Return the path of the garden's file."""
    if given is not None:
        return given
    if named := os.environ.get(CONFIG_VARIABLE):
        return Path(named)
    here = Path(CONFIG_NAME)
    if here.is_file():
        return here
    base = os.environ.get("XDG_CONFIG_HOME") or "~/.config"
    return Path(base).expanduser() / "underbench" / CONFIG_NAME


def settings_of(given: Path | None) -> Settings:
    """Return the settings of the garden; raises ConfigProblems."""
    from underbench.daemon.config.settings import load

    return load(config_path(given))


def open_store(settings: Settings) -> Store:
    """Open the garden's database. Raises StoreError, also if it belongs to another garden."""
    from underbench.daemon.store.store import Store

    take_over(settings)
    return _claimed(Store.open(settings.store_path), settings)


def open_copy(settings: Settings) -> Store:
    """Open a copy of the garden's database, so that nothing is kept. Raises StoreError as
    `open_store` does."""
    from underbench.daemon.store.store import Store

    return _claimed(Store.copy(_past_of(settings) or settings.store_path), settings)


def take_over(settings: Settings) -> None:
    """Give a garden without a database a copy of the one that it had under another name, and say
    so. Raises StoreError."""
    from underbench.daemon.store.backup import copy_once

    before, now = _past_of(settings), settings.store_path
    if before and copy_once(before, now):
        click.echo(
            f"This garden's database {now.name} was copied from {before.name}, "
            "which stays as it was.",
            err=True,
        )


def _past_of(settings: Settings) -> Path | None:
    from underbench.daemon.store.adopt import source_of

    names = {tree.name for tree in settings.trees}
    return source_of(settings.store_path, settings.garden, names)


def _claimed(store: Store, settings: Settings) -> Store:
    try:
        store.owner.claim(settings.garden.name, settings.file)
    except Fault:
        store.close()
        raise
    return store


def services_of(settings: Settings) -> Services:
    """Return the push services that the garden's messages go to."""
    from underbench.daemon.delivery.outbox import all_services

    return all_services(settings)


def reaching(settings: Settings) -> Services:
    """Return the push services of a garden that is watched. Raises Fault if none reaches the
    keeper."""
    if not settings.telling.urls:
        raise Fault("telling.urls names no push service: nothing would reach a phone")
    return services_of(settings)


def supply_of(settings: Settings, store: Store) -> Supply:
    """Return the supply of the garden's weather."""
    from underbench.daemon.weather.ensemble import EnsembleService
    from underbench.daemon.weather.metno import MetNorway
    from underbench.daemon.weather.openmeteo import OpenMeteo
    from underbench.daemon.weather.supply import Supply

    source = settings.weather
    asking = source.api_key, source.contact, source.timeout_s
    ensembles = None
    if source.ensembles is not None:
        ensembles = EnsembleService(source.ensembles, *asking, source.ensemble)
    provider = OpenMeteo(source.base_url, *asking)
    second = None
    if source.second_source is not None and source.contact.strip():
        second = MetNorway(source.second_source, source.contact, source.timeout_s)
    return Supply(provider, settings.garden, store.answers, archive_of(settings), ensembles, second)


def archive_of(settings: Settings) -> Archive | None:
    """Return the archive of the garden's past weather; None if no archive is set."""
    from underbench.daemon.weather.archive import Archive

    source = settings.weather
    if source.archive is None:
        return None
    return Archive(source.archive, source.api_key, source.contact, source.timeout_s)


@contextmanager
def garden_of(config: Path | None) -> Iterator[tuple[Settings, Store]]:
    """The settings and the open database. The settings hold the trees that works made too."""
    from underbench.daemon.outlook.garden_now import grown

    settings = settings_of(config)
    with open_store(settings) as store:
        yield grown(settings, store), store


def tree_named_in(config: Path | None, name: str) -> str:
    """Return the tree's name as the garden's file writes it; raises Fault."""
    from underbench.daemon.journal.lookup import tree_named

    with garden_of(config) as (settings, _):
        return tree_named(settings, name).name
