"""When each duty of the clock was last done, and texts kept for the page."""

from __future__ import annotations

from datetime import datetime, timedelta
from secrets import token_hex

from underbench.daemon.store.database import Opened, moment, seconds

KEYS_KEPT = timedelta(days=14)  # of forms that must not count twice
LAST_PASS, LAST_TRY = "pass", "pass tried"  # the names of the clock's own duties


class Duties(Opened):
    """When each duty was last done. All methods raise StoreError."""

    def last_done(self, name: str) -> datetime | None:
        """Return when a duty was last done; None for never."""
        for row in self._rows("SELECT done_at FROM duty WHERE name = ?", (name,)):
            return moment(row["done_at"])
        return None

    def done(self, name: str, at: datetime) -> None:
        """Note that a duty was done."""
        self._write(
            "INSERT OR REPLACE INTO duty (name, done_at) VALUES (?, ?)", [(name, seconds(at))]
        )

    def not_done(self, name: str, at: datetime) -> None:
        """Take back that a duty was done at that moment; one done again since stays done."""
        self._write("DELETE FROM duty WHERE name = ? AND done_at = ?", [(name, seconds(at))])


class Pages(Opened):
    """Texts that a pass leaves for the page. All methods raise StoreError."""

    def kept(self, name: str) -> tuple[str, datetime] | None:
        """Return what the page keeps under ``name``, and since when; None if nothing."""
        for row in self._rows("SELECT text, at FROM page WHERE name = ?", (name,)):
            return row["text"], moment(row["at"])
        return None

    def secret(self, name: str, now: datetime) -> str:
        """Return the key kept under ``name``, made by chance when it is first asked for."""
        if (found := self.kept(name)) is not None:
            return found[0]
        self._write(
            "INSERT OR IGNORE INTO page (name, text, at) VALUES (?, ?, ?)",
            [(name, token_hex(32), seconds(now))],
        )
        return self.secret(name, now)  # another process may have been quicker

    def once(self, key: str, now: datetime) -> bool:
        """Return whether what has this ``key`` is new, and keep the key for a while."""
        name = f"once {key}"
        if self.kept(name) is not None:
            return False
        self._write(
            "DELETE FROM page WHERE name LIKE 'once %' AND at < ?", [(seconds(now - KEYS_KEPT),)]
        )
        self.keep(name, "", now)
        return True

    def keep(self, name: str, text: str, at: datetime) -> None:
        """Keep a text for the page; it replaces the one before."""
        self._write(
            "INSERT OR REPLACE INTO page (name, text, at) VALUES (?, ?, ?)",
            [(name, text, seconds(at))],
        )
