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

from underbench.daemon.demo import week
from underbench.daemon.outbox import Services, deliver
from underbench.daemon.passes import Told, run_pass
from underbench.daemon.settings import Settings, load
from underbench.daemon.store import Store
from underbench.daemon.weather.openmeteo import OpenMeteo
from underbench.daemon.weather.standin import Answerer, Query, Reply, StandIn, serving
from underbench.daemon.weather.supply import Supply
from underbench.rules.advice import Advice
from underbench.rules.findings import Action
from underbench.rules.garden import Garden
from underbench.rules.journal import Entry, Move, Sighting, Stage, Watering, Work, WorkKind

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
    services = Services(settings.telling_urls)
    keeper = Keeper(settings, store, echo)
    zone = ZoneInfo(settings.garden.timezone)
    echo(OPENING.format(trees=len(settings.trees), garden=settings.garden.name))
    messages = 0
    for day, hours in groupby(_hours(zone), key=lambda now: now.astimezone(zone).date()):
        before = messages
        for clock.now in hours:
            keeper.act(clock.now)
            told = run_pass(settings, store, supply, clock.now).told
            if told:
                echo(f"— {_dated(day)} {clock.now.astimezone(zone):%H:%M} —")
                deliver(store, services, clock.now, DELIVERY_S)
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

    def hear(self, told: Iterable[Told], now: datetime) -> None:
        """Plan to do what was told, an hour before its deadline or at once."""
        for advice in (one.advice for one in told):
            at = max(now, advice.do_by - HOUR)
            plan = {Action.WATER: self._water, Action.VENT: self._shade}.get(advice.action)
            (plan or self._protect)(advice, at)

    def act(self, now: datetime) -> None:
        """Do what is planned up to now."""
        for plan in sorted((p for p in self.plans if p.at <= now), key=lambda p: p.at):
            zone = ZoneInfo(self.settings.garden.timezone)
            self.echo(f"  ({plan.at.astimezone(zone):%a %H:%M}: {plan.words}.)\n")
            self.store.add(plan.entries)
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
        """Trees go in before the deadline, and home again at the moment that was told."""
        self._stay({job.tree for job in advice.jobs if job.stay}, advice)
        told = {job.tree: job.choice.remedy for job in advice.jobs if job.choice}
        if not told:
            return
        into = {tree: how.takes_room_in for tree, how in told.items() if how.takes_room_in}
        rest = [tree for tree in told if tree not in into]
        did = [f"carries {_listed(into)} in and notes it"] if into else []
        did += [f"sees to {_listed(rest)}"] if rest else []
        moves = [Move(tree=tree, at=at, spot=spot) for tree, spot in into.items()]
        self.plans.append(Plan(at, f"Odile {', '.join(did)}", moves))
        if advice.back_at is not None:
            home = {tree.name: tree.spot for tree in self.settings.trees if tree.name in into}
            back = [Move(tree=t, at=advice.back_at, spot=spot) for t, spot in home.items()]
            self.plans.append(Plan(advice.back_at, f"Odile puts {_listed(told)} back", back))

    def _stay(self, trees: set[str], advice: Advice) -> None:
        """Trees that were to go home stay for as long as is told now."""
        for plan in [p for p in self.plans if {e.tree for e in p.entries} & trees]:
            kept = [e for e in plan.entries if e.tree not in trees]
            self.plans.remove(plan)
            home = [e.tree for e in kept]
            if home:
                self.plans.append(Plan(plan.at, f"Odile puts {_listed(home)} back", kept))
            later = max(plan.at, advice.back_at or advice.findings[-1].until_at)
            moves = [e.model_copy(update={"at": later}) for e in plan.entries if e.tree in trees]
            words = f"Odile puts {_listed(e.tree for e in moves)} back"
            self.plans.append(Plan(later, words, moves))


def _listed(names: Iterable[str]) -> str:
    *most, last = names
    return f"{', '.join(most)} and {last}" if most else last
