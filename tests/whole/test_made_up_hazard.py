"""A made-up hazard that is put only into the public table shows wherever hazards do."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from commanding import EVENING, FIRST_DAY, FROST_DAY, Garden, stamp, strict_json
from page_garden import PageGarden, written
from ticking import Sky

from underbench.rules.hazards import HAZARDS
from underbench.rules.hazards.hazard import Action, Due, Hazard, Help, Judged, Scene, Spans
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.limit import Layer, Limit, MeasuredOn
from underbench.rules.plants.species import Species
from underbench.rules.weather.hourly import Weather


def _limit(species: Species, _condition: Condition) -> Limit | None:
    layer = Layer("made up", 8.0, 30.0, "invented for a test")
    return Limit(MeasuredOn.AIR, (layer,)) if species.name == "Acer palmatum" else None


def _judge(scene: Scene) -> Judged:
    harm, kill = scene.thresholds()
    air_c = scene.exposure.air_c
    return scene.judged(air_c, air_c >= harm, air_c >= kill)


MOTHS = Hazard(
    key="lamp-moths",
    words="Moths of a mild night",
    short="moths",
    limit_words="air that brings moths",
    caution="Put out the lamp.",
    action=Action.PROTECT,
    measured_on=MeasuredOn.AIR,
    low=False,
    spans=Spans.NIGHT,
    due=Due.SUNSET,
    help=Help.WINDBREAK,
    limit=_limit,
    judge=_judge,
)


@pytest.fixture
def mild(make: Any) -> Weather:
    """A spring in which only the made-up limit is crossed."""
    hours = 24 * ((FROST_DAY - FIRST_DAY).days + 15)
    weather: Weather = make.weather(FIRST_DAY, hours, mean_c=11.0, swing_k=2.0, wind_ms=1.0)
    return weather


@pytest.fixture
def garden(garden: Garden, mild: Weather) -> Garden:
    """The garden of the command, in that spring."""
    garden.service.weather = mild
    return garden


def answer(garden: Garden, *words: str) -> str:
    done = garden.do(*words, "--at", stamp(EVENING))
    assert done.exit_code == 0, done.output
    return str(done.stdout)


def test_without_it_nothing_is_told(garden: Garden) -> None:
    seen = garden.seen_at()
    assert (seen["findings"], seen["told"]) == ([], [])


@pytest.fixture
def known(monkeypatch: pytest.MonkeyPatch) -> None:
    """Put the made-up hazard into the table."""
    monkeypatch.setitem(HAZARDS, MOTHS.key, MOTHS)


@pytest.mark.usefixtures("known")
def test_it_is_judged_and_told(garden: Garden) -> None:
    seen = garden.seen_at()
    assert {(one["tree"], one["hazard"], one["hazard_words"]) for one in seen["findings"]} == {
        ("Ember", "lamp-moths", "Moths of a mild night")
    }
    (message,) = seen["told"]
    assert message["title"].startswith("PROTECT Ember ")
    assert "Moths of a mild night" in message["body"]
    assert "Put out the lamp." in message["body"]
    assert message["trees"][0]["remedy"]["key"] == "shelter"  # the shed is as warm


@pytest.mark.usefixtures("known")
def test_commands_show_it(garden: Garden) -> None:
    assert "moths" in answer(garden, "ahead")
    (tree,) = (one for one in read(garden, "ahead")["trees"] if one["tree"] == "Ember")
    assert "lamp-moths" in json.dumps(tree)
    why = answer(garden, "why", "Ember")
    assert "PROTECT, act: Moths of a mild night" in why
    assert "air that brings moths" in why
    assert "made up" in why
    assert "Moths of a mild night" in answer(garden, "today")
    known = read(garden, "why", "Ember")
    assert (known["pressing"]["hazard"], known["helps"]) == ("lamp-moths", None)
    assert known["limits"]["lamp-moths"]["harm"] == 8.0
    assert read(garden, "today")["to_do"][0]["hazards"] == ["lamp-moths"]


def read(garden: Garden, *words: str) -> dict[str, Any]:
    return strict_json(answer(garden, *words, "--json"))


@pytest.mark.usefixtures("known")
def test_the_page_shows_it(tmp_path: Path, mild: Weather) -> None:
    trees = (("Ember", "Acer palmatum", 4, "top bench"), ("Heath", "Pinus sylvestris", 9, "shed"))
    page = PageGarden(tmp_path, Sky(mild), written(trees)).client()
    bench, tree = (
        page.get(path).get_data(as_text=True) for path in ("/bench/top bench", "/tree/Ember")
    )
    assert "moths" in bench
    assert "moths" in tree
    assert "Moths of a mild night" in tree
