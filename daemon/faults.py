"""What goes wrong: what the keeper can mend, and where an error of ours happened."""

from __future__ import annotations

import traceback
from pathlib import Path


class Fault(Exception):
    """A known fault: ``str()`` is one clear line each, without secrets. Commands exit with 2."""


def unforeseen(error: Exception) -> Fault:
    """Return an error of ours as a fault: its kind and place, without its text, which may hold
    secrets."""
    kind = type(error).__name__
    return Fault(f"an error inside ({kind} in {place_of(error)}); please report it")


def place_of(error: BaseException) -> str:
    """Return the innermost place of an error, without its text, which may hold secrets."""
    frames = traceback.extract_tb(error.__traceback__)
    return f"{Path(frames[-1].filename).name}:{frames[-1].lineno}" if frames else "nowhere"
