"""What is said of the garden's own sensors: the last reading of each, and what is wrong with it."""

from __future__ import annotations

from datetime import datetime, timedelta
from shlex import quote
from typing import NamedTuple

from underbench.daemon.outlook.members import learned_of
from underbench.daemon.readings.new_sensor import GARDEN
from underbench.daemon.store.store import Store
from underbench.daemon.wording.reading_units import written
from underbench.daemon.wording.units import UnitSystem
from underbench.rules.garden.readings import Reading
from underbench.rules.weather.sensor_checks import IN_AIR, Aside, Judged, Sensor, judge

LOOKED_AT = timedelta(days=3)
FORGOTTEN_AFTER = timedelta(days=14)  # a sensor this long gone was put away
SAY_AGAIN_AFTER = timedelta(days=1)  # of no trouble in between

_TROUBLES = {
    Aside.IMPOSSIBLE: "no such value is possible; look at the sensor and its wire",
    Aside.FAHRENHEIT: "it seems to send °F that is taken for °C; set its unit",
    Aside.CELSIUS: "it seems to send °C that is taken for °F; set its unit",
    Aside.KMH: "it seems to send km/h that is taken for m/s; set its unit",
    Aside.BEYOND: "not possible in that weather; look at the sensor and its place",
    Aside.UNLIKE: "far from what others of its kind show; look at the sensor and its place",
    Aside.SPIKE: "a value far off, and back again",
    Aside.STUCK: "it shows the same to the digit while the weather moved; look at it, or reset it",
}
_WALKED = (
    "it is off the forecast by more than weather models err; check it against"
    " another one. If it is new or right, say so: underbench reading"
)


class Trouble(NamedTuple):
    """A sensor with something wrong: the kind of it, and the words for the keeper."""

    sensor: Sensor
    kind: str
    text: str


def troubles(store: Store, now: datetime) -> list[Trouble]:
    """Return what is wrong with sensors now: of those whose last reading is set aside, of those
    from which nothing comes any more, and of thermometers that are in doubt."""
    found, doubted = [], learned_of(store).held
    for one in _judged(store, now):
        why = one.aside[-1]
        if one.dead_since is not None:
            hours = int((now - one.dead_since).total_seconds() // 3600)
            found.append(Trouble(one.sensor, "silent", f"nothing has come for {hours} hours"))
        elif why is not None:
            found.append(Trouble(one.sensor, why.value, f"set aside: {_TROUBLES[why]}"))
        elif one.sensor.quantity in IN_AIR and one.sensor.spot in doubted:
            place = quote(one.sensor.spot or GARDEN)
            found.append(Trouble(one.sensor, "walked", f"{_WALKED} --new-sensor {place}"))
    return found


def new_troubles(store: Store, now: datetime) -> list[str]:
    """Return a line for each trouble that has not been said, and note it as said: once, until it
    has been over for a day."""
    lines = []
    with store.transaction():
        for trouble in troubles(store, now):
            duty = f"sensor {name_of(trouble.sensor)}: {trouble.kind}"
            last = store.duties.last_done(duty)
            if last is None or now - last > SAY_AGAIN_AFTER:
                lines.append(f"{name_of(trouble.sensor)}: {trouble.text}")
            store.duties.done(duty, now)
    return lines


def sensor_lines(store: Store, units: UnitSystem, now: datetime) -> list[str]:
    """Return a line for each sensor heard of lately: its last reading, and what is wrong."""
    wrong = {trouble.sensor: trouble.text for trouble in troubles(store, now)}
    lines = []
    for last in store.readings.last():
        if now - last.at <= FORGOTTEN_AFTER:
            trouble = wrong.get(_sensor(last))
            said = f"{written(last.value, last.quantity, units)}, {_ago(now - last.at)}"
            lines.append(f"{name_of(_sensor(last))}: {said}" + (f"; {trouble}" if trouble else ""))
    return lines


def name_of(sensor: Sensor) -> str:
    """Return how a sensor is called: "air at top bench (mqtt)"."""
    return f"{sensor.quantity}{where_words(sensor)} ({sensor.source})"


def where_words(of: Sensor | Reading) -> str:
    """Return where it is measured: " of Ember", " at top bench", or nothing for the garden."""
    return f" of {of.tree}" if of.tree else f" at {of.spot}" if of.spot else ""


def _judged(store: Store, now: datetime) -> list[Judged]:
    readings = store.readings.between(None, now - LOOKED_AT, now)
    # A sensor that has been silent for longer is judged by what it said before that.
    seen = {_sensor(reading) for reading in readings}
    for last in store.readings.last():
        if _sensor(last) not in seen and now - last.at <= FORGOTTEN_AFTER:
            before = store.readings.between(last.quantity, last.at - LOOKED_AT, last.at)
            readings += [one for one in before if _sensor(one) == _sensor(last)]
    start = min((reading.at for reading in readings), default=now)
    return judge(readings, store.hours.between(start - LOOKED_AT, now), now)


def _sensor(reading: Reading) -> Sensor:
    return Sensor(reading.quantity, reading.spot, reading.tree, reading.source)


def _ago(since: timedelta) -> str:
    minutes = max(0, int(since.total_seconds() // 60))
    if minutes < 120:
        return f"{minutes} min ago"
    return f"{minutes // 60} h ago" if minutes < 48 * 60 else f"{minutes // 1440} days ago"
