"""How each tree would fare at each place it could be, night by night, by the physics."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from underbench.daemon.config.settings import Settings
from underbench.daemon.outlook.outlook import Outlook, act_from, kill_from, run_rows
from underbench.rules.advice import remedy
from underbench.rules.advice.remedies import (
    FLEECE_HOLDS_TO_MS,
    Here,
    Way,
    can_be_tied,
    candidates,
)
from underbench.rules.course.course import Course
from underbench.rules.course.inputs import Row
from underbench.rules.garden.inventory import NEVER
from underbench.rules.garden.journal import TreeAt
from underbench.rules.garden.local_time import Stretch, local_day, nights
from underbench.rules.hazards import HAZARDS
from underbench.rules.hazards.hazard import Action, Hazard, Help, Judged, Mask
from underbench.rules.hazards.hazard import act_from as usual_act_from
from underbench.rules.hazards.judge import judged_over
from underbench.rules.limits.layering import EVERGREEN
from underbench.rules.physics.cover import COVERS
from underbench.rules.physics.places import FLEECE, Place, place_of
from underbench.rules.planning.past_years import WINTER_WEEKS, Usual
from underbench.rules.planning.plan import (
    COVERED,
    COVERED_REST,
    REST,
    Prospect,
    Weights,
    after_at_home,
    after_inside,
    share_of_cold,
    strain,
)
from underbench.rules.weather.hourly import Array

DAY = timedelta(days=1)
LEAST = 0.01  # a chance below it is as good as none
AT_ONCE, PLACES = 6144, 8  # rows times members followed together: more cost memory; places a tree
HEAT = 0.5  # a day on which heat harms the tree unless the place is shaded or opened; judgement
# What one way costs, in trips of carrying the tree: half of one for a spot. Judgement.
CARRIED = 0.5
REACHES = {
    remedy.TIE.key: 0.15,
    remedy.GROUND.key: 0.4,
    remedy.FLEECE_1.key: 0.3,
    remedy.FLEECE_2.key: 0.35,
    remedy.GROUND_FLEECE_1.key: 0.55,
    remedy.GROUND_FLEECE_2.key: 0.6,
    remedy.SHUT_FRAME.key: 0.05,
    remedy.SHUT_GREENHOUSE.key: 0.05,
}
FLEECED = {one.key for one in remedy.COVERED.values() if one.layers}


@dataclass(frozen=True, slots=True)
class Trialled:
    """How a tree fares at one place, (night,): the chance of harm and of death, the chance of harm
    by heat around it, and the worst value of the median member by hazard."""

    harm: Array
    kill: Array
    hot: Array
    worst: Mapping[str, Array]


@dataclass(frozen=True, slots=True)
class Prospects:
    """What a tree can choose from. ``here`` is the key of where it stands, ``home`` of where it
    belongs. ``ways`` has the way to each other place, ``trials`` how the tree fares at each.
    ``place`` is where it stands."""

    tree: str
    here: str
    home: str
    nights: tuple[Stretch, ...]
    places: tuple[Prospect, ...]
    ways: Mapping[str, Way]
    trials: Mapping[str, Trialled]
    weights: Weights
    two_people: bool
    place: Place

    def night_of(self, moment: datetime) -> int:
        """Return the number of the night that holds ``moment``."""
        return max((n for n, night in enumerate(self.nights) if night.start < moment), default=0)


def planned_hazard(hazard: Hazard) -> bool:
    """Return whether the plan answers a hazard: cold and wind, from which trees are covered or
    moved. What is no reason to keep a tree under cover is answered by the least remedy."""
    moves = hazard.action is Action.PROTECT and hazard.help in (Help.COVER, Help.WINDBREAK)
    return moves and hazard.keeps_in


def prospects_of(outlook: Outlook, asked: Sequence[int], usual: Usual) -> Iterator[Prospects]:
    """Yield what each tree at ``asked`` can choose from. ``usual``: what earlier years brought in
    the weeks after the forecast."""
    lows_c = _lows_after(outlook, usual)
    spans = tuple(_nights(outlook))
    trees = max(1, AT_ONCE // (PLACES * outlook.weather.members))
    for first in range(0, len(asked), trees):
        some = asked[first : first + trees]
        options = [_options(outlook, row) for row in some]
        trials = iter(_tried(outlook, some, options, spans))
        for index, own in zip(some, options, strict=True):
            yield _prospects(outlook, index, own, spans, {key: next(trials) for key in own}, lows_c)


def _tried(
    outlook: Outlook, trees: Sequence[int], options: Sequence[Options], spans: Sequence[Stretch]
) -> list[tuple[Trialled, float]]:
    """How some trees fare in all their options, one after the other."""
    rows = [row for own in options for row, _ in own.values()]
    indices = [index for index, own in zip(trees, options, strict=True) for _ in own]
    return list(_trials(outlook, run_rows(outlook, rows, indices), spans))


def _nights(outlook: Outlook) -> Iterator[Stretch]:
    """The nights that hold an hour of the course. Where clocks are half an hour or a quarter off,
    the one that is on can end before its next whole hour."""
    times = outlook.course.times
    for night in nights(outlook.now, outlook.reaches, outlook.settings.garden.timezone):
        if ((times > night.start.timestamp()) & (times <= night.end.timestamp())).any():
            yield night


Options = Mapping[str, tuple[Row, Way | None]]
Lows = Mapping[bool, Sequence[float]]  # the coldest night of some weeks by year, at rest and not


def _lows_after(outlook: Outlook, usual: Usual) -> Lows:
    """The coldest nights after the forecast: of some weeks, or of the winter for trees at rest."""
    day = local_day(outlook.reaches, outlook.settings.garden.timezone)
    return {False: usual.lows_after(day), True: usual.lows_after(day, WINTER_WEEKS)}


def _options(outlook: Outlook, row: int) -> Options:
    """The places for a tree by key: where it stands, its home, the ways to cover or to move it. A
    tree that is away is tied down at home if wind comes, so wind does not keep it from there."""
    at, spots = outlook.standing[row], outlook.settings.spots
    tree = outlook.settings.trees[row]
    found: dict[str, tuple[Row, Way | None]] = {_stands(at): (Row(tree), None)}
    if not at.at_home:
        home = place_of(spots[tree.spot], float(outlook.state.ten_days_c[row].mean()))
        tied = can_be_tied(at.tree.container, home)
        found[tree.spot] = (Row(tree, home, spot=tree.spot, tied=tied), None)
    elsewhere = {name: spot for name, spot in spots.items() if name not in found}
    place = outlook.place(row, at.spot)
    here = Here(place, at.tree.container, elsewhere, outlook.settings.means)
    for way in candidates(Help.COVER, here):
        if way.remedy.ties and not at.at_home:
            continue  # a tree is tied down where it belongs
        row_there = Row(tree, way.place, tied=way.remedy.ties)
        found.setdefault(way.spot or way.remedy.key, (row_there, way))
    return found


def keys_of(outlook: Outlook, row: int) -> list[str]:
    """Return the keys of the places a tree could be; the first is where it stands."""
    return list(_options(outlook, row))


def places_of(outlook: Outlook, row: int) -> list[Row]:
    """Return a tree as a row for each place it could be."""
    return [option for option, _ in _options(outlook, row).values()]


def _stands(at: TreeAt) -> str:
    """The key of the place where a tree is: its spot, or how it is covered there."""
    return remedy.COVERED[at.layers, at.on_ground].key if at.covered else at.spot


def _trials(
    outlook: Outlook, course: Course, spans: Sequence[Stretch]
) -> Iterator[tuple[Trialled, float]]:
    """Yield how each row of a course fares, and the screen air below which frost harms it. That is
    its limit less the distance of its coldest hour from the air's."""
    asked = [one for one in HAZARDS.values() if one.asked(outlook.setting)]
    hazards = [one for one in asked if planned_hazard(one)]
    heat = [one for one in asked if one.action in (Action.SHADE, Action.VENT)]
    shape = len(course.exposure.air_c), len(spans)
    harm, kill, hot = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    below_c = np.full(shape, -np.inf)
    worst = {one.key: np.full(shape, np.nan) for one in hazards}
    for night, span in enumerate(spans):
        judged = _judged(outlook, course, span, hazards)
        hot[:, night] = _share(one.harm | one.kill for one in _judged(outlook, course, span, heat))
        harm[:, night] = _harm(outlook, course, judged)
        kill[:, night] = _share(one.kill for one in judged)
        for one in judged:
            value = one.value.min(axis=2) if one.hazard.low else one.value.max(axis=2)
            worst[one.hazard.key][:, night] = np.median(value, axis=1)
            if one.hazard.is_frost:
                own_c = _harms_from(one) - np.median(value - _low_c(outlook, span), axis=1)
                below_c[:, night] = np.fmax(below_c[:, night], own_c)
    for row, from_c in enumerate(np.median(below_c, axis=1).tolist()):
        values = {key: every[row] for key, every in worst.items()}
        yield Trialled(harm[row], kill[row], hot[row], values), from_c


def _harm(outlook: Outlook, course: Course, judged: Sequence[Judged]) -> Array:
    """The chance of harm in a night, (row,). If a hazard has a chance to act from of its own, its
    chance is set in proportion."""
    chance = outlook.settings.chance
    trees = [one.tree for one in next(iter(course.conditions.values()))]
    usual = np.array([act_from(outlook.settings, tree) for tree in trees])
    alike = [one for one in judged if one.hazard.acts_from is usual_act_from]
    shares = [_share(one.harm | one.kill for one in alike)]
    for one in (one for one in judged if one.hazard.acts_from is not usual_act_from):
        own = np.array([one.hazard.acts_from(tree, chance) for tree in trees])
        worth = np.where(own < NEVER, usual / np.maximum(own, LEAST), 0.0)
        shares.append(_share([one.harm]) * worth)
    return np.asarray(np.minimum(np.max(shares, axis=0), 1.0))


def _judged(
    outlook: Outlook, course: Course, span: Stretch, hazards: Sequence[Hazard]
) -> list[Judged]:
    found = judged_over(outlook.setting, course, outlook.site, span, hazards)
    return [one for _, one in found]


def _share(masks: Iterable[Mask]) -> Array:
    """The share of members in which one of some hazards holds, (row,)."""
    return np.asarray(np.any([mask.any(axis=2) for mask in masks], axis=0).mean(axis=1))


def _harms_from(judged: Judged) -> Array:
    return np.array([-np.inf if one is None else one.harm for one in judged.limits])


def _low_c(outlook: Outlook, span: Stretch) -> Array:
    """The lowest screen air of each member in a night."""
    times = outlook.weather.times
    hours = (times > span.start.timestamp()) & (times <= span.end.timestamp())
    return np.asarray(outlook.weather.air_c[:, hours].min(axis=1))


def _prospects(
    outlook: Outlook,
    index: int,
    options: Options,
    spans: tuple[Stretch, ...],
    found: Mapping[str, tuple[Trialled, float]],
    lows_c: Lows,
) -> Prospects:
    at, settings = outlook.standing[index], outlook.settings
    tree = settings.trees[index]
    weights = Weights(act_from(settings, tree), kill_from(settings, tree))
    rests = not outlook.stage(index).in_leaf
    shares = {key: share_of_cold(lows_c[rests], own, weights) for key, (_, own) in found.items()}
    cold, least = shares[tree.spot], min(shares.values())
    moved_on = weights.changed if rests else 0.0  # what is in leaf does not stay for weeks
    ways = {key: way for key, (_, way) in options.items() if way is not None}
    trials = {key: trial for key, (trial, _) in found.items()}
    bare = trials.get(at.spot, trials[tree.spot])
    trials |= {
        key: _blown_off(outlook, index, spans, trials[key], bare) for key in FLEECED & trials.keys()
    }
    days = {key: _days(outlook, index, key, trials[key]) for key in options}
    reach = {key: _reach(settings, at, key) for key in options}
    after = {
        key: after_inside(cold, days[key][-1], cost, moved_on * (shares[key] - least))
        for key, cost in reach.items()
        if cost and key != remedy.TIE.key
    }
    return Prospects(
        tree.name,
        _stands(at),
        tree.spot,
        spans,
        tuple(
            Prospect(
                key,
                tuple(trials[key].harm.tolist()),
                tuple(trials[key].kill.tolist()),
                days[key],
                reach[key],
                after.get(key, after_at_home(cold)),
                roomed=key in settings.spots and key not in (at.spot, tree.spot),
                at_home=key == remedy.TIE.key,
            )
            for key in options
        ),
        ways,
        trials,
        weights,
        at.tree.container.litres > settings.means.lift_litres,
        outlook.place(index, at.spot),
    )


def _blown_off(
    outlook: Outlook, index: int, spans: Sequence[Stretch], fleece: Trialled, bare: Trialled
) -> Trialled:
    """Fleece as it helps: not in nights whose wind carries it off."""
    times, at = outlook.course.times, outlook.standing[index]
    gusts = np.median(outlook.course.exposure.gust_ms[index], axis=0)
    if at.layers:  # as they blow outside it
        gusts = gusts / COVERS[FLEECE[at.layers]].wind_share
    starts, ends = (
        np.array([getattr(s, end).timestamp() for s in spans]) for end in ("start", "end")
    )
    inside = (times > starts[:, None]) & (times <= ends[:, None])
    windy = np.where(inside, gusts, 0.0).max(axis=1) > FLEECE_HOLDS_TO_MS
    return Trialled(
        np.where(windy, np.maximum(bare.harm, fleece.harm), fleece.harm),
        np.where(windy, np.maximum(bare.kill, fleece.kill), fleece.kill),
        fleece.hot,
        fleece.worst,
    )


def _days(outlook: Outlook, index: int, key: str, trial: Trialled) -> tuple[float, ...]:
    """What the day after each night costs a tree at a place. Heat that comes with the place costs:
    it has to be shaded or opened there."""
    strains = _strains(outlook, index, key, len(trial.hot))
    return tuple((np.array(strains) + HEAT * trial.hot).tolist())


def _strains(outlook: Outlook, index: int, key: str, nights_ahead: int) -> Sequence[float]:
    """What a day at a place costs for want of light, air and rest."""
    at, spots = outlook.standing[index], outlook.settings.spots
    if key in (at.tree.spot, remedy.TIE.key):
        return (0.0,) * nights_ahead
    condition = outlook.condition(index)
    if key not in spots:
        fleece = COVERED if condition.stage.in_leaf else COVERED_REST
        return (fleece if key in FLEECED else REST,) * nights_ahead
    stays = key == _stands(at) and at.there_since is not None
    been = (outlook.now - at.there_since) // DAY if stays and at.there_since else 0
    kind = outlook.setting.species[at.tree.name].limits.kind
    bare = condition.aftercare.bag is not None  # what is in a bag has no leaves to feed
    return tuple(
        strain(
            spots[key],
            condition.stage,
            evergreen=kind in EVERGREEN,
            bagged=bare,
            days=been + night,
        )
        for night in range(nights_ahead)
    )


def _reach(settings: Settings, at: TreeAt, key: str) -> float:
    """What it costs to bring a tree to a place from its home, or back. Covering costs a tree that
    two people carry less of a trip."""
    if key == at.tree.spot:
        return 0.0
    if key in settings.spots:
        return CARRIED
    minutes, means = settings.means.minutes, settings.means
    heavy = at.tree.container.litres > means.lift_litres and not remedy.remedy_of(key).carries
    return REACHES[key] * (minutes.carry / minutes.heavy if heavy else 1.0)
