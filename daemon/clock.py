"""The daemon: one tick on a schedule decides whether a pass is due, and delivers what is queued."""

from __future__ import annotations

import logging
import signal
import traceback
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Event

from apscheduler.events import (
    EVENT_JOB_ERROR,
    EVENT_JOB_MAX_INSTANCES,
    EVENT_JOB_MISSED,
    JobEvent,
)
from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.schedulers.background import BackgroundScheduler

from underbench.daemon.outbox import Services, deliver
from underbench.daemon.passes import run_pass
from underbench.daemon.past import NoPast
from underbench.daemon.settings import Settings
from underbench.daemon.store import Message, Store, StoreError
from underbench.daemon.weather.supply import Supply, SupplyError
from underbench.rules.findings import Strength

TICK_S = 60
RETRY_AFTER = timedelta(minutes=10)
DELIVERY_S = 30.0
LAST_PASS, LAST_TRY = "pass", "pass tried"

_log = logging.getLogger("underbench")


def tick(
    settings: Settings, store: Store, supply: Supply, services: Services, now: datetime
) -> None:
    """Do what is due at ``now``: one pass in each new hour, and whatever waits to be delivered.

    Trouble with weather or store is logged as one line and tried again some minutes later.
    """
    try:
        if _pass_due(store, now):
            store.done(LAST_TRY, now)
            _pass(settings, store, supply, now)
            store.done(LAST_PASS, now)
    except (SupplyError, NoPast) as error:
        _log.error("%s", error)
        store.queue(_blind(str(error), now))
    except StoreError:
        raise
    except Exception as error:  # a fault of ours must not leave the keeper in the dark
        kind = type(error).__name__
        _log.error("a pass failed: %s in %s", kind, _where(error))
        store.queue(_blind(f"an error inside ({kind}); please report it", now))
    for failure in deliver(store, services, now, DELIVERY_S).failed:
        _log.warning("not delivered to %s: %s", failure.service, failure.reason)


def _where(error: BaseException) -> str:
    """The innermost place of an error, without its text, which may hold secrets."""
    frames = traceback.extract_tb(error.__traceback__)
    return f"{Path(frames[-1].filename).name}:{frames[-1].lineno}" if frames else "nowhere"


def _pass_due(store: Store, now: datetime) -> bool:
    last, tried = store.last_done(LAST_PASS), store.last_done(LAST_TRY)
    if tried and timedelta(0) <= now - tried < RETRY_AFTER:
        return False
    return last is None or last > now or _hour(last) != _hour(now)


def _hour(moment: datetime) -> datetime:
    return moment.replace(minute=0, second=0, microsecond=0)


def _pass(settings: Settings, store: Store, supply: Supply, now: datetime) -> None:
    done = run_pass(settings, store, supply, now)
    if done.outlook.supplied.problem:
        _log.warning("%s", done.outlook.supplied.problem)
    for told in done.told:
        _log.info("told: %s", told.message.title)


def _blind(why: str, now: datetime) -> Message:
    """What the keeper has to know once a day while there is no forecast at all to judge by."""
    return Message(
        key=f"blind {now:%Y-%m-%d}",
        title="NO FORECAST: watch the weather yourself",
        body=f"Underbench cannot judge the coming nights: {why[:300]}. It keeps trying.",
        strength=Strength.DANGER,
        queued_at=now,
    )


class _Watch:
    """The garden's one worker: its store belongs to the thread that ticks, so it opens there."""

    def __init__(
        self,
        settings: Settings,
        services: Services,
        open_store: Callable[[], Store],
        make_supply: Callable[[Store], Supply],
    ) -> None:
        self._settings, self._services = settings, services
        self._open_store, self._make_supply = open_store, make_supply
        self._opened: tuple[Store, Supply] | None = None

    def tick(self) -> None:
        """Tick at the present moment."""
        try:
            if self._opened is None:
                store = self._open_store()
                self._opened = store, self._make_supply(store)
            store, supply = self._opened
            tick(self._settings, store, supply, self._services, datetime.now(UTC))
        except StoreError as error:
            _log.error("%s", error)


def run(
    settings: Settings,
    services: Services,
    open_store: Callable[[], Store],
    make_supply: Callable[[Store], Supply],
) -> None:
    """Run until SIGTERM or SIGINT; a pass in progress is finished first."""
    stop = Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda _number, _frame: stop.set())
    scheduler = BackgroundScheduler(
        timezone=UTC,
        executors={"default": ThreadPoolExecutor(1)},
        job_defaults={"coalesce": True, "max_instances": 1, "misfire_grace_time": None},
    )
    scheduler.add_listener(
        _on_trouble, EVENT_JOB_ERROR | EVENT_JOB_MISSED | EVENT_JOB_MAX_INSTANCES
    )
    watch = _Watch(settings, services, open_store, make_supply)
    scheduler.add_job(watch.tick, "interval", seconds=TICK_S, next_run_time=datetime.now(UTC))
    scheduler.start()
    _log.info("watching %s, trees: %d", settings.garden.name, len(settings.trees))
    stop.wait()
    scheduler.shutdown(wait=True)


def _on_trouble(event: JobEvent) -> None:
    """Say that a tick failed; of an unforeseen error its kind only: its text may hold secrets."""
    error = getattr(event, "exception", None)
    _log.error("a tick failed: %s", type(error).__name__ if error else "late, or overlapping")
