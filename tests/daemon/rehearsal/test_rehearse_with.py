"""`underbench rehearse --with`: which alerts come and go with another configuration."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from commanding import FIRST_DAY, FROST_DAY, HOUR, fails, strict_json
from garden_toml import BENCH, EMBER, HANDS_ON, HEATH, MEANS, PLACE, SHED
from series_csv import rehearse, write_series

GARDEN = PLACE + HANDS_ON + MEANS + BENCH + SHED + "room = 1\n" + EMBER + HEATH
SPAN = ["--from", "2024-04-23T12:00", "--to", "2024-04-24T06:00"]
HARDIER = '\n[limits.species."Japanese maple"]\nleaf_frost_c = -9\nroot_frost_c = -9\n'
TENDERER = '\n[limits.class."mountain pine"]\ngust_ms = 1\n'


class Pair:
    """A garden, the same otherwise configured, and a spring with one night of frost."""

    def __init__(self, folder: Path) -> None:
        self.config, self.other = folder / "garden.toml", folder / "other.toml"
        self.series = folder / "spring.csv"
        self.config.write_text(GARDEN, "utf-8")

    def with_other(self, toml: str, *words: str) -> Any:
        self.other.write_text(toml, "utf-8")
        return rehearse(self.config, self.series, "--with", str(self.other), *SPAN, *words)

    def compared(self, toml: str) -> dict[str, Any]:
        done = self.with_other(toml, "--json")
        assert done.exit_code == 0, done.output
        return strict_json(done.stdout)


@pytest.fixture
def pair(tmp_path: Path, make: Any, monkeypatch: pytest.MonkeyPatch) -> Pair:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    mean_c = np.full(24 * 55, 12.0)
    night = int((FROST_DAY - FIRST_DAY) / HOUR)
    mean_c[night - 6 : night + 12] = 0.5
    one = Pair(tmp_path)
    write_series(one.series, make.weather(FIRST_DAY, len(mean_c), mean_c=mean_c, cloud=0.0))
    return one


def test_limits_of_a_species_and_a_class_make_alerts_go_and_come(pair: Pair) -> None:
    body = pair.compared(GARDEN + HARDIER + TENDERER)
    mine, other = body["configurations"]
    assert {(one["tree"], one["hazard"]) for one in mine["only"]} >= {("Ember", "leaf-frost")}
    assert {one["tree"] for one in mine["only"]} == {"Ember"}
    assert {(one["tree"], one["hazard"]) for one in other["only"]} >= {("Heath", "gale")}
    for side in (mine, other):
        assert side["counts"]["alerts only there"] == len(side["only"])
        assert all(one["told_at"] < one["span"][1] for one in side["only"])
    shared = [s["counts"]["alerts, a tree and night each"] - len(s["only"]) for s in (mine, other)]
    assert shared[0] == shared[1]


def test_the_same_configuration_tells_the_same(pair: Pair) -> None:
    body = pair.compared(GARDEN)
    assert [side["only"] for side in body["configurations"]] == [[], []]
    assert body["told_otherwise"] == []
    assert body["configurations"][0]["counts"] == body["configurations"][1]["counts"]
    assert body["configurations"][0]["counts"]["messages"] >= 1


def test_it_reads_on_eighty_columns(pair: Pair) -> None:
    shown = pair.with_other(GARDEN + HARDIER).stdout
    assert max(len(line) for line in shown.splitlines()) <= 80
    gone, come = shown.split("Only garden.toml tells:")[1].split("Only other.toml tells:")
    assert "Wed 24 Apr  Frost" in gone
    assert "Ember (told" in " ".join(gone.split())
    assert come.lstrip().startswith("nothing")
    assert "alerts only there" in come


def test_a_fault_in_the_other_file_names_that_file(pair: Pair) -> None:
    line = fails(pair.with_other(GARDEN + '\n[limits.spot."top bnch"]\ngust_ms = 9\n'), "top bench")
    assert line.startswith(str(pair.other))


def test_both_are_judged_by_the_journal_of_the_first(pair: Pair) -> None:
    other = GARDEN + '\n[store]\npath = "elsewhere.db"\n'
    body = pair.compared(other)
    assert [side["only"] for side in body["configurations"]] == [[], []]
    assert not (pair.other.parent / "elsewhere.db").exists()
    assert json.dumps(body).count(str(pair.other.parent)) == 0
