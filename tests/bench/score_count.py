"""What a year of messages came to, and what a careful grower's habit would have done beside it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from itertools import zip_longest
from zoneinfo import ZoneInfo

from score_truth import DOWN_K, FLEECE_K, WARMER_K, Harmed, Night, Truth

from underbench.daemon.alerts.message_kinds import Kind
from underbench.daemon.rehearsal.replay import Heard
from underbench.rules.advice.advice import Advice, Job
from underbench.rules.garden.inventory import ContainerKind, SpotKind
from underbench.rules.garden.journal import Entry, Move
from underbench.rules.garden.local_time import (
    NOON,
    Stretch,
    hands_on_between,
    local_day,
    local_moment,
)
from underbench.rules.hazards.hazard import Action, Hazard
from underbench.rules.physics.cover import CoverKind
from underbench.rules.weather.hourly import Weather

DAY = timedelta(days=1)
NEXT_NIGHT = timedelta(hours=25)
SOON_AGAIN = timedelta(days=2)
EVENING = time(17)
# The careful grower: pots up to so many litres go into quarters before the first night forecast
# below that after 1 November, and out on 20 March; what is in leaf is carried below the other.
QUARTERS_LITRES, QUARTERS_C, QUARTERS_FROM, OUT_AGAIN = 12.0, -2.0, (11, 1), (3, 20)
CARRIED_BELOW_C = 2.0
FLEECES = {CoverKind.FLEECE_1: FLEECE_K, CoverKind.FLEECE_2: 2 * FLEECE_K}


@dataclass(frozen=True, slots=True)
class Stay:
    """A stretch in which a tree is helped: what that is worth, and whether out of the wind."""

    tree: str
    first: datetime
    last: datetime
    warmer_k: float
    sheltered: bool
    carried: bool

    def over(self, moment: datetime) -> bool:
        """Whether the tree is helped at a moment."""
        return self.first <= moment < self.last


@dataclass
class Score:
    """One way to go about it, by what a grower would count; nights are a tree and a night each."""

    name: str
    carries: int = 0
    needless: int = 0
    missed: dict[Night, Harmed] = field(default_factory=dict)
    under_cover: dict[Night, Harmed] = field(default_factory=dict)
    hopeless: dict[Night, Harmed] = field(default_factory=dict)
    saved: dict[Night, Harmed] = field(default_factory=dict)


def is_named(one: Heard, tree: str) -> bool:
    """Return whether a message names a tree, or asks for all of a bench on which it stands. That
    the text holds what its composer says it names, ``tests/daemon/alerts/test_ten_worst.py``
    checks."""
    return tree in one.told.trees


def kind_of(one: Heard) -> str:
    """Return what a message is about: the action of an advice, or what is said beside advice."""
    return one.advice.action if one.advice is not None else Kind(one.told.message.kind)


def by_week(heard: Sequence[Heard], zone: str) -> Counter[tuple[int, int]]:
    """Return the messages of each calendar week, (year, week)."""
    weeks = (one.at.astimezone(ZoneInfo(zone)).isocalendar()[:2] for one in heard)
    return Counter((year, week) for year, week in weeks)


def told_jobs(heard: Sequence[Heard], wanted: Action) -> Iterator[tuple[Heard, Advice, Job]]:
    """Yield each tree that an advice on ``wanted`` names."""
    for one in heard:
        if one.advice is not None and one.advice.action is wanted:
            for job in one.advice.jobs:
                if is_named(one, job.tree):
                    yield one, one.advice, job


def moved(entries: Sequence[Entry], truth: Truth, ends: datetime) -> list[Stay]:
    """Return the stretches that trees stood away from home or covered, by the journal."""
    found = []
    for tree in truth.settings.trees:
        moves = [entry for entry in entries if isinstance(entry, Move) and entry.tree == tree.name]
        moves.sort(key=lambda move: move.at)
        for move, after in zip_longest(moves, moves[1:]):
            away = move.spot != tree.spot
            if away or move.covers:
                worth = WARMER_K.get(truth.settings.spots[move.spot].kind, 0.0) * away
                worth += FLEECE_K * move.layers + DOWN_K * move.on_ground
                last, carried = after.at if after else ends, away or move.on_ground
                found.append(
                    Stay(tree.name, move.at, last, worth, sheltered=carried, carried=carried)
                )
    return found


def covered(heard: Sequence[Heard]) -> Iterator[Stay]:
    """Yield the stretches in which trees were covered or set down where they stood, as told."""
    for one, advice, job in told_jobs(heard, Action.PROTECT):
        way = job.choice.way if job.choice else None
        if way is not None and way.spot is None:
            down = way.remedy.carries
            worth = FLEECES.get(way.place.cover, 0.0) + (DOWN_K if down else 0.0)
            first = advice.do_by if advice.in_hand else one.at
            last = advice.back_at or max(f.span.end for f in job.findings)
            yield Stay(job.tree, max(first, one.at), last, worth, sheltered=down, carried=down)


def daemon(heard: Sequence[Heard], entries: Sequence[Entry], truth: Truth) -> Score:
    """Return how the daemon's keeper did, who does what is named."""
    ends = truth.nights[-1].end
    stays = [*moved(entries, truth, ends), *covered(heard)]
    lost = {
        (job.tree, finding.span.start)
        for _, _, job in told_jobs(heard, Action.PROTECT)
        if not job.stay and (job.choice is None or not job.choice.suffices)
        for finding in job.findings
    }
    score = judged("underbench", stays, truth)
    told = {
        (job.tree, finding.span.start): one.at
        for one, _, job in reversed(list(told_jobs(heard, Action.PROTECT)))
        for finding in job.findings
    }
    for night, harm in list(score.missed.items()):
        if night in lost and told[night] < harm.first_at:
            score.hopeless[night] = score.missed.pop(night)
    for night in score.under_cover.keys() & lost:
        score.hopeless[night] = score.under_cover.pop(night)
    return score


def judged(name: str, stays: Sequence[Stay], truth: Truth) -> Score:
    """Return how trees fare that are helped through ``stays``."""
    score, by_tree = Score(name), dict[str, list[Stay]]()
    for stay in stays:
        by_tree.setdefault(stay.tree, []).append(stay)
    spans = {night.start: night for night in truth.nights}
    for (tree, start), harm in truth.harmed.items():
        helping = [stay for stay in by_tree.get(tree, ()) if stay.over(harm.first_at)]
        if not helping:
            score.missed[tree, start] = harm
            continue
        best = max(helping, key=lambda stay: stay.warmer_k)
        left = truth.under(tree, spans[start], best.warmer_k, sheltered=best.sheltered)
        (score.under_cover if left else score.saved)[tree, start] = left or harm
    for own in by_tree.values():
        for run in _runs(sorted((s for s in own if s.carried), key=lambda stay: stay.first)):
            score.carries += 1
            score.needless += not any(
                tree == run[0].tree and any(stay.over(harm.first_at) for stay in run)
                for (tree, _), harm in truth.harmed.items()
            )
    return score


def _runs(stays: Sequence[Stay]) -> Iterator[list[Stay]]:
    """One carry each: stays that follow each other without a night at home between."""
    run: list[Stay] = []
    for stay in stays:
        if run and stay.first - max(one.last for one in run) > NEXT_NIGHT:
            yield run
            run = []
        run.append(stay)
    if run:
        yield run


def notice_h(heard: Sequence[Heard], truth: Truth) -> list[float]:
    """Return the hours between the first word of a damaging night and its first bad hour."""
    first: dict[Night, datetime] = {}
    for one, _, job in told_jobs(heard, Action.PROTECT):
        for finding in job.findings:
            first.setdefault((job.tree, finding.span.start), one.at)
    known = truth.harmed.keys() & first.keys()
    before = (truth.harmed[night].first_at - first[night] for night in known)
    return [gap / timedelta(hours=1) for gap in before if gap > timedelta(0)]


def flaps(heard: Sequence[Heard]) -> set[tuple[str, datetime]]:
    """Return what was told, stood down and told again, and the trees (with the day) that were sent
    back out and told to be protected within two days."""
    open_: set[tuple[str, Hazard, datetime]] = set()
    off: set[tuple[str, Hazard, datetime]] = set()
    back: dict[str, datetime] = {}
    found: set[tuple[str, datetime]] = set()
    for one in heard:
        if one.advice is not None:
            keys = {(f.tree, f.hazard, f.span.start) for f in one.advice.findings}
            found |= {(hazard.key, start) for _, hazard, start in keys & off}
            open_ |= keys
            if one.advice.action is Action.PROTECT:
                trees = [job.tree for job in one.advice.jobs if not job.stay]
                again = (t for t in trees if t in back and one.at - back[t] <= SOON_AGAIN)
                found |= {("out and in", back[tree]) for tree in again}
        elif kind_of(one) == Kind.STAND_DOWN:
            gone = {key for key in open_ if key[0] in one.trees and key[2] + DAY > one.at}
            off |= gone
            open_ -= gone
        elif kind_of(one) == Kind.BACK:
            back |= dict.fromkeys(one.trees, one.at)
    return found


Forecast = Callable[[datetime], Weather]


def below(below_c: float, forecast: Forecast, truth: Truth) -> Score:
    """Return how "carry everything in when the forecast goes below" does.

    Decided as the evening's hands-on hours begin, on the same forecasts; out again the next day
    unless the coming night is below as well. What grows in the ground is not carried.
    """
    cold = [night for night, low_c in evenings(forecast, truth) if low_c < below_c]
    trees = [t.name for t in truth.settings.trees if t.container.kind is not ContainerKind.BED]
    stays = [_in_shed(tree, night.start, night.end) for night in cold for tree in trees]
    return judged(f"carry all below {below_c:g} °C", stays, truth)


def careful(forecast: Forecast, truth: Truth) -> Score:
    """Return how a careful grower's habit does: quarters once, and by night what is in leaf."""
    zone, stays = truth.settings.garden.timezone, list[Stay]()
    pots = [t for t in truth.settings.trees if t.container.kind is not ContainerKind.BED]
    small = {tree.name for tree in pots if tree.container.litres <= QUARTERS_LITRES}
    indoors_since: datetime | None = None
    for night, low_c in evenings(forecast, truth):
        day = local_day(night.start, zone)
        winter = (day.month, day.day) >= QUARTERS_FROM or (day.month, day.day) < OUT_AGAIN
        if winter and indoors_since is None and (low_c < QUARTERS_C or night is truth.nights[0]):
            indoors_since = night.start
        elif not winter and indoors_since is not None:
            stays += [_in_shed(tree, indoors_since, night.start) for tree in sorted(small)]
            indoors_since = None
        if low_c < CARRIED_BELOW_C:
            inside = small if indoors_since is not None else set()
            stays += [
                _in_shed(tree.name, night.start, night.end)
                for tree in pots
                if tree.name not in inside and truth.in_leaf(tree.name, day)
            ]
    if indoors_since is not None:
        ends = truth.nights[-1].end
        stays += [_in_shed(tree, indoors_since, ends) for tree in sorted(small)]
    return judged("careful grower", stays, truth)


def _in_shed(tree: str, first: datetime, last: datetime) -> Stay:
    worth = WARMER_K[SpotKind.SHED]
    return Stay(tree, first, last, worth, sheltered=True, carried=True)


def evenings(forecast: Forecast, truth: Truth) -> Iterator[tuple[Stretch, float]]:
    """Yield each hazard night with its minimum as forecast in the evening."""
    zone, hands_on = truth.settings.garden.timezone, truth.settings.hands_on
    for night in truth.nights:
        day: date = local_day(night.start, zone)
        evening, midnight = local_moment(day, EVENING, zone), local_moment(day + DAY, time(0), zone)
        hours = hands_on_between(hands_on, evening, midnight, zone)
        if hours and local_moment(day, NOON, zone) == night.start:
            now = datetime.fromtimestamp(int(hours[0].start.timestamp()), tz=UTC)
            coming = forecast(now).between(now, night.end).air_c
            if coming.size:
                yield night, float(coming.min())


def nights_of(found: dict[Night, Harmed]) -> int:
    """Return in how many nights at least one tree is meant."""
    return len({night for _, night in found})
