"""``underbench told``: each message, when and to whom it was sent, and whether it arrived."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from textwrap import indent
from typing import Any
from zoneinfo import ZoneInfo

from underbench.daemon.config.people_tables import KEEPER
from underbench.daemon.delivery.push_services import Services
from underbench.daemon.store.message_queue import STALE_AFTER, Record, Tries
from underbench.daemon.wording.json_form import document, part
from underbench.daemon.wording.units import Units

NOTHING = "Nothing was said in these days."
INDENT = "    "


class ToldView:
    """The record of messages as shown at ``now``: by the garden's clock, newest first. Services
    are shown by name, never by address."""

    def __init__(
        self,
        records: Sequence[Record],
        services: Services,
        timezone: str,
        units: Units,
        now: datetime,
    ) -> None:
        self._records = sorted(records, key=lambda one: one.message.queued_at, reverse=True)
        self._services, self._zone, self._units = services, ZoneInfo(timezone), units
        self._now = now

    def text(self, full: bool) -> str:
        """Return the record for reading: whole messages with ``full``, else their titles."""
        return "\n".join("\n".join(self._lines(one, full)) for one in self._records) or NOTHING

    def as_json(self) -> str:
        """Return the record for programs: moments in UTC, all but the pictures."""
        return document({"messages": self.items()})

    def items(self) -> list[dict[str, Any]]:
        """Return each message and its deliveries, newest first."""
        return [self._told(one) for one in self._records]

    def _lines(self, record: Record, full: bool) -> Iterator[str]:
        message = record.message
        at = message.queued_at.astimezone(self._zone)
        to = "" if message.to == (KEEPER,) else f" (to {', '.join(message.to)})"
        yield f"{self._dated(at)}  {message.title}{to}"
        if full:
            yield indent(message.body, INDENT)
        for service, tries in self._deliveries(record).items():
            yield f"{INDENT}{self._services.label(service)}: {self._how(record, tries)}"
        if not self._deliveries(record):
            yield f"{INDENT}given up: no service was there to take it"

    def _told(self, record: Record) -> dict[str, Any]:
        message = record.message
        return {
            "at": message.queued_at,
            **part(message, "kind", "strength", "to", "title", "body"),
            "deliveries": [
                {
                    "service": self._services.label(service),
                    "attempts": tries.attempts if tries else 0,
                    "tried_at": tries and tries.tried_at,
                    "delivered_at": tries and tries.delivered_at,
                    "reason": tries and tries.reason,
                    "how": self._how(record, tries),
                }
                for service, tries in self._deliveries(record).items()
            ],
        }

    def _deliveries(self, record: Record) -> dict[str, Tries | None]:
        """The tries by service; None for a service that is still to be tried."""
        waiting = () if record.stale(self._now) else self._services.first(record.message.to)
        return {**dict.fromkeys(waiting), **record.tries}

    def _how(self, record: Record, tries: Tries | None) -> str:
        if tries is None:
            return "waiting"
        if tries.delivered_at:
            return f"delivered {self._clock(record, tries.delivered_at)}"
        times = "once" if tries.attempts == 1 else f"{tries.attempts} times"
        failed = f"failed {times}, {tries.reason or 'cut off, no answer is known'}"
        if tries.spent(record.message.strength):
            return f"given up, {failed}"
        last = max(tries.next_try, self._now)
        if last >= record.message.queued_at + STALE_AFTER:
            return f"given up, {failed}"
        return f"{failed}; next try {self._clock(record, last)}"

    def _clock(self, record: Record, moment: datetime) -> str:
        """The time, with the day if that is not the message's."""
        at, said = moment.astimezone(self._zone), record.message.queued_at.astimezone(self._zone)
        same = at.date() == said.date()
        return self._units.clock(at) if same else self._dated(at)

    def _dated(self, at: datetime) -> str:
        return f"{at:%a} {at.day} {at:%b} {self._units.clock(at)}"
