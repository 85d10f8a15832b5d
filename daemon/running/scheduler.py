"""The daemon: each tick runs a pass if one is due, and delivers what is queued."""

from __future__ import annotations

import logging
import os
import signal
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from threading import Event

from apscheduler.events import (
    EVENT_JOB_ERROR,
    EVENT_JOB_MAX_INSTANCES,
    EVENT_JOB_MISSED,
    JobEvent,
)
from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.job import Job
from apscheduler.schedulers.background import BackgroundScheduler

from underbench.daemon.alerts.hourly_pass import run_pass
from underbench.daemon.alerts.scheduled_messages import round_up_due, say
from underbench.daemon.alerts.to_do import to_do
from underbench.daemon.alerts.untaken import open_again
from underbench.daemon.config.reloading import Reloading
from underbench.daemon.config.settings import Settings
from underbench.daemon.delivery.mqtt_publisher import Publisher
from underbench.daemon.delivery.outbox import DELIVERY_S, Services, deliver, manner_of, send_unkept
from underbench.daemon.faults import place_of
from underbench.daemon.outlook.checkpoints import NoPast
from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.outlook.past_years import bring_years
from underbench.daemon.page.last_pass import keep_ahead
from underbench.daemon.readings.intake import Intake
from underbench.daemon.store.backup import write_again
from underbench.daemon.store.duties import LAST_PASS, LAST_TRY
from underbench.daemon.store.store import Message, Store, StoreError
from underbench.daemon.systemd_notify import ALIVE, READY, STOPPING, notify
from underbench.daemon.views.machine import NOT_SET, is_set
from underbench.daemon.weather.provider import SupplyError
from underbench.daemon.weather.supply import Supply
from underbench.rules.garden.local_time import local_day, quiet_until
from underbench.rules.hazards.findings import Strength

TICK_S = 60
UNKEPT_AFTER = timedelta(hours=1)  # a store may fail for so long before the keeper hears of it
UNKEPT_AGAIN = timedelta(days=1)
RETRY_AFTER = timedelta(minutes=10)
PUT_BACK, REPLACED = "it is put back", "another is in its place"
ADVICE_ON = {
    PUT_BACK: "All notes are written there again. You need do nothing.",
    REPLACED: "Underbench goes on with the file that is there now.",
}

_log = logging.getLogger("underbench")


def tick(
    settings: Settings,
    store: Store,
    supply: Supply,
    services: Services,
    now: datetime,
    publish: Callable[[Outlook], None] = lambda _outlook: None,
    *,
    look: bool = False,
) -> None:
    """Do what is due at ``now``: one pass in each new hour, and the delivery of what is queued.
    ``publish`` is given what a pass saw. ``look``: a pass is due whatever the hour.

    Trouble with the weather is logged as one line, and the pass is tried again some minutes later.
    Raises StoreError.
    """
    open_again(settings, store, now)
    try:
        if _pass_due(settings, store, now, look):
            store.duties.done(LAST_TRY, now)
            seen = _pass(settings, store, supply, now)
            store.duties.done(LAST_PASS, now)
            publish(seen)
    except (SupplyError, NoPast) as error:
        _log.error("%s", error)
        _cry_blind(settings, store, str(error), now)
    except StoreError:
        raise
    except Exception as error:  # a fault of ours must not leave the keeper in the dark
        kind = type(error).__name__
        _log.error("a pass failed: %s in %s", kind, place_of(error))
        _cry_blind(settings, store, f"an error inside ({kind}); please report it", now)
    for failure in deliver(store, services, now, DELIVERY_S, manner_of(settings)).failed:
        _log.warning("not delivered to %s: %s", failure.service, failure.reason)


def _pass_due(settings: Settings, store: Store, now: datetime, look: bool) -> bool:
    last, tried = store.duties.last_done(LAST_PASS), store.duties.last_done(LAST_TRY)
    if tried and timedelta(0) <= now - tried < RETRY_AFTER:
        return False
    new_hour = last is None or last > now or _hour(last) != _hour(now)
    return look or new_hour or round_up_due(settings, store, now)


def _hour(moment: datetime) -> datetime:
    return moment.replace(minute=0, second=0, microsecond=0)


def _pass(settings: Settings, store: Store, supply: Supply, now: datetime) -> Outlook:
    done = run_pass(settings, store, supply, now)
    keep_ahead(store, done)
    if any(at.layer for at in done.outlook.standing) and round_up_due(settings, store, now):
        # The frosts of earlier years decide when a layer may be severed.
        bring_years(store, settings.garden, supply.archive, now)
    for message in (*done.messages, *say(done, settings, store, now)):
        _log.info("told: %s", message.title)
    return done.outlook


def _cry_blind(settings: Settings, store: Store, why: str, now: datetime) -> None:
    """Tell the keeper once a day, outside quiet hours: at night nobody can look elsewhere."""
    zone = settings.garden.timezone
    if quiet_until(settings.hands_on, now, zone) is None:
        store.messages.queue(_blind(why, local_day(now, zone), now))


def _blind(why: str, day: date, now: datetime) -> Message:
    """The message while there is no forecast to judge by."""
    return Message(
        key=f"blind {day}",
        title="NO FORECAST: watch the weather yourself",
        body=f"Underbench cannot judge the coming nights: {why[:300]}. It keeps trying.",
        strength=Strength.DANGER,
        queued_at=now,
    )


def _unkept(why: str, now: datetime) -> Message:
    """The message while nothing can be kept, so that nothing is judged or queued."""
    return Message(
        key=f"unkept {now:%Y-%m-%d}",
        title="UNDERBENCH CANNOT WRITE: watch the weather yourself",
        body=f"For an hour nothing could be kept, so nothing is judged or told: {why[:300]}. "
        "It keeps trying.",
        strength=Strength.DANGER,
        queued_at=now,
    )


def _gone(database: str, fate: str, now: datetime) -> Message:
    """The message after the database was deleted while in use."""
    return Message(
        key=f"gone {now:%Y-%m-%dT%H:%M:%SZ}",
        title=f"THE DATABASE WAS DELETED: {fate}",
        body=f"The file {database[:300]} was gone while Underbench watched. {ADVICE_ON[fate]} "
        "Stop Underbench before you move or delete its database.",
        strength=Strength.ACT,
        queued_at=now,
    )


def _misread(problem: str, now: datetime) -> Message:
    """The message on why the garden's changed file cannot be used."""
    first, *more = problem.splitlines()
    others = f" (and {len(more)} more)" if more else ""
    return Message(
        key=f"misread {now:%Y-%m-%dT%H:%M:%SZ}",
        title="THE GARDEN'S FILE CANNOT BE USED: what it said before still holds",
        body=f"{first[:600]}{others}. Until it is put right the garden is watched as it was.",
        strength=Strength.ACT,
        queued_at=now,
    )


class Watch:
    """The garden's one worker. Its store belongs to the thread that ticks, so it opens there."""

    def __init__(
        self,
        garden: Reloading,
        services: Callable[[Settings], Services],
        open_store: Callable[[], Store],
        make_supply: Callable[[Store], Supply],
    ) -> None:
        self._garden, self._make_services = garden, services
        self._settings = garden.settings()
        self._services = services(self._settings)
        self._intake = Intake(self._settings)
        self._publisher = Publisher(self._settings)
        self._open_store, self._make_supply = open_store, make_supply
        self._opened: tuple[Store, Supply] | None = None
        self._failing_since: datetime | None = None
        self._cried_at: datetime | None = None
        self._said_misread: str | None = None
        self._set = True

    def tick(self, now: datetime) -> None:
        """Tick at ``now``. Trouble with the store is logged as one line. If it lasts, the keeper is
        told without the store. Nothing is done while the clock cannot be right."""
        if not self._clock_is_set(now):
            return
        try:
            if self._opened and self._opened[0].is_gone():
                self._bring_back(self._opened[0], now)
            self._reread(now)
            store, supply = self._opened or self._open()
            self._say_misread(store, now)
            self._drain(store, now)
            # Who begins to publish does not wait for the next hour with an empty broker.
            look = self._publisher.waits_for_a_pass
            tick(self._settings, store, supply, self._services, now, self._publish, look=look)
            self._publish_jobs(store, now)
        except StoreError as error:
            _log.error("%s", error)
            if not (self._opened and self._opened[0].is_gone()):  # else all notes go with it
                self.close()  # the next tick opens what is there by then, such as a backup put back
            self._cry(str(error), now)
        else:
            self._failing_since = self._cried_at = None

    def _clock_is_set(self, now: datetime) -> bool:
        was_set, self._set = self._set, is_set(now)
        if was_set and not self._set:
            _log.error(NOT_SET.format(now))
        return self._set

    def _drain(self, store: Store, now: datetime) -> None:
        """Take in the garden's own readings. An error in that must not cost a pass."""
        try:
            self._intake.drain(store, now)
        except StoreError:
            raise
        except Exception as error:
            _log.error("readings failed: %s in %s", type(error).__name__, place_of(error))

    def _publish(self, outlook: Outlook) -> None:
        """Publish what a pass saw."""
        self._unfailing(lambda: self._publisher.publish(outlook))

    def _unfailing(self, publish: Callable[[], None]) -> None:
        """Publish. An error in that does not fail the pass."""
        try:
            publish()
        except Exception as error:
            _log.error("publishing failed: %s in %s", type(error).__name__, place_of(error))

    def _publish_jobs(self, store: Store, now: datetime) -> None:
        """Publish what is still to do. The keeper may have noted it since the last pass."""
        jobs = to_do(store.episodes.since(now), now, self._settings.garden.timezone)
        self._unfailing(lambda: self._publisher.publish_jobs(jobs))

    def begin(self) -> None:
        """Begin to take readings and to publish, as the garden's file says."""
        self._intake.start()
        self._publisher.start()

    def end(self, now: datetime) -> None:
        """Stop taking readings and publishing. Readings since the last tick are kept. May be called
        from any thread."""
        self._intake.stop()
        self._publisher.stop()
        try:
            with self._open_store() as store:
                self._drain(store, now)
        except StoreError as error:
            _log.error("%s", error)

    def close(self) -> None:
        """Close the store. The next tick opens it anew."""
        if self._opened:
            self._opened[0].close()
        self._opened = None

    def _reread(self, now: datetime) -> None:
        """Take up the keeper's changes to the garden's file. Steps that can fail come first."""
        settings, before = self._garden.settings(), self._settings
        if settings is before:
            return
        if self._opened:
            self._drain(self._opened[0], now)  # readings that came under the old file
        if _addresses(settings) != _addresses(before):
            # Unchanged services are kept: they know what hangs, and which answers came late.
            self._services = self._make_services(settings)
        _log.info("the garden's file has changed, trees: %d", len(settings.trees))
        self._settings = settings
        self.close()  # the garden may be at another place now
        self._retake(before)
        self._republish(before)

    def _retake(self, before: Settings) -> None:
        """Take readings as the file now has it."""
        if self._settings.readings == before.readings:
            self._intake.settings = self._settings
            return
        self._intake.stop()
        self._intake = Intake(self._settings)
        self._intake.start()

    def _republish(self, before: Settings) -> None:
        """Publish to where the file now says, and withdraw from where it said before."""
        fresh, old = self._settings, before
        if (fresh.publish, fresh.garden.name) == (old.publish, old.garden.name):
            return
        self._publisher.withdraw()
        self._publisher = Publisher(fresh)
        self._publisher.start()

    def _say_misread(self, store: Store, now: datetime) -> None:
        problem = self._garden.problem()
        if problem and problem != self._said_misread:
            store.messages.queue(_misread(problem, now))
            _log.error("the garden's file is not taken up: %s", problem)
        self._said_misread = problem

    def _bring_back(self, gone: Store, now: datetime) -> None:
        """Write a deleted database to its place again, and tell the keeper what became of it."""
        fate = PUT_BACK if write_again(gone) else REPLACED
        _log.error("%s is gone: %s", gone.path, fate)
        self._opened = None
        store, _ = self._open()
        store.messages.queue(_gone(gone.path.name, fate, now))

    def _open(self) -> tuple[Store, Supply]:
        store = self._open_store()
        self._opened = store, self._make_supply(store)
        return self._opened

    def _cry(self, why: str, now: datetime) -> None:
        if self._failing_since is None or self._failing_since > now:
            self._failing_since = now
        cried = self._cried_at
        said = cried is not None and timedelta(0) <= now - cried < UNKEPT_AGAIN
        if now - self._failing_since < UNKEPT_AFTER or said:
            return
        if send_unkept(self._services, _unkept(why, now), DELIVERY_S):
            self._cried_at = now


def _addresses(settings: Settings) -> tuple[object, ...]:
    """The addresses of all push services."""
    telling = settings.telling
    return telling.urls, telling.danger_urls, settings.stand_in_urls


def run(
    garden: Reloading,
    services: Callable[[Settings], Services],
    open_store: Callable[[], Store],
    make_supply: Callable[[Store], Supply],
) -> None:
    """Run until SIGTERM or SIGINT. A pass in progress is finished first."""
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
    settings = garden.settings()
    watch = Watch(garden, services, open_store, make_supply)

    def ticking() -> None:
        watch.tick(datetime.now(UTC))
        notify(ALIVE, os.environ)  # after a tick that hangs, systemd starts the daemon anew

    job = scheduler.add_job(
        ticking,
        "interval",
        seconds=TICK_S,
        next_run_time=datetime.now(UTC),
    )
    watch.begin()
    scheduler.start()
    notify(READY, os.environ)
    _log.info("watching %s, trees: %d", settings.garden.name, len(settings.trees))
    while not stop.wait(TICK_S):
        catch_up(job, datetime.now(UTC))
    notify(STOPPING, os.environ)
    scheduler.shutdown(wait=True)
    watch.end(datetime.now(UTC))


def catch_up(job: Job, now: datetime) -> None:
    """Run the job at once if its turn is further off than a tick. Then the clock was set back, and
    the scheduler would sleep for as long."""
    due = job.next_run_time
    if due is not None and due - now > timedelta(seconds=TICK_S):
        job.modify(next_run_time=now)


def _on_trouble(event: JobEvent) -> None:
    """Log that a tick failed. Of an unforeseen error only the kind is logged: its text may hold
    secrets."""
    error = getattr(event, "exception", None)
    _log.error("a tick failed: %s", type(error).__name__ if error else "late, or overlapping")
