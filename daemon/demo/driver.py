"""The demo: the real path through an invented week, hour by hour, told in the terminal."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from importlib.resources import files
from itertools import groupby
from pathlib import Path
from tempfile import TemporaryDirectory
from zoneinfo import ZoneInfo

from underbench.daemon.demo import week
from underbench.daemon.outbox import Services, deliver
from underbench.daemon.passes import Told, run_pass
from underbench.daemon.settings import Settings, load
from underbench.daemon.store import Store
from underbench.daemon.weather.openmeteo import OpenMeteo
from underbench.daemon.weather.standin import Answerer, Query, StandIn, serving
from underbench.daemon.weather.supply import Supply
from underbench.rules.advice import Advice
from underbench.rules.findings import Action
from underbench.rules.garden import Garden
from underbench.rules.hours import local_day
from underbench.rules.journal import Entry, Move, Sighting, Stage, Watering, Work, WorkKind

Echo = Callable[[str], None]

DAYS = 8
FIRST_HOUR, LAST_HOUR = 7, 21  # by the local clock; at night a pass every third hour
NIGHT_HOURS = (0, 3)
DELIVERY_S = 5.0
HOUR = timedelta(hours=1)

OPENING = """\
Underbench, shown on an invented week in an invented garden: {trees} trees at {garden}, in the
hills of the Jura. Odile keeps them; she is there before work and from six in the evening, and
goes away on Saturday night. The weather is made up; everything else is what runs at home:
settings, forecasts over HTTP (from this machine's own loopback), physics, memory, delivery.
"""
CLOSING = """\
That was the week. To start with your own garden:
  1. Copy config_examples/first_garden.toml and set the place, your spots and your trees.
  2. Add a push address under [telling], so that it reaches your phone.
  3. underbench check             is the file right, and what was worked out from it?
  4. underbench once --dry-run    what would be told now?
  5. underbench run               from here on it tells you only what needs doing."""


def run_demo(echo: Echo = print) -> None:
    """Run the invented week and tell it through ``echo``; messages go to the terminal by Apprise.

    Everything is done in a temporary directory and on the loopback.
    """
    with TemporaryDirectory(prefix="underbench-demo-") as folder:
        config = Path(folder) / "garden.toml"
        config.write_text(files(__package__).joinpath("garden.toml").read_text("utf-8"), "utf-8")
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

    def answer(query: Query) -> bytes:
        issued = week.forecast(real, plain, clock.now)
        body = serving(issued, lambda: clock.now)(query)
        assert isinstance(body, bytes)
        return body

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
        Work(tree="Veilleur", at=at(4, 6), work=WorkKind.REPOT, roots_pct=30),
        Work(tree="Sapeur", at=at(4, 11), work=WorkKind.SLIP_POT),
        Sighting(tree="Forgeron", at=at(4, 18), stage=Stage.DORMANT),
    ]


def _live_through(settings: Settings, store: Store, clock: Clock, echo: Echo) -> None:
    weather = settings.weather
    provider = OpenMeteo(weather.base_url, weather.api_key, weather.contact, weather.timeout_s)
    supply = Supply(provider, settings.garden, store)
    services = Services(settings.telling_urls)
    keeper = Keeper(settings, store, echo)
    zone = ZoneInfo(settings.garden.timezone)
    echo(OPENING.format(trees=len(settings.trees), garden=settings.garden.name))
    for day, hours in groupby(_hours(zone), key=lambda now: now.astimezone(zone).date()):
        quiet = True
        for clock.now in hours:
            keeper.act(clock.now)
            told = run_pass(settings, store, supply, clock.now).told
            if told:
                quiet = False
                echo(f"— {clock.now.astimezone(zone):%a %-d %b %H:%M} —")
                deliver(store, services, clock.now, DELIVERY_S)
                keeper.hear(told, clock.now)
        if quiet:
            echo(_quiet_line(day, keeper))
    echo(CLOSING)


def _hours(zone: ZoneInfo) -> Iterator[datetime]:
    for number in range(DAYS):
        day = week.WEEK + timedelta(number)
        clocks = [*NIGHT_HOURS, *range(FIRST_HOUR, LAST_HOUR + 1)]
        for hour in clocks if number else clocks[len(NIGHT_HOURS) :]:
            yield datetime(day.year, day.month, day.day, hour, tzinfo=zone).astimezone(UTC)


def _quiet_line(day: date, keeper: Keeper) -> str:
    held = "All told already" if keeper.waits else "Nothing due"
    return f"{day:%a %-d %b}: {week.day_of(day).words}. {held}; no message.\n"


@dataclass
class Keeper:
    """Invented, and obliging: does what she is told, when she is there, and notes it."""

    settings: Settings
    store: Store
    echo: Echo
    plans: list[tuple[datetime, str, list[Entry]]] = field(default_factory=list)

    @property
    def waits(self) -> bool:
        """Whether something told is still to be done."""
        return bool(self.plans)

    def hear(self, told: Iterable[Told], now: datetime) -> None:
        """Plan for the deadlines of what was told."""
        for one in told:
            advice = one.advice
            do = {Action.WATER: self._water, Action.PROTECT: self._carry}.get(advice.action)
            if do:
                do(advice, now)

    def act(self, now: datetime) -> None:
        """Do what is planned up to now."""
        for plan in sorted(p for p in self.plans if p[0] <= now):
            at, words, entries = plan
            zone = ZoneInfo(self.settings.garden.timezone)
            self.echo(f"  ({at.astimezone(zone):%a %H:%M}: {words}.)\n")
            self.store.add(entries)
            self.plans.remove(plan)

    def _carry(self, advice: Advice, now: datetime) -> None:
        """In before the deadline, and home again at the moment that was told."""
        into = {
            job.tree: job.choice.remedy.takes_room_in
            for job in advice.jobs
            if job.choice and job.choice.remedy.takes_room_in
        }
        if not into or advice.back_at is None:
            return
        at = max(now, advice.do_by - HOUR)
        moves: list[Entry] = [Move(tree=t, at=at, spot=s) for t, s in into.items()]
        self.plans.append((at, f"Odile carries {_listed(into)} in", moves))
        home = {tree.name: tree.spot for tree in self.settings.trees if tree.name in into}
        back: list[Entry] = [Move(tree=t, at=advice.back_at, spot=s) for t, s in home.items()]
        self.plans.append((advice.back_at, f"Odile puts {_listed(home)} back out", back))

    def _water(self, advice: Advice, now: datetime) -> None:
        at = max(now, advice.do_by - HOUR)
        who = "Odile" if advice.in_hand else "Bastien from next door"
        trees = [job.tree for job in advice.jobs]
        cans: list[Entry] = [Watering(tree=tree, at=at) for tree in trees]
        self.plans.append((at, f"{who} waters {_listed(trees)}", cans))


def _listed(names: Iterable[str]) -> str:
    *most, last = names
    return f"{', '.join(most)} and {last}" if most else last


def away_on(settings: Settings, moment: datetime) -> bool:
    day = local_day(moment, settings.garden.timezone)
    return any(away.first <= day <= away.last for away in settings.hands_on.away)
