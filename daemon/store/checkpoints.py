"""Where each tree's state is picked up: one checkpoint for each tree and UTC day."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import NamedTuple

from underbench.daemon.store.database import Opened, moment, seconds
from underbench.rules.course.course import DAY_S


class Checkpoint(NamedTuple):
    """A tree's carried state at a moment, and what it was computed with."""

    at: datetime
    stamp: str
    state: str


class Checkpoints(Opened):
    """Carried states in the state database. All methods raise StoreError."""

    def keep(self, at: datetime, blobs: Mapping[str, str], stamp: Mapping[str, str]) -> None:
        """Keep each tree's state (tree → text) and what it was computed with (tree → text).

        There is one for each tree and UTC day; a later one of the same day replaces the earlier.
        """
        when = seconds(at)
        self._write(
            "INSERT OR REPLACE INTO checkpoint (tree, day, at, stamp, state)"
            " VALUES (?, ?, ?, ?, ?)",
            [(tree, when // DAY_S, when, stamp[tree], blob) for tree, blob in blobs.items()],
        )

    def before(self, at: datetime) -> dict[str, Checkpoint]:
        """Return each tree's latest checkpoint at or before ``at``."""
        # With max(), SQLite takes the other columns from the row that holds it
        # (sqlite.org/lang_select.html, "bare columns in an aggregate query").
        rows = self._rows(
            "SELECT tree, max(at) AS at, stamp, state FROM checkpoint WHERE at <= ? GROUP BY tree",
            (seconds(at),),
        )
        return {r["tree"]: Checkpoint(moment(r["at"]), r["stamp"], r["state"]) for r in rows}

    def oldest(self) -> dict[str, Checkpoint]:
        """Return each tree's oldest kept checkpoint."""
        rows = self._rows("SELECT tree, min(at) AS at, stamp, state FROM checkpoint GROUP BY tree")
        return {r["tree"]: Checkpoint(moment(r["at"]), r["stamp"], r["state"]) for r in rows}

    def forget(self, tree: str, after: datetime) -> None:
        """Forget a tree's checkpoints later than ``after``: its past turned out different."""
        self._write("DELETE FROM checkpoint WHERE tree = ? AND at > ?", [(tree, seconds(after))])

    def prune(self, older_than: datetime) -> None:
        """Forget checkpoints from before ``older_than``, but never a tree's latest one."""
        self._write(
            "DELETE FROM checkpoint WHERE at < ? AND at <"
            " (SELECT max(at) FROM checkpoint AS other WHERE other.tree = checkpoint.tree)",
            [(seconds(older_than),)],
        )
