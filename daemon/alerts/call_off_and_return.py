"""What follows a told job: it is called off, trees go back, the keeper says how they fared."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, time, timedelta
from itertools import groupby

from underbench.daemon.alerts.message_kinds import Asking, Back, Placed, StandDown
from underbench.daemon.outlook.outlook import Outlook, keeps_away
from underbench.daemon.outlook.plans import ANSWERED_BY, TreePlan
from underbench.daemon.store.episodes import EASED, OVER, EpisodeRow, Key, key_of
from underbench.rules.advice.advice import RUN_GAP
from underbench.rules.garden.inventory import Garden
from underbench.rules.garden.journal import Move, Outcome, TreeAt
from underbench.rules.garden.local_time import (
    A_MINUTE,
    Stretch,
    hands_on_between,
    local_day,
    local_moment,
    quiet_until,
)
from underbench.rules.hazards import hazard_of
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.hazard import Action, Help
from underbench.rules.planning.plan import is_warm
from underbench.rules.weather.sun import sunrise_sunset

OUT_FOR = timedelta(days=2)  # not worth carrying for less
CALLED_OFF = (Action.PROTECT, Action.SHADE, Action.VENT)
ASKED_AGAIN = timedelta(days=7)
SHOWS_AFTER = timedelta(hours=24)  # frosted or scorched leaves show by the next day
AN_HOUR, A_DAY, TWO_WEEKS = timedelta(hours=1), timedelta(days=1), timedelta(days=14)
SOONEST_BACK = timedelta(days=3)  # so long a leaf bears the dark

Episodes = Mapping[Key, EpisodeRow]


def stand_downs(
    outlook: Outlook, episodes: Episodes, plans: Mapping[str, TreePlan]
) -> list[tuple[StandDown, list[EpisodeRow]]]:
    """Return the jobs told, not begun and no longer needed, one for each action, with its episodes.

    A job past its deadline is not called off: it is done by then, and the return was told. Nothing
    is called off in quiet hours, while another night of the run still asks for the same, or while
    the plan moves the tree by the night after it.
    """
    if _quiet(outlook):
        return []
    spots = {at.tree.name: at for at in outlook.standing}
    off = [
        row
        for row in episodes.values()
        if row.tree in spots
        and _off(row, outlook.now)
        and spots[row.tree].at_home  # other trees go back
        and not _still_asked(row, outlook, episodes)
        and (row.tree not in plans or not plans[row.tree].moves_by(row.span_end + RUN_GAP))
    ]
    off.sort(key=lambda row: (row.action, row.from_at, row.tree))
    return [
        (_stand_down(list(rows), spots), rows)
        for rows in (list(group) for _, group in groupby(off, key=lambda row: row.action))
    ]


def _off(row: EpisodeRow, now: datetime) -> bool:
    waits = row.state == EASED and row.told_at is not None and row.handled_at is None
    waits = waits and row.action in CALLED_OFF
    return waits and row.told_do_by is not None and now < min(row.told_do_by, row.from_at)


def _still_asked(row: EpisodeRow, outlook: Outlook, episodes: Episodes) -> bool:
    others = (
        other
        for other in episodes.values()
        if other.tree == row.tree and other.action == row.action and key_of(other) != key_of(row)
    )
    return any(
        other.state not in (EASED, OVER)
        and (other.told_at is not None or other.strength != Strength.NOTICE)
        and other.span_start <= row.span_end + RUN_GAP
        and other.span_end >= row.span_start - RUN_GAP
        and other.until_at > outlook.now
        for other in others
    )


def _stand_down(rows: Sequence[EpisodeRow], standing: Mapping[str, TreeAt]) -> StandDown:
    return StandDown(
        action=Action(rows[0].action),
        hazard=hazard_of(rows[0].hazard),
        trees=tuple(_placed(standing[tree]) for tree in dict.fromkeys(row.tree for row in rows)),
        first_at=rows[0].from_at,
    )


def _placed(at: TreeAt) -> Placed:
    return Placed(at.tree.name, at.spot, at.tree.spot, at.layers > 0, at.on_ground)


def going_back(
    outlook: Outlook, episodes: Episodes, plans: Mapping[str, TreePlan]
) -> tuple[Back, list[EpisodeRow], list[EpisodeRow]] | None:
    """Return the trees that were carried as told and are to go home, the episodes told of them, and
    the episodes that the keeper is asked about in the same message. None if there are no such
    trees, or if nobody is there now in daylight.

    Only trees recorded as moved or covered go back, those of one day together, in its first hours,
    so that they have the day before them; what is in leaf in the dark goes in any. Trees wait for
    company: they are sent once in two weeks, or twice a week if some suffer where they are.
    """
    hours = _hours_by_day(outlook)
    if not any(one.start <= outlook.now < one.end for one in hours):
        return None
    away = [
        (at, rows)
        for at in outlook.standing
        if not at.at_home and not at.lost and (rows := _went_for(at, outlook, episodes))
    ]
    late = outlook.now >= hours[0].end
    if _wait([at for at, _ in away], outlook, episodes, late):  # the plans take long: none is asked
        return None
    found = [(at, rows) for at, rows in away if _goes(at, rows, outlook, plans)]
    if not found or _wait([at for at, _ in found], outlook, episodes, late):
        return None
    going = {at.tree.name for at, _ in found}
    asked = [row for row in episodes.values() if row.tree in going and _to_ask(row, outlook)]
    asked += _at_home_to_ask(outlook, episodes)
    kept_in = [row for row in episodes.values() if row.tree in going and row.told_at]
    return _back(outlook, found, asked), kept_in, asked


def _wait(some: Sequence[TreeAt], outlook: Outlook, episodes: Episodes, late: bool) -> bool:
    """Whether none of some trees may go yet. ``late``: the day's first hours are over."""
    apart = SOONEST_BACK if any(_suffers(outlook, at) for at in some) else TWO_WEEKS
    if sent_within(apart, outlook.now, outlook.settings.garden, episodes.values()):
        return True
    return late and not any(_in_the_dark(outlook, at) for at in some)


def _hours_by_day(outlook: Outlook) -> list[Stretch]:
    """Today's hours in which somebody is there and it is light, as long as they are on: hours that
    begin before sunrise count from their beginning."""
    garden = outlook.settings.garden
    sunrise, sunset = sunrise_sunset(outlook.today, garden.latitude, garden.longitude)
    day = local_moment(outlook.today, time(), garden.timezone)
    ends = sunset or day + A_DAY
    hours = hands_on_between(outlook.settings.hands_on, day, ends, garden.timezone)
    light = [one for one in hours if one.end > (sunrise or day)]
    # A pass comes once an hour, so shorter hours could go by without one.
    return [Stretch(one.start, max(one.end, one.start + AN_HOUR)) for one in light]


def _in_the_dark(outlook: Outlook, at: TreeAt) -> bool:
    """Whether a tree in leaf stands in the dark."""
    leafy = outlook.stage(outlook.standing.index(at)).in_leaf
    return leafy and outlook.settings.spots[at.spot].is_dark


def _suffers(outlook: Outlook, at: TreeAt) -> bool:
    """Whether a tree is the worse for each day that it stays: in leaf in the dark or under fleece,
    at rest in a warm room."""
    if outlook.stage(outlook.standing.index(at)).in_leaf:
        return at.layers > 0 or outlook.settings.spots[at.spot].is_dark
    return is_warm(outlook.settings.spots[at.spot])


def sent_within(
    span: timedelta, now: datetime, garden: Garden, episodes: Iterable[EpisodeRow]
) -> bool:
    """Return whether trees were sent back in the local days of ``span`` up to today."""
    zone = garden.timezone
    back = (row.back_told_at for row in episodes)
    return any(at is not None and local_day(now, zone) - local_day(at, zone) < span for at in back)


def _goes(
    at: TreeAt, rows: Sequence[EpisodeRow], outlook: Outlook, plans: Mapping[str, TreePlan]
) -> bool:
    """Whether a tree goes home: its plan has it there for good, tied down where it can be, and no
    cold threatens it there, nor any wind within a day. A tropical, which has no plan, goes when the
    cold it went for is past and none is near."""
    plan = plans.get(at.tree.name)
    threats = [f for f in _at_home(at, outlook) if f.strength is not Strength.NOTICE]
    if plan is not None:
        return plan.goes_home and all(_is_tied_in_time(f, at, outlook.now) for f in threats)
    near = any(finding.first_at <= outlook.now + OUT_FOR for finding in threats)
    return not near and all(_passed(row, outlook.now) for row in rows)


def _is_tied_in_time(threat: Finding, at: TreeAt, now: datetime) -> bool:
    """Whether a threat is wind against which a tree from elsewhere is tied down once it is home."""
    away = at.spot != at.tree.spot
    return away and threat.hazard.help is Help.WINDBREAK and threat.first_at > now + A_DAY


def _went_for(at: TreeAt, outlook: Outlook, episodes: Episodes) -> list[EpisodeRow]:
    """The told episodes for which a tree was carried to where it is, or left there since.

    There are none if the keeper took the tree in without being asked (for the winter, say), or was
    told to take it back.
    """
    moves = [e for e in outlook.journal if isinstance(e, Move) and e.tree == at.tree.name]
    if not moves:
        return []
    went = max(move.at for move in moves)
    told = [
        (row.told_at, row)
        for row in episodes.values()
        if row.tree == at.tree.name
        and row.action == Action.PROTECT
        and row.told_at is not None
        and row.back_told_at is None
        and went - A_DAY <= row.span_end
    ]
    asked = any(told_at <= went + ANSWERED_BY for told_at, _ in told)
    return [row for _, row in told] if asked else []


def _passed(row: EpisodeRow, now: datetime) -> bool:
    # A tree in for the season stays in through a warm week of autumn.
    if hazard_of(row.hazard).is_seasonal:
        return row.state in (EASED, OVER) and now - row.span_start > (row.span_end - now)
    return row.state in (EASED, OVER)


def _at_home(at: TreeAt, outlook: Outlook) -> Iterable[Finding]:
    """The cold and wind that threaten a tree where it belongs."""
    both = (*outlook.findings, *outlook.at_home)
    return (f for f in both if f.tree == at.tree.name and keeps_away(f, at))


def _back(
    outlook: Outlook,
    found: Sequence[tuple[TreeAt, list[EpisodeRow]]],
    asked: Sequence[EpisodeRow],
) -> Back:
    coming = [
        (finding, _is_tied_in_time(finding, at, outlook.now))
        for at, _ in found
        for finding in _at_home(at, outlook)
        if finding.strength is not Strength.NOTICE
    ]
    index = {at.tree.name: row for row, at in enumerate(outlook.standing)}
    return Back(
        trees=tuple(_placed(at) for at, _ in found),
        quiet_until=min([outlook.reaches, *(one.first_at for one, tied in coming if not tied)]),
        shade_first=frozenset(
            at.tree.name
            for at, _ in found
            if at.there_since is not None
            and outlook.now - at.there_since > A_DAY
            and outlook.stage(index[at.tree.name]).in_leaf
        ),
        asked=tuple(dict.fromkeys(row.tree for row in asked)),
        tie=tuple(dict.fromkeys(one.tree for one, tied in coming if tied)),
    )


def tied_down_for(back: Back, outlook: Outlook) -> list[Finding]:
    """Return the wind ahead for which trees are tied down as they go back."""
    both = (*outlook.findings, *outlook.at_home)
    return [f for f in both if f.tree in back.tie and f.hazard.help is Help.WINDBREAK]


def asking(
    outlook: Outlook, episodes: Episodes, *, at_any_hour: bool = False
) -> tuple[Asking, list[EpisodeRow]] | None:
    """Return the trees whose keeper is to be asked how they came through, with the episodes. None
    if there are no such trees, or while nobody is there (unless ``at_any_hour``).

    The keeper is asked once after a danger, when damage shows, about all trees together. About
    trees under cover the keeper is asked when they go back.
    """
    settings, now = outlook.settings, outlook.now
    zone = settings.garden.timezone
    there = hands_on_between(settings.hands_on, now, now + A_MINUTE, zone)
    if not (there or at_any_hour):
        return None
    rows = _at_home_to_ask(outlook, episodes)
    away = {
        at.tree.name
        for at in outlook.standing
        if not at.at_home and _went_for(at, outlook, episodes)
    }
    if any(row.tree in away and _to_ask(row, outlook) for row in episodes.values()):
        return None
    if any(row.asked_at and now - row.asked_at < ASKED_AGAIN for row in episodes.values()):
        return None
    if not rows:
        return None
    worst = max(rows, key=lambda row: row.chance)
    night = local_day(max(row.span_start for row in rows), zone)
    return Asking(
        hazard_of(worst.hazard), tuple(dict.fromkeys(row.tree for row in rows)), night
    ), rows


def _at_home_to_ask(outlook: Outlook, episodes: Episodes) -> list[EpisodeRow]:
    home = {at.tree.name for at in outlook.standing if at.at_home}
    return [
        row
        for row in episodes.values()
        if row.tree in home and outlook.now >= row.until_at + SHOWS_AFTER and _to_ask(row, outlook)
    ]


def _to_ask(row: EpisodeRow, outlook: Outlook) -> bool:
    """Whether a told danger is over and the keeper has not said how the tree fared. Of chill, which
    takes weeks, a tropical is taken in before it shows."""
    if row.told_strength != Strength.DANGER or row.asked_at or row.state != OVER:
        return False
    if hazard_of(row.hazard).is_seasonal:
        return False
    night = local_day(row.span_start, outlook.settings.garden.timezone)
    return not any(
        isinstance(entry, Outcome) and entry.tree == row.tree and entry.night >= night
        for entry in outlook.journal
    )


def _quiet(outlook: Outlook) -> bool:
    settings = outlook.settings
    zone = settings.garden.timezone
    return quiet_until(settings.hands_on, outlook.now, zone) is not None
