"""The daemon's memory: one SQLite file. Every failure is a ``StoreError`` of one plain line.

A ``Store`` belongs to the thread that opened it; another thread opens its own. Moments go in with a
timezone, are kept as whole UTC seconds, and come back in UTC.
"""

from __future__ import annotations

from pathlib import Path
from types import TracebackType
from typing import Self

from sqlite_utils import Database

from underbench.daemon.store.checkpoints import Checkpoint, Checkpoints
from underbench.daemon.store.database import (
    Opened,
    StoreError,
    copy_in_memory,
    open_database,
    plain_errors,
)
from underbench.daemon.store.duties import Duties, Pages
from underbench.daemon.store.episodes import Episodes
from underbench.daemon.store.guests import Guests
from underbench.daemon.store.hours import Hours
from underbench.daemon.store.journal import Journal
from underbench.daemon.store.kept_answers import Answers
from underbench.daemon.store.learning import Learning
from underbench.daemon.store.message_queue import Message, Messages
from underbench.daemon.store.ownership import Owner
from underbench.daemon.store.readings import Readings
from underbench.daemon.store.renaming import Names
from underbench.daemon.store.undo_log import Notes
from underbench.rules.garden.inventory import Garden

__all__ = ["Checkpoint", "Message", "Store", "StoreError"]

_OF_A_PLACE = (
    "hour",
    "past_day",
    "checkpoint",
    "forecast",
    "source",
    "ensemble",
    "night_forecast",
    "learned",
)


def weather_place(garden: Garden) -> str:
    """Return the place of a garden's weather, in words for the database."""
    return f"{garden.latitude:.4f} {garden.longitude:.4f} {garden.elevation_m:.0f} m"


class Store(Opened):
    """The state database. Open it with ``Store.open``; use it as a context manager.

    Each part is an attribute: ``store.journal.add(…)``. A transaction of the store includes
    whatever its parts write in it. ``db`` is the connection underneath, for backups and tests. All
    methods raise StoreError.
    """

    def __init__(self, path: Path, db: Database) -> None:
        super().__init__(path, db)
        self._file = _file_at(path)
        self.journal = Journal(path, db)
        self.notes = Notes(path, db)
        self.hours = Hours(path, db)
        self.checkpoints = Checkpoints(path, db)
        self.answers = Answers(path, db)
        self.episodes = Episodes(path, db)
        self.messages = Messages(path, db)
        self.readings = Readings(path, db)
        self.learning = Learning(path, db)
        self.guests = Guests(path, db)
        self.duties = Duties(path, db)
        self.pages = Pages(path, db)
        self.names = Names(path, db)
        self.owner = Owner(path, db)

    @classmethod
    def open(cls, path: Path) -> Store:
        """Open the database at ``path``; make it (file 0600, its folder 0700) if there is none.

        Brings an older database up to date. Raises StoreError also for a newer one.
        """
        return cls(path, open_database(path))

    @classmethod
    def copy(cls, path: Path) -> Store:
        """Open a copy of the database at ``path`` in memory: what is kept there is kept nowhere.

        Raises StoreError.
        """
        return cls(path, copy_in_memory(path))

    @classmethod
    def blank(cls) -> Store:
        """Open an empty database in memory. Raises StoreError."""
        path = Path(":memory:")  # no file: it is what an error names
        return cls(path, copy_in_memory(path))

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the database; what was not committed is gone."""
        self.db.close()

    def settle(self, place: str) -> None:
        """Take ``place`` for the place of the weather. If it was another before, its hours,
        checkpoints, forecasts and corrections are forgotten; the journal stays."""
        kept = self.place()
        if kept == place:
            return
        with self.transaction(), plain_errors(self.path):
            if kept is not None:
                for table in _OF_A_PLACE:
                    self.db.execute(f"DELETE FROM {table}")
            self.db.execute("INSERT OR REPLACE INTO place (id, words) VALUES (1, ?)", [place])

    def is_gone(self) -> bool:
        """Return whether the file it opened is no longer in its place: what is written is lost."""
        return _file_at(self.path) != self._file

    def place(self) -> str | None:
        """Return the place of the weather; None before there was any."""
        return next((row["words"] for row in self._rows("SELECT words FROM place")), None)


def _file_at(path: Path) -> tuple[int, int] | None:
    """Which file is there; None for none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino
