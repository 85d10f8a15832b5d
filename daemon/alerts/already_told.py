"""What a keeper was told already covers: nights and days of which nothing more is said."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime

from underbench.daemon.alerts.episodes import untold
from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.store.episodes import EASED, OVER, EpisodeRow, Key
from underbench.rules.garden.journal import Move, TreeAt
from underbench.rules.hazards import hazard_of
from underbench.rules.hazards.findings import Finding
from underbench.rules.hazards.hazard import Hazard, Help
from underbench.rules.limits.limit import MeasuredOn

OUTGROWN_K = 2.0  # colder than told by this, what was just enough then may not be now; judgement


def promised(outlook: Outlook, finding: Finding, at: TreeAt, own: Iterable[EpisodeRow]) -> bool:
    """Return whether the tree, which stands ``at`` and has its ``own`` episodes, was told to be
    under cover, or in shade, until later than ``finding``: then its keeper does not hear it again.

    Fleece told for leaves is no promise for roots; a tree taken home since has none.
    """
    told = [row for row in own if row.told_at is not None and row.action == finding.action]
    if not told:
        return False
    inside, home_at = at.spot != at.tree.spot, _taken_home(outlook, finding.tree, at.tree.spot)
    return any(
        row.told_at is not None
        and _alike(hazard_of(row.hazard), finding.hazard, inside)
        and (home_at is None or home_at < row.told_at)
        and row.back_told_at is None
        and row.back_at is not None
        and row.back_at > finding.first_at
        and not untold(finding, row)
        and not outgrown(finding, row)
        for row in told
    )


def awaited(outlook: Outlook, episodes: Mapping[Key, EpisodeRow]) -> dict[str, str]:
    """Return the spot each tree was told to be carried to for what is still ahead, and is not in
    yet."""
    spots = {at.tree.name: at.spot for at in outlook.standing if not at.lost}
    return {
        row.tree: row.into_spot
        for row in episodes.values()
        if row.into_spot is not None
        and row.told_at is not None
        and row.back_told_at is None
        and row.state not in (EASED, OVER)
        and spots.get(row.tree, row.into_spot) != row.into_spot
    }


def outgrown(finding: Finding, row: EpisodeRow | None) -> bool:
    """Return whether a frost has become so much colder than it was told that the help named then,
    the least that was enough, may not be."""
    if row is None or row.told_worst is None or not finding.hazard.is_frost:
        return False
    return finding.worst <= row.told_worst - OUTGROWN_K


def _alike(told: Hazard, hazard: Hazard, inside: bool) -> bool:
    """Whether what was told for one hazard helps against another."""
    if told is hazard or told.help is not hazard.help:
        return told is hazard
    roots = MeasuredOn.SHELL in (told.measured_on, hazard.measured_on)
    return hazard.help is Help.SHADE or (hazard.is_frost and (inside or not roots))


def _taken_home(outlook: Outlook, tree: str, home: str) -> datetime | None:
    moves = (e for e in outlook.journal if isinstance(e, Move) and e.tree == tree)
    return max((move.at for move in moves if move.spot == home), default=None)
