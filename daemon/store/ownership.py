"""Whose garden a database belongs to."""

from __future__ import annotations

from pathlib import Path

from underbench.daemon.store.database import Opened, StoreError, plain_errors


class Owner(Opened):
    """The garden a database belongs to. All methods raise StoreError."""

    def known(self) -> tuple[str, Path] | None:
        """Return the garden's name and its file; None before it was claimed."""
        for row in self._rows("SELECT name, file FROM garden"):
            return row["name"], Path(row["file"])
        return None

    def left_by(self, name: str) -> bool:
        """Return whether it belongs to a garden of that name whose file is gone: it was moved."""
        known = self.known()
        with plain_errors(self.path):
            return known is not None and known[0] == name and not known[1].exists()

    def claim(self, name: str, file: Path) -> None:
        """Take the database for the garden ``name`` of ``file``.

        It is the same garden when its file is the same (it was renamed), or when its name is the
        same and the other file is gone (it was moved). Raises StoreError for another garden.
        """
        known = self.known()
        if known and known[1] != file and not self.left_by(name):
            raise StoreError(
                f"{self.path}: belongs to the garden {known[0]!r} of {known[1]}; "
                "give this garden a path of its own under [store]"
            )
        if known != (name, file):
            self._write(
                "INSERT OR REPLACE INTO garden (id, name, file) VALUES (1, ?, ?)",
                [(name, str(file))],
            )
