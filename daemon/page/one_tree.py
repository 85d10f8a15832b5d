"""One tree at this moment: the same look ahead as a pass, for one tree alone.

A pass over a whole garden takes seconds and comes each hour, but a note of a moment ago must show
at once. So the page looks at one tree anew, with the kept forecast, on a copy of the database.
Nothing is written, and nothing has to wait.
"""

from __future__ import annotations

import sqlite3
from collections import OrderedDict
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from threading import Lock

from flask import current_app
from sqlite_utils import Database

from underbench.daemon.charts.hours_of_a_tree import Feeling
from underbench.daemon.charts.svg import Level, draw
from underbench.daemon.charts.tree_chart import feels_chart
from underbench.daemon.config.settings import Settings
from underbench.daemon.outlook.outlook import Outlook, fetch, look
from underbench.daemon.outlook.plans import TreePlan, plans_of, stays_of
from underbench.daemon.outlook.stages import stage_words
from underbench.daemon.page.context import deps, now, settings, store
from underbench.daemon.store.database import plain_errors
from underbench.daemon.store.episodes import EpisodeRow
from underbench.daemon.store.store import Store
from underbench.daemon.views.feels import LimitRow, limit_rows
from underbench.daemon.views.plan_table import table_rows
from underbench.daemon.views.why import Explainer

MOST_KEPT = 32
CHART_WIDTH = 720  # units across; words are 28 units high, 14 pixels on a phone
EXTENSION = "glances"


@dataclass(frozen=True)
class Glance:
    """One tree of an outlook. Each part is worked out on first use."""

    outlook: Outlook
    row: int
    episodes: tuple[EpisodeRow, ...]
    of: Settings  # kept, so that no other settings get the same id
    plan: TreePlan | None

    @cached_property
    def feeling(self) -> Feeling:
        """What the tree feels."""
        return Feeling(self.outlook, self.row)

    @cached_property
    def explainer(self) -> Explainer:
        """Why a message about the tree was sent or not."""
        return Explainer(self.feeling, self.episodes, self.plan)

    @cached_property
    def stage(self) -> str:
        """The tree's stage in words."""
        return stage_words(self.outlook, self.row)

    @cached_property
    def limits(self) -> list[LimitRow]:
        """What the tree can bear today."""
        return list(limit_rows(self.feeling))

    @cached_property
    def chart(self) -> str:
        """The next two days as SVG."""
        drawn = feels_chart(self.feeling)
        panels = [
            replace(panel, levels=[_named(one) for one in panel.levels]) for panel in drawn.panels
        ]
        return draw(replace(drawn, width=CHART_WIDTH, notes=(), panels=panels))

    @cached_property
    def decision(self) -> list[str]:
        """What was decided, and how near the other decision is."""
        return self.explainer.decision()

    @property
    def deed(self) -> list[str]:
        """What to do, and by when."""
        return self.explainer.deed()

    @cached_property
    def planned(self) -> tuple[list[str], list[tuple[str, list[str]]]] | None:
        """The nights of the plan, and a row for each place; None without a plan."""
        if self.plan is None:
            return None
        zone = self.feeling.zone
        nights = [f"{night.start.astimezone(zone):%a}" for night in self.plan.of.nights]
        return [*nights, "later", "in all"], list(table_rows(self.plan))

    @cached_property
    def turns(self) -> tuple[str, list[list[str]]] | None:
        """What would turn the decision; None if no limit applies."""
        return self.explainer.turns() if self.explainer.pressing else None


def _named(level: Level) -> Level:
    """A limit as a narrow chart has room for: words so short that two close limits stand side by
    side. The thick line where death begins has its number."""
    if not level.kills:
        return replace(level, label=level.label.removeprefix("harms "))
    number = next(word for word in reversed(level.label.split()) if any(map(str.isdigit, word)))
    return replace(level, label=f"kills {number}")


class Glances:
    """The last trees looked at. One is worked out at a time, so that one core stays free."""

    def __init__(self) -> None:
        self._kept: OrderedDict[tuple[object, ...], Glance] = OrderedDict()
        self._lock = Lock()

    def of(self, tree: str | None) -> Glance:
        """Return a glance at a tree (None: at all of them); an earlier one if nothing has happened
        since.

        Raises SupplyError without a kept forecast, NoPast, StoreError, and KeyError for an unknown
        tree.
        """
        hour = now().replace(minute=0, second=0, microsecond=0)
        key = (tree, hour, id(deps().settings()), *_happened(store()))
        with self._lock:
            found = self._kept.get(key)
            if found is None:
                found = self._kept[key] = _look_at(tree, settings(), store(), now())
            self._kept.move_to_end(key)
            while len(self._kept) > MOST_KEPT:
                self._kept.popitem(last=False)
        return found


def glance_at(tree: str) -> Glance:
    """Return a tree as it is now; see `Glances.of`."""
    glances: Glances = current_app.extensions[EXTENSION]
    return glances.of(tree)


def whole_garden() -> Outlook:
    """Return the outlook of all trees as they are now; see `Glances.of`."""
    glances: Glances = current_app.extensions[EXTENSION]
    return glances.of(None).outlook


def _happened(kept: Store) -> tuple[object, ...]:
    """Values that change with every note and every pass."""
    (row,) = kept.db.query(
        "SELECT (SELECT max(id) FROM journal) AS noted,"
        " (SELECT count(*) FROM journal WHERE undone_at IS NULL) AS standing,"
        " (SELECT count(*) FROM episode WHERE handled_at IS NOT NULL) AS handled,"
        " (SELECT max(updated) FROM episode) AS judged,"
        " (SELECT fetched_at FROM forecast) AS forecast"
    )
    return tuple(row.values())


def _look_at(tree: str | None, whole: Settings, kept: Store, at: datetime) -> Glance:
    mine = tuple(one for one in whole.trees if tree in (None, one.name))
    if not mine:
        raise KeyError(tree)
    meant = whole.model_copy(update={"trees": mine})
    with _copy(kept) as copy:
        supplied = fetch(meant, copy, deps().kept_weather(meant, copy), at)
        outlook = look(meant, copy, supplied, at)
        episodes = tuple(copy.episodes.lately(at))
        stays = stays_of(outlook, copy)
        plan = plans_of(outlook, copy, episodes, stays).get(tree) if tree else None
    row = [one.name for one in outlook.settings.trees].index(tree) if tree else 0
    return Glance(outlook, row, episodes, deps().settings(), plan)


def _copy(kept: Store) -> Store:
    """A copy of the database in memory, to look at and throw away."""
    with plain_errors(kept.path):
        copy = sqlite3.connect(":memory:")
        kept.db.conn.backup(copy)
    return Store(kept.path, Database(copy, execute_plugins=False))
