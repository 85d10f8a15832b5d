"""Opening a garden for a command: its settings, its database, its weather, its phones."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from underbench.daemon.config.settings import Settings
    from underbench.daemon.delivery.outbox import Services
    from underbench.daemon.store.store import Store
    from underbench.daemon.weather.archive import Archive
    from underbench.daemon.weather.supply import Supply

CONFIG_VARIABLE = "UNDERBENCH_CONFIG"
CONFIG_NAME = "garden.toml"


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


def settings_of(given: Path | None) -> Settings:
    """Return the settings of the garden meant; raises ConfigProblems."""
    from underbench.daemon.config.settings import load

    return load(config_path(given))


def open_store(settings: Settings) -> Store:
    """Open its database; raises StoreError."""
    from underbench.daemon.store.store import Store

    return Store.open(settings.store_path)


def services_of(settings: Settings) -> Services:
    """Return the push services that its messages go to."""
    from underbench.daemon.delivery.outbox import Services

    telling = settings.telling
    return Services(telling.urls, telling.danger_urls, settings.stand_in_urls)


def supply_of(settings: Settings, store: Store) -> Supply:
    """Return where its weather comes from."""
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
    """Return where its weather of months gone by comes from; None where there is nowhere to ask."""
    from underbench.daemon.weather.archive import Archive

    source = settings.weather
    if source.archive is None:
        return None
    return Archive(source.archive, source.api_key, source.contact, source.timeout_s)


@contextmanager
def garden_of(config: Path | None) -> Iterator[tuple[Settings, Store]]:
    """The settings with every tree there is, those that works made too, and the open database."""
    from underbench.daemon.outlook.outlook import grown

    settings = settings_of(config)
    with open_store(settings) as store:
        yield grown(settings, store), store


def tree_named_in(config: Path | None, name: str) -> str:
    """Return how the tree meant by ``name`` is written; raises Fault."""
    from underbench.daemon.journal.lookup import tree_named

    with garden_of(config) as (settings, _):
        return tree_named(settings, name).name
