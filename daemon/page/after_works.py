"""What is due after works by the last pass, without what was noted since."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from underbench.rules.garden.journal import Entry, Fate, Outcome, Work
from underbench.rules.garden.works import WorkKind
from underbench.rules.planning.follow_up import FollowUp, closed_by


@dataclass(frozen=True)
class Due:
    """One thing to look at on one tree; ``done_by`` is the work that one tap notes."""

    tree: str
    what: str
    work: str
    since: datetime
    done_by: WorkKind


def due_after_works(ahead: Mapping[str, Any], journal: Sequence[Entry]) -> list[Due]:
    """Return what is still due. ``ahead`` is as the last pass left it."""
    kept = (_due(one) for one in ahead.get("follow_ups", ()))
    return [one for one in kept if not any(_closes(entry, one) for entry in journal)]


def _due(kept: Mapping[str, Any]) -> Due:
    since = datetime.fromisoformat(kept["since"])
    return Due(kept["tree"], kept["what"], kept["work"], since, WorkKind(kept["done_by"]))


def _closes(entry: Entry, due: Due) -> bool:
    if entry.tree != due.tree or entry.at < due.since:
        return False
    if isinstance(entry, Outcome):
        return entry.fate is Fate.LOST
    return isinstance(entry, Work) and entry.work in closed_by(FollowUp(due.what), due.done_by)
