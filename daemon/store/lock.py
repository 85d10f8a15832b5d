"""One daemon for each garden: a lock that ends with the program, however it ends."""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from underbench.daemon.faults import Fault
from underbench.daemon.store.database import plain_errors


class WatchedAlready(Fault):
    """Another daemon watches this garden."""


@contextmanager
def watching_alone(database: Path) -> Iterator[None]:
    """Hold the lock file beside ``database`` for the block; make it (0600) if there is none.

    Raises WatchedAlready when another program holds it, StoreError when it cannot be made.
    """
    path = database.resolve()
    path = path.with_name(f"{path.name}.lock")
    with plain_errors(path):
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        held = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        with plain_errors(path):
            # The system releases the lock when the program dies, even by kill -9. The file stays,
            # because a file deleted and made anew could be locked twice.
            taken = _taken(held)
        if not taken:
            raise WatchedAlready(
                f"another Underbench is already watching this garden (database {database})"
            )
        yield
    finally:
        os.close(held)


def _taken(file: int) -> bool:
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True
