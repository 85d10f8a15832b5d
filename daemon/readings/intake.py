"""How readings come in: a watched file, posts, a broker. Each tick drains what has come."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from datetime import datetime, timedelta
from queue import Empty, Full, Queue

from underbench.daemon.config.settings import Settings
from underbench.daemon.faults import Fault
from underbench.daemon.outlook.outlook import grown
from underbench.daemon.readings.from_file import read_added
from underbench.daemon.readings.from_http import Server, Taker
from underbench.daemon.readings.from_mqtt import Listener
from underbench.daemon.readings.parse import Known
from underbench.daemon.readings.sensor_report import new_troubles
from underbench.daemon.store.store import Store
from underbench.rules.garden.readings import Quantity, Reading

MOST_WAITING = 10_000
THINNED, THIN_EVERY = "readings thinned", timedelta(days=1)
JUDGE_EVERY = timedelta(hours=1)
NO_TOKEN = (
    "readings.listen is set, but no token: put one into readings_token in the secrets folder, "
    "else no readings are taken"
)

_log = logging.getLogger("underbench")


class Intake:
    """The sources of readings, from ``start`` to ``stop``. Only ``drain`` touches the store, in the
    thread of that; no trouble with a source is raised, each is logged once while it lasts.
    ``settings`` may be replaced by others with the same readings table."""

    def __init__(self, settings: Settings) -> None:
        self.settings, self._table = settings, settings.readings
        self._waiting: Queue[Sequence[Reading]] = Queue(MOST_WAITING)
        self._known = Known.of(settings)
        self._taker: Taker | None = None
        self._server: Server | None = None
        self._listener: Listener | None = None
        self._said: dict[str, str] = {}
        self._judged_at: datetime | None = None

    def start(self) -> None:
        """Begin to take readings; what cannot be is logged."""
        if self._table.listen and self._table.token:
            self._taker = Taker(self._table.token, self._known, self._put)
        self._listen()
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
        if self._server:
            self._server.stop()
        if self._listener:
            self._listener.stop()

    def drain(self, store: Store, now: datetime) -> int:
        """Keep what has come and return how many readings are new. Raises StoreError."""
        self._listen()
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

    def _put(self, readings: Sequence[Reading]) -> bool:
        try:
            self._waiting.put_nowait(readings)
        except Full:
            return False
        return True

    def _came(self) -> list[Reading]:
        """What waits. Of a device that sends more often than it is looked, the last is enough, but
        for rain, which adds up."""
        found: dict[object, Reading] = {}
        for _ in range(self._waiting.qsize()):
            try:
                readings = self._waiting.get_nowait()
            except Empty:
                break
            for r in readings:
                live = r.source == "mqtt" and r.quantity is not Quantity.RAIN
                found[(r.quantity, r.spot, r.tree) if live else len(found)] = r
        return list(found.values())

    def _know(self, known: Known) -> None:
        self._known = known
        for source in (self._taker, self._listener):
            if source:
                source.known = known

    def _listen(self) -> None:
        """Open the port, now or, if another program has it, as soon as that lets go of it."""
        if self._table.listen is None or self._server:
            return
        if self._taker is None:
            self._say("post", NO_TOKEN)
            return
        try:
            self._server = Server(self._table.listen, self._taker)
        except OSError as error:
            host, port = self._table.listen
            self._say("post", f"no readings are taken at {host}:{port}: {error.strerror or error}")
        else:
            self._server.start()
            self._say("post", None)

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
