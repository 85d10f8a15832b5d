"""An invented garden with a page, for the tests: benches on an April evening before a frost."""

from __future__ import annotations

import logging
import re
import sqlite3
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from html import unescape
from pathlib import Path
from secrets import token_hex
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from underbench.daemon.alerts.hourly_pass import run_pass
from underbench.daemon.config.page_table import PageTable
from underbench.daemon.config.reloading import Reloading
from underbench.daemon.config.settings import Settings
from underbench.daemon.delivery.outbox import Services
from underbench.daemon.faults import Fault
from underbench.daemon.page import auth
from underbench.daemon.page.app import create_app
from underbench.daemon.page.context import EXTENSION, Deps
from underbench.daemon.page.guess_limit import Guesses
from underbench.daemon.page.kept_weather import KeptWeather
from underbench.daemon.page.last_pass import keep_ahead
from underbench.daemon.page.one_tree import EXTENSION as GLANCES
from underbench.daemon.page.one_tree import Glances
from underbench.daemon.page.serve import Server, running, server_of
from underbench.daemon.page.trials import EXTENSION as TRIALS
from underbench.daemon.page.trials import Trials
from underbench.daemon.store.store import Store
from underbench.daemon.weather.supply import Provider, Supply
from underbench.rules.garden.journal import Sighting, Stage, Work
from underbench.rules.garden.works import WorkKind

EVENING = datetime(2024, 4, 23, 15, 10, tzinfo=UTC)  # 17:10 in the garden, before a night of frost
DAY = timedelta(days=1)
PLAIN = PageTable()
PASSWORD = "lichen on old larch"
GARDEN = """
[garden]
name = "Orchard End"
latitude = 46.05
longitude = 14.51
elevation_m = 300
timezone = "Europe/Ljubljana"

[hands_on]
weekdays = ["06:30-07:30", "17:00-21:00"]
weekends = ["08:00-21:00"]

[means]
fleece_layers = 1

[[spot]]
name = "top bench"
kind = "bench"
sun = "08:00-18:00"

[[spot]]
name = "south wall"
kind = "shelf"

[[spot]]
name = "shed"
kind = "shed"
room = 6
max_litres = 20
"""
TREES = (
    ("Ember", "Acer palmatum", 4, "top bench"),
    ("Lane", "Carpinus betulus", 6, "top bench"),
    ("Heath", "Pinus sylvestris", 9, "top bench"),
    ("Thorn", "Crataegus monogyna", 12, "top bench"),
    ("Wisp & Co", "Acer palmatum", 2, "south wall"),
    ("Needle", "Juniperus chinensis", 5, "south wall"),
    ("Old Stump", "Acer buergerianum", 20, "shed"),
)
NOTED = (
    Work(tree="Ember", at=EVENING - 20 * DAY, work=WorkKind.REPOT, roots_pct=30),
    Work(tree="Old Stump", at=EVENING - 30 * DAY, work=WorkKind.CHOP),
    Work(tree="Old Stump", at=EVENING - 30 * DAY, work=WorkKind.BAG),
    Sighting(tree="Ember", at=EVENING - 9 * DAY, stage=Stage.LEAFING_OUT),
    Sighting(tree="Wisp & Co", at=EVENING - 9 * DAY, stage=Stage.LEAFING_OUT),
    Sighting(tree="Lane", at=EVENING - 6 * DAY, stage=Stage.LEAFING_OUT),
)


def written(trees: Any = TREES, more: str = "") -> str:
    """The garden's file with these trees (name, species, litres, spot)."""
    tables = (
        f'\n[[tree]]\nname = "{name}"\nspecies = "{species}"\nlitres = {litres}\nspot = "{spot}"\n'
        for name, species, litres, spot in trees
    )
    return GARDEN + "".join(tables) + more + '\n[store]\npath = "underbench.db"\n'


def untried(name: str, limit: str) -> str:
    raise Fault(f"no weather to try {limit} of {name} in")


class PageGarden:
    """A garden that a pass has just looked at; ``now`` may be moved on."""

    def __init__(
        self, folder: Path, provider: Provider, toml: str, now: datetime = EVENING
    ) -> None:
        self.config, self.now, self._provider = folder / "garden.toml", now, provider
        self.config.write_text(toml, encoding="utf-8")
        self._reloading = Reloading(self.config)
        with self.store() as store:
            store.journal.add(
                [one for one in NOTED if one.tree in {t.name for t in self.settings.trees}]
            )
        self.look_ahead()
        self.app: Flask = create_app(self.deps())
        self.app.testing = True

    @property
    def settings(self) -> Settings:
        """Those of the file as it is now."""
        return self._reloading.settings()

    def forget(self) -> None:
        """Let the page know nothing of what it showed, as if it were made anew."""
        fresh = {GLANCES: Glances(), TRIALS: Trials(), "guesses": Guesses()}
        self.app.extensions |= {EXTENSION: self.deps(), **fresh}

    def look_ahead(self) -> None:
        with self.store() as store:
            supply = Supply(self._provider, self.settings.garden, store.answers)
            keep_ahead(store, run_pass(self.settings, store, supply, self.now))

    def store(self) -> Store:
        return Store.open(self.settings.store_path)

    def deps(self) -> Deps:
        return Deps(
            config=self.config,
            settings=self._reloading.settings,
            open_store=self.store,
            kept_weather=lambda of, store: KeptWeather(
                Supply(self._provider, of.garden, store.answers)
            ),
            services=lambda _of: Services(()),
            trial=untried,
            now=lambda: self.now,
        )

    def lock(self) -> None:
        """Set the password, hashed quickly: what makes a guess slow is not tried here."""
        with pytest.MonkeyPatch.context() as patch, self.store() as store:
            patch.setattr(auth, "HASHED", "scrypt:256:8:1")
            auth.set_password(store, PASSWORD, self.now)

    def client(self) -> FlaskClient:
        return self.app.test_client()


@contextmanager
def left_as_found(garden: PageGarden) -> Iterator[PageGarden]:
    """The garden for the block; afterwards its database, file and time are as before, and its page
    has forgotten what it showed, unless nothing was written. A browser may still be asking for
    something, so the database is put back by its own means."""
    text, now, kept = garden.config.read_bytes(), garden.now, sqlite3.connect(":memory:")
    with garden.store() as store:
        before = store.db.conn.serialize()
        store.db.conn.backup(kept)
    yield garden
    garden.now, written_to = now, garden.config.read_bytes() != text
    if written_to:
        garden.config.write_bytes(text)
    with garden.store() as store:
        if store.db.conn.serialize() != before:
            kept.backup(store.db.conn)
            written_to = True
    kept.close()
    if written_to:
        garden.forget()


def token(client: FlaskClient) -> str:
    """The token that this visitor's forms carry, without one of them being shown."""
    with client.session_transaction() as session:
        return str(session.setdefault("csrf", token_hex(8)))


def fields_of(page: str) -> dict[str, str]:
    """What a browser would send of an untouched form that edits."""
    form = page.split('class="editing"')[1]
    found = dict(re.findall(r'<input[^>]*? name="(\w+)"[^>]*? value="([^"]*)"', form))
    chosen = r'<select[^>]*? name="(\w+)"(?:(?!</select>).)*?<option[^>]* selected>([^<]*)<'
    found |= dict(re.findall(chosen, form, re.DOTALL))
    if 'name="shade_cloth" value="yes" checked' not in form:
        found.pop("shade_cloth", None)
    return {name: unescape(value) for name, value in found.items()}


def change(client: FlaskClient, path: str, **typed: str) -> Any:
    return client.post(path, data=fields_of(client.get(path).text) | typed)


def in_file(garden: PageGarden) -> dict[str, Any]:
    return tomllib.loads(garden.config.read_text(encoding="utf-8"))


@contextmanager
def served(app: Flask, table: PageTable = PLAIN) -> Iterator[str]:
    """The page on a port of the loopback; yields its address."""
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    logging.getLogger("waitress").setLevel(logging.CRITICAL)  # of browsers cut off at the end
    server: Server = server_of(app, "127.0.0.1:0", table)
    with running(server):
        yield f"http://127.0.0.1:{server.effective_port}"
