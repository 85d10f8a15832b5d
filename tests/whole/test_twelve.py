"""One night for twelve trees, each of which differs from the first in one thing."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from commanding import EVENING, FIRST_DAY, FROST_DAY, HEAD, Garden, Service, strict_json
from garden_toml import BENCH, HANDS_ON, PLACE
from openmeteo_service import StandIn
from series_csv import rehearse, write_series

from underbench.daemon.alerts.hourly_pass import Pass
from underbench.daemon.charts.hours_of_a_tree import Feeling
from underbench.daemon.commands.look_ahead import look_and_print, row_of
from underbench.daemon.store.store import Store
from underbench.daemon.views.why import Explainer

UNDER = '\n[[spot]]\nname = "under the bench"\nkind = "under the bench"\n'
LEAFY, FROST, ROOTS = "leafing-out", "leaf-frost", "root-frost"
TREES: Mapping[str, Mapping[str, Any]] = {
    "Plain": {},
    "Resting": {},
    "Swelling": {},
    "Repotted": {},
    "Chopped": {},
    "Thimble": {"litres": 0.3},
    "Barrel": {"litres": 40},
    "Under": {"spot": "under the bench"},
    "Housed": {"spot": "shed"},
    "Hornbeam": {"species": "Carpinus betulus"},
    "Pine": {"species": "Pinus sylvestris"},
    "Fig": {"species": "Ficus microcarpa"},
}
SEEN = {"Resting": "dormant", "Swelling": "bud-swell", "Pine": "extending", "Fig": "hardened"}

Night = dict[str, dict[str, Any]]


def tree(name: str, **own: Any) -> str:
    """A ``[[tree]]`` section: a Japanese maple of 4 litres on the bench, unless said otherwise."""
    keys = {"name": name, "species": "Acer palmatum", "litres": 4, "spot": "top bench", **own}
    return "\n[[tree]]\n" + "".join(f"{key} = {json.dumps(value)}\n" for key, value in keys.items())


@pytest.fixture(scope="module")
def night(make: Any, tmp_path_factory: pytest.TempPathFactory) -> Night:
    """What ``why --json`` says of each tree in the evening before a clear night of some −0.8 °C: of
    all by one pass."""
    days = 65
    daily = np.linspace(7, 13, days).repeat(24)
    at = 24 * (FROST_DAY - FIRST_DAY).days
    daily[at - 12 : at + 12] = 5.2
    service = Service(make.weather(FIRST_DAY, 24 * days, mean_c=daily, swing_k=6.0))
    with StandIn(service) as server:
        garden = Garden(tmp_path_factory.mktemp("twelve"), service, server)
        garden.write(HEAD + UNDER + "".join(tree(name, **own) for name, own in TREES.items()))
        for name in TREES:
            done(garden, "seen", SEEN.get(name, LEAFY), name, "--on", "2024-04-22")
        done(garden, "did", "repot", "Repotted", "--roots", "50%", "--on", "2024-04-20")
        done(garden, "did", "chop", "Chopped", "--on", "2024-04-01")
        found: Night = {}

        def read(passed: Pass, store: Store) -> str:
            for name in TREES:
                feeling = Feeling(passed.outlook, row_of(passed.outlook, name))
                episodes, plan = store.episodes.lately(EVENING), passed.plans.get(name)
                found[name] = strict_json(Explainer(feeling, episodes, plan).as_json())
            return ""

        look_and_print(garden.config, EVENING, read)
        return found


def done(garden: Garden, *words: str) -> str:
    result = garden.do(*words)
    assert result.exit_code == 0, result.output
    return result.stdout


def chance(of: dict[str, Any], hazard: str) -> float:
    return max((f["chance"] for f in of["findings"] if f["hazard"] == hazard), default=0.0)


def test_the_night_is_told_to_some_and_not_to_others(night: Night) -> None:
    told = {name for name, why in night.items() if why["acted_on"]}
    assert {"Plain", "Chopped", "Repotted", "Thimble", "Fig"} <= told
    assert not {"Resting", "Housed", "Pine"} & told  # at rest, under a roof, hardy new growth
    assert all(why["findings"] or not why["acted_on"] for why in night.values())


def test_each_kind_of_leaf_bears_what_its_class_says(night: Night) -> None:
    """The design's table: common practice, no source."""
    harm = {name: why["limits"][FROST]["harm"] for name, why in night.items() if name != "Fig"}
    assert (harm["Plain"], harm["Hornbeam"], harm["Pine"]) == (-2.5, -3.5, -5.5)
    assert harm["Swelling"] < harm["Plain"] < harm["Repotted"] < harm["Chopped"]
    assert harm["Resting"] < harm["Swelling"]
    assert all(harm[name] == harm["Plain"] for name in ("Thimble", "Barrel", "Under", "Housed"))


def test_the_tenderer_the_likelier(night: Night) -> None:
    order = ["Chopped", "Plain", "Hornbeam", "Pine", "Housed"]
    chances = [chance(night[name], FROST) for name in order]
    assert chances == sorted(chances, reverse=True)
    assert chances[0] > chances[2] > chances[4] == 0.0
    assert chance(night["Under"], FROST) <= chance(night["Plain"], FROST)


def test_roots_go_by_the_pot_and_by_the_knife(night: Night) -> None:
    roots = {name: chance(night[name], ROOTS) for name in ("Thimble", "Plain", "Barrel")}
    assert roots["Thimble"] > roots["Plain"] >= roots["Barrel"] == 0.0
    assert chance(night["Repotted"], ROOTS) > roots["Plain"]


def test_each_trail_names_what_sets_the_tree_apart(night: Night) -> None:
    def trail(name: str, limit: str) -> str:
        return " | ".join(layer["what"] for layer in night[name]["limits"][limit]["trail"])

    assert "repot on 2024-04-20" in trail("Repotted", ROOTS)
    assert "chop on 2024-04-01" in trail("Chopped", FROST)
    assert "hornbeam" in trail("Hornbeam", FROST)
    assert "pine" in trail("Pine", FROST)
    assert night["Resting"]["limits"][FROST]["measured_on"] == "wood and bud tissue"
    assert night["Swelling"]["limits"][FROST]["measured_on"] == "bud tissue"
    fig = night["Fig"]["pressing"]
    assert (fig["hazard"], fig["limit"]["measured_on"]) == (
        "chill",
        "screen air",
    )


def test_a_tree_with_nothing_to_do_says_how_near_it_came(night: Night) -> None:
    housed = night["Housed"]
    assert (housed["acted_on"], housed["findings"]) == (False, [])
    assert housed["pressing"]["at_act_from"]["short_of_harm"] > 1.0
    assert housed["pressing"]["chance"] == 0.0


HARDY = {
    "Crag": {"species": "Pinus sylvestris", "litres": 9},
    "Larch": {"species": "Larix kaempferi", "litres": 9},
    "Lane": {"species": "Carpinus betulus", "litres": 10},
    "Thorn": {"species": "Crataegus monogyna", "litres": 12},
    "Juniper": {"species": "Juniperus chinensis", "litres": 8},
    "Ember": {"litres": 8},
}


def test_a_hardy_collection_hears_nothing_in_ordinary_winter_nights(
    make: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Frozen is not harmed: nights of −4 and days of +2 °C in January; common practice."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    first = datetime(2023, 12, 30, tzinfo=UTC)
    mean_c = np.linspace(1.7, -1, 26).repeat(24)
    weather = make.weather(first, len(mean_c), mean_c=mean_c, swing_k=3.0, cloud=0.5)
    config, series = tmp_path / "garden.toml", tmp_path / "winter.csv"
    write_series(series, weather)
    trees = "".join(tree(name, **own) for name, own in HARDY.items())
    config.write_text(PLACE + HANDS_ON + BENCH + trees, encoding="utf-8")
    said = rehearse(config, series, "--from", "2024-01-20", "--to", "2024-01-22")
    assert said.exit_code == 0, said.output
    assert "Nothing would have been told." in said.stdout
