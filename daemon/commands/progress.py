"""How far a long command has come: one line on stderr, where that is a terminal."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime

import click

CLEARED = "\r\x1b[K"


class Progress:
    """A line that says which day is reached. `echo` prints above it."""

    def __init__(self) -> None:
        self._shown = ""
        self._seen = sys.stderr.isatty()

    def __call__(self, now: datetime) -> None:
        """Show that ``now`` is reached."""
        line = f"{now.day} {now:%b %Y} …"
        if self._seen and line != self._shown:
            click.echo(f"{CLEARED}{line}", nl=False, err=True)
            self._shown = line

    def echo(self, text: str) -> None:
        """Print on stdout."""
        self.clear()
        click.echo(text)

    def clear(self) -> None:
        """Take the line away."""
        if self._shown:
            click.echo(CLEARED, nl=False, err=True)
            self._shown = ""


@contextmanager
def stopped_by_hand() -> Iterator[Progress]:
    """Show how far the block has come. Ctrl-C ends it with one line; what is printed stays."""
    progress = Progress()
    try:
        yield progress
    except KeyboardInterrupt:
        progress.clear()
        click.echo("Stopped: the rest was not rehearsed.", err=True)
        raise
    finally:
        progress.clear()
