"""A thermometer exchanged or put right: what the one before it taught is forgotten."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from underbench.daemon.config.settings import Settings
from underbench.daemon.faults import Fault
from underbench.daemon.journal.lookup import named
from underbench.daemon.outlook.members import in_the_open, learned_of
from underbench.daemon.store.store import Store
from underbench.rules.garden.local_time import nights
from underbench.rules.weather.learned import to_text

A_SECOND = timedelta(seconds=1)
GARDEN = "garden"  # names the garden's own screen, which stands at no spot


def forget_sensor(store: Store, settings: Settings, place: str, now: datetime | None = None) -> str:
    """Forget what the thermometer at ``place`` taught, and return the line that answers it.

    What it measured until ``now`` is kept and shown, and nothing more is learned from it. Raises
    Fault.
    """
    now = (now or datetime.now(UTC)).replace(microsecond=0)
    learned, kept = learned_of(store), store.learning.learned()
    spot = None
    if place.casefold() != GARDEN:
        # A spot that is gone or has a roof by now may have taught something before.
        open_spots = (name for name, spot in settings.spots.items() if in_the_open(spot))
        known = {name: name for name in (*open_spots, *filter(None, learned.places))}
        spot = named("open spot", place, known)
    where = f"at {spot}" if spot else "of the garden"
    if spot not in learned.places or kept is None:
        raise Fault(f"--new-sensor {place}: nothing was learned yet from a thermometer {where}")
    count = int(learned.places[spot].known.nights)
    # The night that is running may hold readings of both.
    running = nights(now - A_SECOND, now, settings.garden.timezone)[0]
    store.learning.keep(to_text(learned.without(spot)), max(running.end, kept[1]))
    return (
        f"Forgotten: what the thermometer {where} taught in {count} night"
        f"{'s' if count != 1 else ''}. Learning begins anew with the next night."
    )
