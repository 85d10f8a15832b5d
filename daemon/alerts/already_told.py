"""What an earlier message covers already, so that nothing more is said of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta

from underbench.daemon.alerts.episodes import told_beside, untold
from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.outlook.plans import TreePlan, last_moves
from underbench.daemon.store.episodes import HANDLED, TOLD_EPISODES, EpisodeRow, Key
from underbench.rules.advice.advice import Advice, stronger
from underbench.rules.advice.deadlines import ALREADY
from underbench.rules.advice.remedy import FULL_SHADE, INDOORS_FOR_SEASON, SHELTER, remedy_of
from underbench.rules.garden.journal import Entry, Work
from underbench.rules.garden.local_time import LONG_AGO
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards import hazard_of
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.hazard import Action, Help

STANDS_FOR = timedelta(hours=12)  # nobody is told one thing and a few hours later another
TWO_WEEKS = timedelta(days=14)


def promised(finding: Finding, own: Iterable[EpisodeRow]) -> bool:
    """Return whether the keeper was told to shade or open a tree until after ``finding`` begins.
    Shade for leaves is shade for the pot too. Cloth that is to stay up stays there, whether its
    keeper has noted it or not. Whoever does the same on each such day does it on the worse ones
    too, and nothing shades more than full shade. ``own``: the tree's episodes."""
    return any(
        row.told_at is not None
        and row.action == finding.action
        and (row.hazard == finding.hazard.key or _shades(row, finding))
        and row.back_told_at is None
        and _holds_at(row, finding.first_at)
        and (_does_for_worse(row) or not untold(finding, row))
        for row in own
    )


def is_in_for_season(own: Iterable[EpisodeRow], now: datetime) -> bool:
    """Return whether a tree was brought indoors for the cold season, into a room that the file does
    not have: so nothing is known of how it fares. ``own``: its episodes."""
    return any(
        row.remedy == INDOORS_FOR_SEASON.key
        and row.told_at is not None
        and row.handled_at is not None
        and row.span_end > now
        for row in own
    )


def done_already(advice: Advice, rows: Iterable[EpisodeRow], outlook: Outlook) -> frozenset[str]:
    """Return the trees of an advice for which the same is done already: their frame is opened on
    each sunny day for others in it, or they were told into full shade till their bag is off, and
    that will do. ``rows``: all episodes."""
    known, begins = list(rows), advice.lead.first_at
    spots = {at.tree.name: at.spot for at in outlook.standing}
    moved, bagged = last_moves(outlook.journal), _bagged(outlook.journal)
    open_there = {
        spots.get(row.tree)
        for row in known
        if row.action == Action.SHADE and _does_for_worse(row) and _is_routine_at(row, begins)
    }
    shaded = {
        row.tree
        for row in known
        if row.action == Action.VENT
        and row.remedy == FULL_SHADE.key
        and row.handled_at is not None
        and row.handled_at >= max(one.get(row.tree, LONG_AGO) for one in (moved, bagged))
    }
    vented = advice.action is Action.VENT
    return frozenset(
        job.tree
        for job in advice.jobs
        if (job.remedy.repeated and job.spot in open_there)
        or (vented and job.remedy is FULL_SHADE and not job.short and job.tree in shaded)
    )


def _bagged(journal: Iterable[Entry]) -> dict[str, datetime]:
    """When a bag was last put over each tree."""
    works = (entry for entry in journal if isinstance(entry, Work))
    return {work.tree: work.at for work in works if work.work is WorkKind.BAG}


def _does_for_worse(row: EpisodeRow) -> bool:
    """Whether what was told is done, and would be told again of worse weather."""
    remedy = remedy_of(row.remedy)
    return row.handled_at is not None and (remedy.repeated or remedy is FULL_SHADE)


def _holds_at(row: EpisodeRow, moment: datetime) -> bool:
    """Whether what was told still holds at ``moment``. Glass is opened on each sunny day of two
    weeks, a tropical brought in on each cool night. What cloth that was noted as up leaves of the
    heat was not told."""
    if _is_routine_at(row, moment):
        return True
    if row.back_at is None:
        return row.handled_at is None and remedy_of(row.remedy).cloth
    return row.back_at > moment


def _is_routine_at(row: EpisodeRow, moment: datetime) -> bool:
    told_at = row.told_at
    return remedy_of(row.remedy).repeated and bool(told_at and moment - told_at < TWO_WEEKS)


def _shades(row: EpisodeRow, finding: Finding) -> bool:
    return hazard_of(row.hazard).help is finding.hazard.help is Help.SHADE


def is_to_tell(
    finding: Finding,
    row: EpisodeRow | None,
    own: Iterable[EpisodeRow],
    plan: TreePlan,
    now: datetime,
) -> bool:
    """Return whether the keeper is to hear of ``finding``, whose tree has a ``plan``.

    The keeper hears that a tree is to be elsewhere. What was told and is not done is told again
    when it threatens to kill or is due hours sooner; it is not changed within hours, or once it is
    too late to be done. That nothing here helps a tree is said once in two months.
    """
    waits = plan.start != plan.here
    told = row is not None and row.told_at is not None
    late = finding.first_at - now <= ALREADY or any(_just_told(one, now) for one in own)
    if not (late and (waits or told)) and plan.moves_for(finding):
        return True
    if waits:
        return told and untold(finding, row)
    return not any(
        row.told_at is not None
        and row.action == finding.action
        and now - row.told_at < TOLD_EPISODES
        and row.told_strength is not None
        and (row.into_spot or row.remedy) in (None, SHELTER.key, plan.here)
        and not stronger(finding.strength, Strength(row.told_strength))
        for row in own
    )


def _just_told(row: EpisodeRow, now: datetime) -> bool:
    """Whether a job was told only hours ago and waits to be done."""
    waits = row.action == Action.PROTECT and row.handled_at is None and row.told_at is not None
    return waits and row.told_at is not None and now - row.told_at < STANDS_FOR


def covered(
    outlook: Outlook, episodes: Mapping[Key, EpisodeRow], plans: Mapping[str, TreePlan]
) -> list[EpisodeRow]:
    """Return, as told, the episodes that what was told and done before covers: the plan leaves the
    tree where it was told to be. So its stay goes on from night to night without a word."""
    last: dict[str, EpisodeRow] = {}
    for row in episodes.values():
        if row.action == Action.PROTECT and row.told_at and row.back_told_at is None:
            before = last.get(row.tree)
            last[row.tree] = row if before is None or _later(row, before) else before
    return [
        replace(
            told_beside(row, outlook.now, told.remedy, told.into_spot),
            state=HANDLED,
            handled_at=told.handled_at or told.told_at,
        )
        for f in (*outlook.findings, *outlook.at_home)
        if (row := episodes[f.key]).told_at is None
        and (plan := plans.get(f.tree)) is not None
        and (told := last.get(f.tree)) is not None
        and (at := told.into_spot or told.remedy)
        and (told.handled_at is not None or at == plan.here)
        and plan.start == at == plan.place_on(f)
    ]


def _later(row: EpisodeRow, other: EpisodeRow) -> bool:
    return row.told_at is not None and other.told_at is not None and row.told_at > other.told_at
