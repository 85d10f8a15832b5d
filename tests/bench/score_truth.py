"""What frost really did: the daemon's own physics on the weather as it was, the site as configured.

Each tree is followed at its home spot, whatever was told and carried; a remedy told is then tried
on the same weather, from the hour it is put to work. The night that ends with a work on a tree is
left out for that tree: its limits are those after the work, of which nobody was told.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from underbench.daemon.config.settings import Settings
from underbench.daemon.outlook.checkpoints import bring_up
from underbench.daemon.outlook.outlook import setting_of
from underbench.daemon.store.store import Store
from underbench.rules.course.course import Course, follow
from underbench.rules.course.inputs import Row
from underbench.rules.garden.journal import Entry, Move, Work
from underbench.rules.garden.local_time import Stretch, nights
from underbench.rules.hazards import HAZARDS
from underbench.rules.hazards.judge import judged_in
from underbench.rules.physics.places import Place, place_of
from underbench.rules.physics.state import State
from underbench.rules.weather.hourly import Weather
from underbench.rules.weather.spread import known_site

DAY, HOUR = timedelta(days=1), timedelta(hours=1)
Night = tuple[str, datetime]  # a tree, and the noon at which its hazard night begins


@dataclass(frozen=True, slots=True)
class Frosted:
    """A tree harmed in one night: when first, for how many hours, and whether it was killed."""

    first_at: datetime
    hours: int
    killed: bool


class Truth:
    """A season of real weather over the garden, each tree at home; ``harmed`` by tree and night."""

    def __init__(
        self, settings: Settings, weather: Weather, entries: Sequence[Entry], begins: datetime
    ) -> None:
        self.settings, self._weather = settings, weather
        self._setting = setting_of(settings)
        self._journal = [entry for entry in entries if not isinstance(entry, Move)]
        self._rows = {tree.name: row for row, tree in enumerate(settings.trees)}
        start = self._state_at(begins)
        course = self._follow([Row(tree) for tree in settings.trees], start, begins, self._end)
        self._midnights = {begins: start, **dict(course.midnights)}
        harm = self._harm(course, [tree.name for tree in settings.trees])
        whole = (begins, self._end - 25 * HOUR)  # nights cut by either end are not scored
        self.harmed = {key: one for key, one in harm.items() if whole[0] <= key[1] <= whole[1]}

    def place(self, tree: str, spot: str, at: datetime) -> Place:
        """Return a spot as the place it is for a tree at a moment: frames are shut or aired."""
        _, state = self._last_midnight(at)
        mean_c = float(state.ten_days_c[self._rows[tree]].mean())
        return place_of(self.settings.spots[spot], mean_c)

    def under(
        self, places: Mapping[str, Place], since: datetime, until: datetime
    ) -> dict[Night, Frosted]:
        """Return what frost does until ``until`` to trees put into ``places`` at ``since``."""
        names = list(places)
        rows = [self._rows[name] for name in names]
        trees = [self.settings.trees[row] for row in rows]
        begins, state = self._last_midnight(since)
        state = state.take(rows)
        if since > begins:
            state = self._follow([Row(tree) for tree in trees], state, begins, since).end
        helped = [Row(tree, places[tree.name]) for tree in trees]
        return self._harm(self._follow(helped, state, since, min(until, self._end)), names)

    @property
    def _end(self) -> datetime:
        return datetime.fromtimestamp(int(self._weather.times[-1]), tz=UTC)

    def _last_midnight(self, at: datetime) -> tuple[datetime, State]:
        moment = max(known for known in self._midnights if known <= at)
        return moment, self._midnights[moment]

    def _state_at(self, begins: datetime) -> State:
        """The state after the weather before, as the daemon itself comes by it."""
        with (
            TemporaryDirectory(prefix="underbench-score-") as folder,
            Store.open(Path(folder) / "truth.db") as store,
        ):
            store.hours.keep(self._weather.between(begins - 400 * DAY, begins))
            known = [entry for entry in self._journal if entry.at <= begins]
            return bring_up(store, self._setting, self.settings.trees, known, begins)

    def _follow(
        self, rows: Sequence[Row], state: State, begins: datetime, ends: datetime
    ) -> Course:
        weather = self._weather.between(begins, ends)
        return follow(self._setting, rows, self._journal, state, weather, known_site())

    def _harm(self, course: Course, names: Sequence[str]) -> dict[Night, Frosted]:
        first, last = (datetime.fromtimestamp(int(course.times[i]), tz=UTC) for i in (0, -1))
        found: dict[Night, Frosted] = {}
        for night in nights(first - HOUR, last, self.settings.garden.timezone):
            found |= self._harm_in(course, names, night)
        return found

    def _harm_in(
        self, course: Course, names: Sequence[str], night: Stretch
    ) -> dict[Night, Frosted]:
        frosts = (hazard for hazard in HAZARDS.values() if hazard.is_frost)
        each = [judged_in(self._setting, course, known_site(), night, frost) for frost in frosts]
        times, judged = each[0][0], [one for _, one in each if one is not None]
        if not judged:
            return {}
        bad = np.logical_or.reduce([one.harm | one.kill for one in judged])[:, 0]
        killed = np.logical_or.reduce([one.kill for one in judged])[:, 0].any(axis=1)
        return {
            (names[row], night.start): Frosted(
                datetime.fromtimestamp(int(times[bad[row].argmax()]), tz=UTC),
                int(bad[row].sum()),
                bool(killed[row]),
            )
            for row in np.flatnonzero(bad.any(axis=1)).tolist()
            if not self._worked_on(names[row], night)
        }

    def _worked_on(self, tree: str, night: Stretch) -> bool:
        works = (one for one in self._journal if isinstance(one, Work) and one.tree == tree)
        return any(night.start < work.at <= night.end for work in works)
