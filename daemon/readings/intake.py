"""How readings come in by themselves: a watched file, a broker. Each tick drains what has come."""

from __future__ import annotations

import logging
from contextlib import suppress
from datetime import datetime, timedelta
from queue import Empty, Full, Queue

from underbench.daemon.config.settings import Settings
from underbench.daemon.faults import Fault
from underbench.daemon.outlook.garden_now import grown
from underbench.daemon.readings.from_file import read_added
from underbench.daemon.readings.from_mqtt import Listener
from underbench.daemon.readings.parse import Known
from underbench.daemon.readings.sensor_report import new_troubles
from underbench.daemon.store.store import Store
from underbench.rules.garden.readings import Quantity, Reading

MOST_WAITING = 10_000
THINNED, THIN_EVERY = "readings thinned", timedelta(days=1)
JUDGE_EVERY = timedelta(hours=1)

_log = logging.getLogger("underbench")


class Intake:
    """The sources of readings, from ``start`` to ``stop``. Only ``drain`` touches the store, in the
    thread of that; no trouble with a source is raised, each is logged once while it lasts.
    ``settings`` may be replaced by others with the same readings table."""

    def __init__(self, settings: Settings) -> None:
        self.settings, self._table = settings, settings.readings
        self._waiting: Queue[Reading] = Queue(MOST_WAITING)
        self._known = Known.of(settings)
        self._listener: Listener | None = None
        self._said: dict[str, str] = {}
        self._judged_at: datetime | None = None

    def start(self) -> None:
        """Begin to take readings; what cannot be is logged."""
        if self._table.mqtt:
            try:
                self._listener = Listener(
                    self._table.mqtt, self._table.mqtt_password, self._known, self._put
                )
            except Fault as fault:
                self._say("mqtt", str(fault))
            else:
                self._listener.start()

    def stop(self) -> None:
        """Stop taking readings. What came since the last drain still waits for one."""
        if self._listener:
            self._listener.stop()

    def drain(self, store: Store, now: datetime) -> int:
        """Keep what has come and return how many readings are new. Raises StoreError."""
        self._know(Known.of(grown(self.settings, store)))
        new = store.readings.add(self._came())
        new += self._from_file(store, now)
        self._hear()
        self._judge(store, now)
        last = store.duties.last_done(THINNED)
        if last is None or last > now or now - last >= THIN_EVERY:
            store.readings.thin(now)
            store.duties.done(THINNED, now)
        return new

    def _judge(self, store: Store, now: datetime) -> None:
        """Each hour, say which sensors have something wrong."""
        last = self._judged_at
        if last is None or last > now or now - last >= JUDGE_EVERY:
            self._judged_at = now
            for line in new_troubles(store, now):
                _log.warning("readings: %s", line)

    def _put(self, reading: Reading) -> None:
        with suppress(Full):
            self._waiting.put_nowait(reading)

    def _came(self) -> list[Reading]:
        """What waits. Of a device that sends more often than it is looked, the last is enough, but
        for rain, which adds up."""
        found: dict[object, Reading] = {}
        for _ in range(self._waiting.qsize()):
            try:
                r = self._waiting.get_nowait()
            except Empty:
                break
            adds_up = r.quantity is Quantity.RAIN
            found[len(found) if adds_up else (r.quantity, r.spot, r.tree)] = r
        return list(found.values())

    def _know(self, known: Known) -> None:
        self._known = known
        if self._listener:
            self._listener.known = known

    def _from_file(self, store: Store, now: datetime) -> int:
        path = self._table.file
        if path is None:
            return 0
        try:
            added = read_added(path, store.readings.file_place(str(path)), self._known, now)
        except Fault as fault:
            self._say("file", str(fault))
            return 0
        self._say("file", None)
        with store.transaction():
            new = store.readings.add(added.readings)
            store.readings.keep_file_place(str(path), added.place)
        for complaint in added.complaints:
            _log.warning("%s", complaint)
        return new

    def _hear(self) -> None:
        if self._listener:
            self._say("mqtt", self._listener.trouble)
            for complaint in self._listener.complaints():
                _log.warning("readings: %s", complaint)

    def _say(self, what: str, trouble: str | None) -> None:
        """Log a trouble once, until it is another or over."""
        if trouble is None:
            self._said.pop(what, None)
        elif self._said.get(what) != trouble:
            self._said[what] = trouble
            _log.warning("readings: %s", trouble)
