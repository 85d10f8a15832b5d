"""Nights and days that an earlier message covers already, so that nothing more is said of them."""

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

OUTGROWN_K = 2.0  # this much colder than told, the help named then may not suffice; judgement


def promised(outlook: Outlook, finding: Finding, at: TreeAt, own: Iterable[EpisodeRow]) -> bool:
    """Return whether the keeper was told to keep the tree under cover, or in shade, until after
    ``finding`` begins. Then the keeper does not hear it again.

    The tree stands ``at`` a spot and has its ``own`` episodes. Fleece told for leaves does not
    cover roots. If the tree was taken home since, nothing is covered.
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
    """Return the spot by tree, for trees that the keeper was told to carry there and that are not
    there yet. Only hazards still ahead count."""
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
    """Return whether a frost has become much colder than told. The help named then was the least
    that sufficed, and may not suffice now."""
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
