"""What a thermometer in a root ball, a bag or a frame said, beside what the models have there."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import isfinite
from typing import NamedTuple

from underbench.daemon.config.settings import Settings
from underbench.daemon.outlook.checkpoints import as_it_was
from underbench.daemon.outlook.outlook import journal_at, setting_of
from underbench.daemon.store.store import Store
from underbench.rules.garden.inventory import Tree
from underbench.rules.garden.journal import Entry, fold
from underbench.rules.garden.local_time import Stretch
from underbench.rules.garden.readings import Quantity, Reading
from underbench.rules.weather.hourly import HOUR_S

LATELY = timedelta(days=3)
_MODELLED = {
    Quantity.ROOT_BALL: "core_c",
    Quantity.BAG: "bag_c",
    Quantity.FRAME: "air_c",
}


class Beside(NamedTuple):
    """A reading, and what is modelled at that hour, °C: the middle of a root ball, the bag's
    inside, the air where a tree stands in the frame."""

    reading: Reading
    modelled_c: float


def beside_models(settings: Settings, store: Store, now: datetime) -> list[Beside]:
    """Return the last reading of each such sensor in three days, where the hour can be modelled."""
    journal, found = journal_at(settings, store, now), []
    for reading in store.readings.last():
        column = _MODELLED.get(reading.quantity)
        if column is None or not now - LATELY <= reading.at <= now:
            continue
        tree = _tree_of(settings, journal, reading)
        if tree is None:
            continue
        end = datetime.fromtimestamp(reading.at.timestamp() // HOUR_S * HOUR_S, tz=UTC)
        span = Stretch(end - timedelta(seconds=HOUR_S), end)
        course = as_it_was(store, setting_of(settings), tree, journal, span)
        if course is not None:
            value = float(getattr(course.exposure, column)[0, 0, -1])
            if isfinite(value):  # there was a bag
                found.append(Beside(reading, value))
    return found


def _tree_of(settings: Settings, journal: tuple[Entry, ...], reading: Reading) -> Tree | None:
    """The tree it is of, or the first that stands where it was read."""
    standing = [fold(tree, journal, reading.at) for tree in settings.trees]
    return next(
        (
            at.tree
            for at in standing
            if (at.tree.name == reading.tree if reading.tree else at.spot == reading.spot)
        ),
        None,
    )
