"""Planning work as a keeper does: `windows`, `whatif`, and the round-up's line on a window."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import chain
from typing import Any

import numpy as np
import pytest
from commanding import DAY, EVENING, HEAD, Garden, fails, stamp
from garden_toml import EMBER, FIG, HEATH
from spring_frosts import GARDEN, Labs
from spring_frosts import spring as spring_of

from underbench.daemon.alerts.message_kinds import Kind
from underbench.daemon.alerts.scheduled_messages import say
from underbench.daemon.outlook.past_years import bring_years, daily, usual_of
from underbench.daemon.store.store import Store
from underbench.daemon.weather.provider import Unreachable
from underbench.rules.garden.journal import Fate, Outcome, Sighting, Stage, Work
from underbench.rules.garden.works import WorkKind
from underbench.rules.weather.hourly import Weather

MARCH = datetime(2024, 3, 14, 8, tzinfo=UTC)
SWELLING = Sighting(tree="Ember", at=MARCH - DAY, stage=Stage.BUD_SWELL)
ROUND_UP = '[telling]\nround_up = "09:00"\n'


def shown(garden: Garden, *words: str, at: datetime = MARCH) -> str:
    done = garden.do(*words, "--at", stamp(at))
    assert done.exit_code == 0, done.output
    return done.stdout


def swelling(garden: Garden) -> None:
    with Store.open(garden.database) as store:
        store.journal.add([SWELLING])
        mild_years(store)


def mild_years(store: Store, frosts: dict[int, float] | None = None) -> None:
    """Five years whose nights stay at 3 °C, but for 1 April of some years."""
    for year in range(2019, 2024):
        first = (date(year, 1, 1) - date(1970, 1, 1)).days
        low_c = {90: (frosts or {}).get(year, 3.0)}
        store.hours.keep_days([(first + n, 8.0, low_c.get(n, 3.0)) for n in range(365)])


# windows


def test_windows_of_one_work_has_a_row_for_each_tree_and_why(garden: Garden) -> None:
    garden.write(HEAD + EMBER + HEATH + FIG)
    swelling(garden)
    lines = shown(garden, "windows", "repot").splitlines()
    row = {name: line for line in lines for name in ("Ember", "Fig") if name in line}
    assert row["Ember"].count("good") == 5
    assert "not its season" in row["Fig"]
    assert "in leaf" not in row["Fig"]  # a tropical is always in leaf


def test_a_work_that_cannot_be_meant_for_a_tree_says_why(garden: Garden) -> None:
    assert "no layer is on it" in shown(garden, "windows", "sever-layer", "Ember")
    assert "a conifer is not divided" in shown(garden, "windows", "divide", "Heath")


def test_each_thing_that_speaks_against_days_is_said_with_them(garden: Garden, make: Any) -> None:
    """Rain on the first two days, frost on the next."""
    hours = 24 * 12
    rain_mm, swing = np.zeros(hours), make.weather(MARCH - 4 * DAY, hours, mean_c=6.0)
    rain_mm[24 * 4 + 2 : 24 * 5 + 6] = 1.0
    air_c = swing.air_c.copy()
    air_c[:, 24 * 6 : 24 * 7 + 12] = -4.0
    garden.service.weather = replace(
        swing, air_c=air_c, rain_mm=np.broadcast_to(rain_mm, air_c.shape)
    )
    told = shown(garden, "windows", "seal-cuts", "Ember")
    (row,) = [line for line in told.splitlines() if line.startswith("seal cuts")]
    assert "rain" in row
    assert "frost" in row
    assert row.index("Thu") < row.index("rain")


def test_windows_of_a_tree_names_every_work_it_can_have(garden: Garden) -> None:
    swelling(garden)
    told = shown(garden, "windows", "Ember")
    for work in ("repot", "chop", "wire", "defoliate", "bag", "seal cuts", "treat dead wood"):
        assert f"\n{work} " in told
    assert "sever layer" not in told  # it has no layer
    assert "leaves not hard" in told


def test_dead_wood_comes_with_its_cautions(garden: Garden) -> None:
    told = shown(garden, "windows", "treat-dead-wood")
    for caution in ("well aired", "gloves", "eye", "off soil, roots", "label", "local rules"):
        assert caution in told


def test_frost_ahead_offers_no_root_work(garden: Garden) -> None:
    with Store.open(garden.database) as store:
        store.journal.add([SWELLING.model_copy(update={"at": EVENING - 2 * DAY})])
    first = json.loads(shown(garden, "windows", "repot", "Ember", "--json", at=EVENING))["windows"][
        0
    ]
    assert first["days"][0]["suit"] == "no"
    assert "frost at the roots" in first["days"][0]["words"]


@pytest.mark.parametrize(
    "words",
    [("repott",), ("repot", "Embr"), ("repot", "Ember", "Heath"), ("unbag",)],
)
def test_what_is_no_work_or_tree_is_one_clear_line(garden: Garden, words: tuple[str, ...]) -> None:
    fails(garden.do("windows", *words))


def test_windows_and_did_agree(garden: Garden) -> None:
    """A work noted on an offered day gets no caution."""
    swelling(garden)
    offered = json.loads(shown(garden, "windows", "Ember", "--json"))["windows"]
    works = [one["work"] for one in offered if one["days"][0]["suit"] == "good"]
    assert "repot" in works
    for work in works:
        if work in {kind.value for kind in WorkKind}:
            noted = garden.do("did", work.replace(" ", "-"), "Ember", "--on", "2024-03-14")
            assert noted.exit_code == 0
            for scold in ("badly", "never", "is best chopped"):
                assert scold not in noted.stdout


def test_beyond_the_forecast_dates_come_from_earlier_years(garden: Garden) -> None:
    """Five winters at 3 °C and springs at 9 °C make four whole seasons. The tree is at rest on
    1 February in each: the first day on which the catalogue lets this kind be repotted at rest."""
    mean_c = np.where((np.arange(366) < 75) | (np.arange(366) > 300), 3.0, 9.0).tolist()
    with Store.open(garden.database) as store:
        store.journal.add([SWELLING.model_copy(update={"stage": Stage.LEAFING_OUT})])
        for year in range(2019, 2024):
            first = (date(year, 1, 1) - date(1970, 1, 1)).days
            store.hours.keep_days([(first + n, mean_c[n], mean_c[n] - 5.0) for n in range(365)])
    told = shown(garden, "windows", "repot", "Ember")
    assert "in leaf; usually opens on 1 February here (4 years)" in told


def test_earlier_years_are_asked_of_the_archive(garden: Garden) -> None:
    config = garden.config.read_text(encoding="utf-8")
    url = f'archive_url = "{garden.server.url}"\ntimeout_s'
    garden.config.write_text(config.replace("timeout_s", url), encoding="utf-8")
    shown(garden, "windows", "repot", "Ember")
    asked = {query["start_date"] for query in garden.service.asked if "start_date" in query}
    assert asked == {"2023-01-01", "2023-09-01"}  # the last year, and the season's own autumn


# whatif


def test_what_would_follow_a_repot_now_and_after_the_frost(garden: Garden, make: Any) -> None:
    """Pots are watered each morning. A dry pot would freeze sooner than a fresh repot."""
    garden.write(HEAD + '[[watering]]\ntimes = ["07:00"]\n' + EMBER)
    garden.service.weather = spring_of(make, 1.0)
    late = SWELLING.model_copy(update={"at": EVENING - 2 * DAY})
    with Store.open(garden.database) as store:
        store.journal.add([late])
    told = shown(garden, "whatif", "did", "repot", "Ember", "--on", "2024-04-25", at=EVENING)
    assert "root ball no colder than" in told
    assert "frost in the root balls" in told
    assert "Wait until Thu 25 Apr: today brings" in told
    with Store.open(garden.database) as store:
        assert store.journal.entries() == [late]  # nothing is noted


@pytest.mark.parametrize(
    ("frosts", "words"),
    [
        ({}, ""),
        ({2021: -6.0}, ""),  # one year in five: less than the keeper acts on
        (
            {2020: -6.0, 2021: -6.0},
            "frost at the roots within 4 weeks in 40% of the years here; only with shelter",
        ),
    ],
)
def test_root_work_is_weighed_by_the_frosts_of_earlier_years(
    garden: Garden, frosts: dict[int, float], words: str
) -> None:
    swelling(garden)
    with Store.open(garden.database) as store:
        mild_years(store, frosts)
    rows = json.loads(shown(garden, "windows", "repot", "Ember", "--json"))["windows"]
    assert rows[0]["days"][0]["words"] == words


def test_a_day_beyond_the_forecast_is_not_judged(garden: Garden, spring: Weather) -> None:
    colder = {name: getattr(spring, name) - 2.0 for name in ("air_c", "dew_c")}
    garden.service.weather = replace(spring, **colder)
    told = shown(garden, "whatif", "did", "repot", "Heath", "--on", "2024-05-20", at=EVENING)
    assert "Not today: frost at the roots" in told
    assert "Mon 20 May suits its year; its nights are not known yet" in told
    assert "beyond the forecast" in told


@pytest.mark.parametrize("day", ["2024-04-23", "2020-01-01", "soon", "2029-01-01"])
def test_whatif_wants_a_day_ahead(garden: Garden, day: str) -> None:
    words = ("whatif", "did", "repot", "Heath", "--on", day, "--at", stamp(EVENING))
    assert day in fails(garden.do(*words))


@pytest.mark.parametrize("work", ["sever-layer", "unbag"])
def test_whatif_wants_what_the_work_is_on(garden: Garden, work: str) -> None:
    fails(garden.do("whatif", "did", work, "Heath", "--at", stamp(EVENING)), "Heath has no")


def test_whatif_and_windows_have_the_same_against_a_day(garden: Garden) -> None:
    """A maple repotted three weeks ago is left alone: common practice, no source."""
    garden.do("did", "repot", "Ember", "--on", "2024-02-25")
    swelling(garden)
    rows = json.loads(shown(garden, "windows", "Ember", "--json"))["windows"]
    today = {row["work"]: row["days"][0] for row in rows}
    for work in ("repot", "wire"):
        tried = shown(garden, "whatif", "did", work, "Ember", "--json")
        against = {way["way"]: way["against"] for way in json.loads(tried)["ways"]}["today"]
        assert against == today[work]["words"] != ""


def test_whatif_says_not_today_before_it_counts_alerts(garden: Garden) -> None:
    with Store.open(garden.database) as store:
        store.journal.add([SWELLING.model_copy(update={"stage": Stage.LEAFING_OUT})])
    told = shown(garden, "whatif", "did", "repot", "Ember")
    assert "Not today: in leaf." in told
    told = shown(garden, "whatif", "did", "repot", "Ember", "--on", "2024-03-15")
    assert "Neither day: today in leaf, Fri 15 Mar in leaf." in told


def test_whatif_beyond_the_forecast_knows_the_trees_year(garden: Garden) -> None:
    swelling(garden)
    told = shown(garden, "whatif", "did", "repot", "Ember", "--on", "2024-07-12")
    assert "Today rather than Fri 12 Jul: then" in told
    told = shown(garden, "whatif", "did", "defoliate", "Ember", "--on", "2024-09-20")
    assert "too late in its year" in told
    assert "Neither day: today leaves not hard, Fri 20 Sep too late in its year." in told


def test_an_alert_that_both_days_bring_does_not_tell_them_apart(garden: Garden) -> None:
    """A bag in the sun of March cooks whichever day it goes on."""
    bears = "\n[tree.limits]\nleaf_frost_c = -15\nbud_frost_c = -15\n"  # only the bag is tried
    garden.write(HEAD + EMBER + bears)
    swelling(garden)
    told = shown(garden, "whatif", "did", "bag", "Ember", "--on", "2024-03-16")
    assert "both bring 2 alerts more" in told
    (row,) = [line for line in told.splitlines() if line.startswith("bag too hot, Thu 14 Mar")]
    began = row.partition(", from ")[2]
    assert began.startswith(("Sat 16 Mar", "Sun 17 Mar"))  # no bag is too hot before it is on


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "expected did WORK TREE"),
        (("did",), "expected did WORK TREE"),
        (("did", "repot"), "expected did WORK TREE"),
        (("repot", "Ember", "Heath"), "no tree called 'Ember Heath'"),
        (("did", "slip", "pot", "Embr"), "no tree called 'Embr'; did you mean 'Ember'?"),
    ],
)
def test_whatif_says_what_it_wants(garden: Garden, words: tuple[str, ...], said: str) -> None:
    fails(garden.do("whatif", *words), said)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("Embr",), "no work to plan or tree called 'Embr'; did you mean 'Ember'?"),
        (("repott",), "no work to plan or tree called 'repott'; did you mean 'repot'?"),
        (("slip", "pot", "Embr"), "no tree called 'Embr'; did you mean 'Ember'?"),
        (("repott", "Ember"), "no work to plan called 'repott'; did you mean 'repot'?"),
    ],
)
def test_windows_says_the_nearest_name(garden: Garden, words: tuple[str, ...], said: str) -> None:
    fails(garden.do("windows", *words), said)


def test_two_days_alike_are_called_so(garden: Garden) -> None:
    swelling(garden)
    told = shown(garden, "whatif", "did", "repot", "Ember", "--on", "2024-03-17")
    assert "Either day will do" in told


def test_whatif_has_nothing_to_say_of_a_lost_tree(garden: Garden) -> None:
    found = MARCH - 4 * DAY
    with Store.open(garden.database) as store:
        store.journal.add([Outcome(tree="Ember", at=found, fate=Fate.LOST, night=found.date())])
    fails(garden.do("whatif", "did", "repot", "Ember", "--at", stamp(MARCH)), "noted as lost")
    fails(garden.do("windows", "repot", "Ember", "--at", stamp(MARCH)), "noted as lost")


# Round-up


def test_a_maple_at_rest_is_no_repotting_for_this_week(labs: Labs, make: Any) -> None:
    """The catalogue allows February, but a round-up waits for the buds."""
    first = datetime(2024, 1, 1, tzinfo=UTC)
    mild = np.concatenate([np.full(50 * 24, 4.0), np.full(60 * 24, 8.0)])
    garden = labs(GARDEN + ROUND_UP + EMBER, make.weather(first, 110 * 24, mean_c=mild))
    mild_years(garden.store)
    said = []
    for days in (35, 51, 63, 67, 79):
        now = first.replace(hour=8) + days * DAY
        done = garden.run(now)
        lines = (m.body.splitlines() for m in say(done, garden.settings, garden.store, now))
        said += [(line, done.outlook.stage(0)) for line in chain(*lines) if "this week" in line]
    ((line, stage),) = said
    assert line.startswith("Buds swelling on Ember; ")
    assert stage is Stage.BUD_SWELL


def test_a_pine_between_rest_and_candles_is_not_hurried(labs: Labs, make: Any) -> None:
    """Its root work goes on into May: common practice, no source."""
    first = datetime(2024, 3, 5, tzinfo=UTC)
    garden = labs(GARDEN + ROUND_UP + HEATH, make.weather(first, 76 * 24, mean_c=7.0))
    for days in (0, 7):
        now = datetime(2024, 4, 22, 8, tzinfo=UTC) + days * DAY
        done = garden.run(now)
        for message in say(done, garden.settings, garden.store, now):
            assert "Last good days" not in message.body


@pytest.mark.parametrize(
    ("known", "words"),
    [
        (True, "Buds swelling on Ember; 5 good days ahead: repot this week."),
        (False, "Buds swelling on Ember: repot this week, if it then stands free of frost."),
    ],
)
def test_a_round_up_says_once_that_a_window_opens(
    labs: Labs, spring: Weather, known: bool, words: str
) -> None:
    garden = labs(GARDEN + ROUND_UP + EMBER + HEATH, spring)
    garden.store.journal.add([SWELLING])
    if known:
        mild_years(garden.store)
    said = []
    for days in range(3):
        now = MARCH + days * DAY
        (message,) = say(garden.run(now), garden.settings, garden.store, now)
        assert message.kind == Kind.ROUND_UP
        said += [line for line in message.body.splitlines() if "Ember" in line]
    assert said == [words]


def test_a_tree_repotted_last_spring_is_left_alone(labs: Labs, spring: Weather) -> None:
    garden = labs(GARDEN + ROUND_UP + EMBER, spring)
    last = Work(tree="Ember", at=MARCH - 360 * DAY, work=WorkKind.REPOT)
    garden.store.journal.add([last, SWELLING])
    (message,) = say(garden.run(MARCH), garden.settings, garden.store, MARCH)
    assert "repot" not in message.body


# Earlier years


class Years:
    """An archive of even years at 8 °C, or one that is down. It records what it is asked."""

    def __init__(self, make: Any, *, down: bool = False) -> None:
        self._make, self._down = make, down
        self.asked: list[int] = []

    def between(self, garden: Any, first: date, last: date, now: datetime) -> Weather:
        self.asked.append(first.year)
        if self._down:
            raise Unreachable("the weather service cannot be reached")
        start = datetime(first.year, first.month, first.day, tzinfo=UTC)
        weather: Weather = self._make.weather(start, 24 * ((last - first).days + 1), mean_c=8.0)
        return weather


def test_five_years_are_asked_for_once_and_forgotten_with_the_place(
    labs: Labs, spring: Weather, make: Any
) -> None:
    garden, years = labs(GARDEN + EMBER, spring), Years(make)
    for hours in (0, 1, 30):
        bring_years(garden.store, garden.settings.garden, years, MARCH + timedelta(hours=hours))
    assert years.asked == [2023, 2022, 2021, 2020, 2019]
    usual = usual_of(garden.store, garden.settings.garden)
    assert usual.days[date(2021, 6, 1)].mean_c == pytest.approx(8.0, abs=0.2)
    garden.store.settle("here")
    garden.store.settle("elsewhere")
    assert garden.store.hours.days() == []


def test_without_an_archive_dates_are_left_out_and_it_is_asked_again_next_day(
    labs: Labs, spring: Weather, make: Any
) -> None:
    garden, years = labs(GARDEN + EMBER, spring), Years(make, down=True)
    for hours in (0, 1, 25):
        bring_years(garden.store, garden.settings.garden, years, MARCH + timedelta(hours=hours))
    assert years.asked == [2023, 2023]
    assert usual_of(garden.store, garden.settings.garden).days == {}


def test_the_gardens_own_hours_count_before_an_archives(
    labs: Labs, spring: Weather, make: Any
) -> None:
    garden = labs(GARDEN + EMBER, spring)
    own = make.weather(datetime(2023, 6, 1, tzinfo=UTC), 24, mean_c=20.0)
    garden.store.hours.keep(own)
    ((number, mean_c, _low_c),) = daily(own.times, own.air_c[0])
    garden.store.hours.keep_days([(number, 8.0, 2.0), (number + 1, 8.0, 2.0)])
    found = {day: mean for day, mean, _ in garden.store.hours.days()}
    assert found == {number: pytest.approx(mean_c), number + 1: 8.0}


@pytest.mark.parametrize("words", [("windows", "Spark"), ("why", "Spark"), ("feels", "Spark")])
def test_a_tree_that_a_later_work_makes_is_not_there_yet(
    garden: Garden, words: tuple[str, ...]
) -> None:
    garden.write(HEAD + EMBER)
    done = garden.do("did", "start-layer", "Ember", "--on", "2025-05-01")
    assert done.exit_code == 0, done.output
    done = garden.do("did", "sever-layer", "Ember", "--as", "Spark", "--on", "2025-07-01")
    assert done.exit_code == 0, done.output
    fails(garden.do(*words, "--at", stamp(EVENING)), "Spark")


def test_a_window_that_closes_is_said_once_and_closes_on_the_day_said(
    labs: Labs, make: Any
) -> None:
    """A maple is repotted until its buds open: common practice, no source."""
    first = datetime(2024, 2, 10, tzinfo=UTC)
    rising_c = np.concatenate([np.full(40 * 24, 5.0), np.linspace(6.0, 14.0, 40 * 24)])
    garden = labs(GARDEN + ROUND_UP + EMBER, make.weather(first, 80 * 24, mean_c=rising_c))
    said, stages = [], {}
    for days in range(0, 16, 3):
        now = datetime(2024, 4, 8, 8, tzinfo=UTC) + days * DAY
        done = garden.run(now)
        stages[now.date()] = done.outlook.stage(0)
        lines = (m.body.splitlines() for m in say(done, garden.settings, garden.store, now))
        said += [(now.date(), line) for line in chain(*lines) if "Last good days" in line]
    ((on, line),) = said
    last = next(on + n * DAY for n in range(7) if f"{on + n * DAY:%A}." in line)
    assert line == f"Last good days to repot Ember: its season ends on {last:%A}."
    assert {stage for day, stage in stages.items() if on <= day <= last} == {Stage.BUD_SWELL}
    assert {stage for day, stage in stages.items() if day > last} == {Stage.LEAFING_OUT}
