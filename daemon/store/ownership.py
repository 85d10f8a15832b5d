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

    def claim(self, name: str, file: Path) -> None:
        """Take the database for the garden ``name`` of ``file``.

        It is the same garden when its file is the same (it was renamed), or when its name is the
        same and the other file is gone (it was moved). Raises StoreError for another garden.
        """
        known = self.known()
        if known and not _is_same(*known, name, file):
            raise StoreError(
                f"{self.path}: belongs to the garden {known[0]!r} of {known[1]}; "
                "give this garden a path of its own under [store]"
            )
        if known != (name, file):
            self._write(
                "INSERT OR REPLACE INTO garden (id, name, file) VALUES (1, ?, ?)",
                [(name, str(file))],
            )


def _is_same(known: str, known_file: Path, name: str, file: Path) -> bool:
    if known_file == file:
        return True
    with plain_errors(known_file):
        return known == name and not known_file.exists()
