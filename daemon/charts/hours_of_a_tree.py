"""What one tree feels hour by hour, against what it can bear: for tables and charts alike."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import cached_property
from zoneinfo import ZoneInfo

import numpy as np

from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.outlook.worst_hazard import findings_of
from underbench.daemon.wording.units import Units
from underbench.rules.hazards import hazard_of
from underbench.rules.hazards.bearing import Bearing
from underbench.rules.hazards.findings import Finding
from underbench.rules.hazards.judge import bearings_on, judged_in
from underbench.rules.limits.limit import Limit, MeasuredOn
from underbench.rules.weather.hourly import HOUR_S, Array

HOURLY_H = 48
LOW_TENTH, MIDDLE, HIGH_TENTH = 0.1, 0.5, 0.9
# This near to harm, the worst tenth is shown beside the middle.
NEAR = {MeasuredOn.GUST: 3.0, MeasuredOn.WATER: 0.25}
NEAR_K = 5.0


@dataclass(frozen=True, slots=True)
class Column:
    """One thing felt: an exposure, and what limits that are shown with it are measured on."""

    head: str
    name: str
    kind: MeasuredOn
    limits_on: tuple[MeasuredOn, ...] = ()


TISSUES = (MeasuredOn.LEAF, MeasuredOn.BUD, MeasuredOn.FLOWER, MeasuredOn.WOOD)
AIR = Column("air", "screen_c", MeasuredOn.AIR, (MeasuredOn.AIR,))
AT_TREE = Column("air at the tree", "air_c", MeasuredOn.AIR)  # its own, near the ground
LEAF = Column("leaf", "leaf_c", MeasuredOn.LEAF, TISSUES)
BAG = Column("in bag", "bag_c", MeasuredOn.BAG, (*TISSUES, MeasuredOn.BAG))
EDGE = Column("edge", "shell_c", MeasuredOn.SHELL, (MeasuredOn.SHELL,))
CORE = Column("core", "core_c", MeasuredOn.SHELL)
WALL = Column("wall", "wall_c", MeasuredOn.SHELL)
WATER = Column("water", "water_left", MeasuredOn.WATER, (MeasuredOn.WATER,))
GUST = Column("gust", "gust_ms", MeasuredOn.GUST, (MeasuredOn.GUST,))
COLUMNS = (AIR, LEAF, BAG, EDGE, CORE, WALL, WATER, GUST)

TISSUE = {
    MeasuredOn.LEAF: "leaves",
    MeasuredOn.BUD: "buds",
    MeasuredOn.FLOWER: "flowers",
    MeasuredOn.WOOD: "wood and buds",
    MeasuredOn.AIR: "the tree, by its rating",
}


class Feeling:
    """What one tree of an outlook feels where it stands."""

    def __init__(self, outlook: Outlook, row: int) -> None:
        self.outlook, self.row = outlook, row
        self.tree, self.at = outlook.settings.trees[row], outlook.standing[row]
        self.times = outlook.course.times
        self.zone = ZoneInfo(outlook.settings.garden.timezone)
        self.units = Units(outlook.settings.units)
        # Without a routine nobody counts as watering, so the water left says nothing about the
        # tree.
        self.follows_water = bool(outlook.settings.routines)

    @cached_property
    def bearings(self) -> dict[date, Bearing]:
        """What the tree can bear, by UTC day."""
        course = self.outlook.course
        return {
            day: bearings_on(self.outlook.setting, course, day)[self.row]
            for day in sorted(course.conditions)
        }

    @property
    def today(self) -> Bearing:
        """What the tree can bear today."""
        return next(iter(self.bearings.values()))

    @property
    def crown(self) -> Column:
        """What leaves or buds feel: the bag's air if there is a bag."""
        return BAG if np.isfinite(self.members(BAG)).any() else LEAF

    def members(self, column: Column) -> Array:
        """Return what is felt, (member, hour), in SI units."""
        values: Array = getattr(self.outlook.course.exposure, column.name)[self.row]
        return values

    def tenths(self, column: Column) -> tuple[Array, Array, Array]:
        """Return the low tenth, the middle and the high tenth of the members, (hour,)."""
        low, middle, high = np.quantile(
            self.members(column), [LOW_TENTH, MIDDLE, HIGH_TENTH], axis=0
        )
        return low, middle, high

    def limits(self, column: Column, index: int) -> tuple[dict[str, Limit], dict[str, Limit]]:
        """Return a column's limits, those below and those above, by hazard, in an hour."""
        begins = datetime.fromtimestamp(int(self.times[index]) - HOUR_S, tz=UTC)
        shown = {
            key: limit
            for key, limit in self.bearings[begins.date()].items()
            if limit.measured_on in column.limits_on
        }
        below = {key: limit for key, limit in shown.items() if hazard_of(key).low}
        return below, {key: limit for key, limit in shown.items() if key not in below}

    def local(self, index: int) -> datetime:
        """Return the local end of an hour."""
        return datetime.fromtimestamp(int(self.times[index]), tz=self.zone)

    @property
    def findings(self) -> list[Finding]:
        """What was found for this tree, the worst first."""
        return findings_of(self.outlook, self.row)

    def shares(self) -> tuple[Array, Array]:
        """Return the shares of members harmed and killed in each hour, (hour,). The hazard that
        harms most of them counts."""
        harm, kill = np.zeros((2, len(self.times)))
        outlook = self.outlook
        for finding in self.findings:
            times, judged = judged_in(
                outlook.setting, outlook.course, outlook.site, finding.span, finding.hazard
            )
            if judged is None:
                continue
            hours = np.searchsorted(self.times, times)
            killed = judged.kill[self.row]
            harmed = judged.harm[self.row] | killed
            harm[hours] = np.maximum(harm[hours], harmed.mean(axis=0))
            kill[hours] = np.maximum(kill[hours], killed.mean(axis=0))
        return harm, kill
