"""The demo: the real path through an invented week, hour by hour, told in the terminal."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from importlib.resources import files
from itertools import groupby
from pathlib import Path
from tempfile import TemporaryDirectory
from zoneinfo import ZoneInfo

from underbench.daemon.alerts.compose import Said, Told
from underbench.daemon.alerts.hourly_pass import run_pass
from underbench.daemon.alerts.message_kinds import Kind
from underbench.daemon.config.settings import Settings, load
from underbench.daemon.delivery.outbox import Services, deliver, manner_of
from underbench.daemon.demo import week
from underbench.daemon.journal.noting import note
from underbench.daemon.store.store import Store
from underbench.daemon.weather.openmeteo import OpenMeteo
from underbench.daemon.weather.standin import Answerer, Query, Reply, StandIn, serving
from underbench.daemon.weather.supply import Supply
from underbench.rules.advice.advice import Advice
from underbench.rules.garden.inventory import Garden
from underbench.rules.garden.journal import (
    Entry,
    Handled,
    Move,
    Sighting,
    Stage,
    Watering,
    Work,
    WorkKind,
)
from underbench.rules.garden.local_time import hands_on_between
from underbench.rules.hazards.hazard import Action

Echo = Callable[[str], None]

DAYS = 8
# By the local clock: every hour by day, as the daemon itself; at night every third, to be quick.
HOURS = (0, 3, *range(6, 22))
START_HOUR = 7  # on the first day
LAST_DAY = week.WEEK + timedelta(DAYS - 1)
DELIVERY_S = 5.0
SHADY_SPOT = "north side"
HOUR = timedelta(hours=1)

OPENING = """\
Underbench, shown on an invented week in an invented garden: {trees} trees at {garden}, in the
hills of the Jura. Odile keeps them; she is there before work and from six in the evening, and
goes away on Saturday night. The weather is made up; everything else is what runs at home:
settings, forecasts over HTTP (from this machine's own loopback), physics, memory, delivery.
"""
CLOSING = """\
That was the week: {messages} messages. To start with your own garden:
  1. underbench init              asks the place, your spots and trees, your phone's push address
     (or copy config_examples/first_garden.toml and write them in)
  2. underbench check             is the file right, and what was worked out from it?
  3. underbench once --dry-run    what would be told now?
  4. underbench run               from here on it tells you only what needs doing."""


def run_demo(echo: Echo = print) -> None:
    """Run the invented week and tell it through ``echo``; messages go to the terminal by Apprise.

    Everything is done in a temporary directory and on the loopback.
    """
    with TemporaryDirectory(prefix="underbench-demo-") as folder:
        config = Path(folder) / "garden.toml"
        config.write_text(
            files("underbench.daemon.demo").joinpath("garden.toml").read_text("utf-8"), "utf-8"
        )
        clock = Clock(datetime.min.replace(tzinfo=UTC))
        with StandIn(_forecasts(load(config, {}).garden, clock)) as service:
            here = {"UNDERBENCH_WEATHER__BASE_URL": service.url}
            settings = load(config, here | {"UNDERBENCH_STORE__PATH": "demo.db"})
            with Store.open(settings.store_path) as store:
                store.add(journal(settings.garden))
                _live_through(settings, store, clock, echo)


@dataclass
class Clock:
    """The demo's time: it stands still until it is set."""

    now: datetime


def _forecasts(garden: Garden, clock: Clock) -> Answerer:
    real, plain = week.truth(garden), week.usual(garden)

    def answer(query: Query) -> bytes | Reply:
        issued = week.forecast(real, plain, clock.now)
        return serving(issued, lambda: clock.now)(query)

    return answer


def journal(garden: Garden) -> list[Entry]:
    """Return what was done and seen in the weeks before, as the keeper would have entered it."""
    zone = ZoneInfo(garden.timezone)

    def at(month: int, day: int) -> datetime:
        return datetime(2026, month, day, 11, tzinfo=zone)

    return [
        Work(tree="Forgeron", at=at(3, 1), work=WorkKind.CHOP),
        Work(tree="Torrent", at=at(3, 28), work=WorkKind.REPOT, roots_pct=30),
        Work(tree="Marcotte", at=at(4, 4), work=WorkKind.SEVER_LAYER),
        Work(tree="Forgeron", at=at(4, 5), work=WorkKind.BAG),
        Work(tree="Veilleur", at=at(4, 6), work=WorkKind.REPOT, roots_pct=25),
        Work(tree="Sapeur", at=at(4, 11), work=WorkKind.SLIP_POT),
        Sighting(tree="Forgeron", at=at(4, 18), stage=Stage.DORMANT),
    ]


def _live_through(settings: Settings, store: Store, clock: Clock, echo: Echo) -> None:
    weather = settings.weather
    provider = OpenMeteo(weather.base_url, weather.api_key, weather.contact, weather.timeout_s)
    supply = Supply(provider, settings.garden, store)
    services = Services(settings.telling.urls)
    keeper = Keeper(settings, store, echo)
    zone = ZoneInfo(settings.garden.timezone)
    echo(OPENING.format(trees=len(settings.trees), garden=settings.garden.name))
    messages = 0
    for day, hours in groupby(_hours(zone), key=lambda now: now.astimezone(zone).date()):
        before = messages
        for clock.now in hours:
            keeper.act(clock.now)
            told = run_pass(settings, store, supply, clock.now).all_said
            if told:
                echo(f"— {_dated(day)} {clock.now.astimezone(zone):%H:%M} —")
                deliver(store, services, clock.now, DELIVERY_S, manner_of(settings))
                keeper.hear(told, clock.now)
                messages += len(told)
        if messages == before and day != LAST_DAY:
            echo(_quiet_line(day, keeper))
    echo(CLOSING.format(messages=messages))


def _hours(zone: ZoneInfo) -> Iterator[datetime]:
    for number in range(DAYS):
        day = week.WEEK + timedelta(number)
        begins = 0 if number else START_HOUR
        for hour in (h for h in HOURS if h >= begins):
            yield datetime(day.year, day.month, day.day, hour, tzinfo=zone).astimezone(UTC)


def _quiet_line(day: date, keeper: Keeper) -> str:
    held = "All told already" if keeper.waits else "Nothing due"
    return f"{_dated(day)}: {week.day_of(day).words}. {held}; no message.\n"


def _dated(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"


@dataclass(frozen=True)
class Plan:
    """Something the keeper means to do, and how she will note it."""

    at: datetime
    words: str
    entries: Sequence[Entry]


@dataclass
class Keeper:
    """Invented, and obliging: does what she is told, when she is there, and notes it."""

    settings: Settings
    store: Store
    echo: Echo
    plans: list[Plan] = field(default_factory=list)

    @property
    def waits(self) -> bool:
        """Whether something told is still to be done."""
        return bool(self.plans)

    def hear(self, said: Iterable[Told | Said], now: datetime) -> None:
        """Plan to do what was told, as she is there last before its deadline, or at once."""
        for one in said:
            if isinstance(one, Told):
                at = self._when(one.advice, now)
                plan = {Action.WATER: self._water, Action.VENT: self._shade}.get(one.advice.action)
                (plan or self._protect)(one.advice, at)
            elif one.kind is Kind.BACK:
                self._put_back(one.trees, now)
            elif one.kind is Kind.STAND_DOWN:
                self._leave(one.trees)

    def _when(self, advice: Advice, now: datetime) -> datetime:
        hands_on, zone = self.settings.hands_on, self.settings.garden.timezone
        by = max(now, advice.do_by)
        hours = hands_on_between(hands_on, now, by, zone) if advice.in_hand else []
        return hours[-1].start if hours else by

    def act(self, now: datetime) -> None:
        """Do what is planned up to now."""
        for plan in sorted((p for p in self.plans if p.at <= now), key=lambda p: p.at):
            zone = ZoneInfo(self.settings.garden.timezone)
            self.echo(f"  ({plan.at.astimezone(zone):%a %H:%M}: {plan.words}.)\n")
            note(self.store, self.settings, plan.entries)
            self.plans.remove(plan)

    def _water(self, advice: Advice, at: datetime) -> None:
        """On each day that was told, at the hour of the first."""
        who = "Odile" if advice.in_hand else "Bastien from next door"
        trees = [job.tree for job in advice.jobs]
        for number in range(len({finding.span for finding in advice.findings})):
            when = at + number * timedelta(days=1)
            cans = [Watering(tree=tree, at=when) for tree in trees]
            self.plans.append(Plan(when, f"{who} waters {_listed(trees)}", cans))

    def _shade(self, advice: Advice, at: datetime) -> None:
        trees = [job.tree for job in advice.jobs]
        moves = [Move(tree=tree, at=at, spot=SHADY_SPOT) for tree in trees]
        words = f"Odile puts {_listed(trees)} on the {SHADY_SPOT}, notes it and leaves it there"
        self.plans.append(Plan(at, words, moves))

    def _protect(self, advice: Advice, at: datetime) -> None:
        """Trees go in before the deadline."""
        told = [job for job in advice.jobs if job.choice]
        if not told:
            return
        into = {job.tree: job.into for job in told if job.into}
        rest = [job.tree for job in told if job.tree not in into]
        did = [f"carries {_listed(into)} in and notes it"] if into else []
        did += [f"sees to {_listed(rest)} and says so"] if rest else []
        moves = [Move(tree=tree, at=at, spot=spot) for tree, spot in into.items()]
        done = [Handled(tree=tree, at=at) for tree in rest]
        self.plans.append(Plan(at, f"Odile {', '.join(did)}", [*moves, *done]))

    def _put_back(self, trees: Sequence[str], now: datetime) -> None:
        homes = {tree.name: tree.spot for tree in self.settings.trees}
        moves = [Move(tree=tree, at=now, spot=homes[tree]) for tree in trees]
        self.plans.append(Plan(now, f"Odile puts {_listed(trees)} back", moves))

    def _leave(self, trees: Sequence[str]) -> None:
        """What was called off is not done."""
        for plan in list(self.plans):
            if {entry.tree for entry in plan.entries} <= set(trees):
                self.plans.remove(plan)


def _listed(names: Iterable[str]) -> str:
    *most, last = names
    return f"{', '.join(most)} and {last}" if most else last
