"""The settings as the garden's file has them now; the file is read again when it has changed.

A file that does not load changes nothing: the settings before it stay. What is wrong is said once
for each state of the file.
"""

from __future__ import annotations

from pathlib import Path
from threading import Lock

from underbench.daemon.config.problems import ConfigProblems
from underbench.daemon.config.settings import Settings, load

_Stamp = tuple[int, int, int]


class Reloading:
    """The settings of one garden for as long as a program runs; safe to ask from any thread.

    The database stays the one opened first; only a new start takes up another.
    """

    def __init__(self, path: Path) -> None:
        """Read the file; raises ConfigProblems."""
        self.path, self._lock = path, Lock()
        self._stamp = _stamp(path)
        self._settings = load(path)
        self._problem: str | None = None

    def settings(self) -> Settings:
        """Return the settings as the file has them, or the last good ones."""
        with self._lock:
            stamp = _stamp(self.path)
            if stamp != self._stamp:
                self._stamp = stamp
                self._reload()
            return self._settings

    def problem(self) -> str | None:
        """Return why the file does not load, in lines; None if it loads."""
        self.settings()
        return self._problem

    def _reload(self) -> None:
        try:
            fresh = load(self.path)
        except ConfigProblems as problems:
            self._problem = str(problems)
        else:
            kept = {"store_path": self._settings.store_path}
            self._settings, self._problem = fresh.model_copy(update=kept), None


def _stamp(path: Path) -> _Stamp | None:
    """What tells one state of a file from another; None when there is no file."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino
