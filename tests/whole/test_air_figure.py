"""A keeper's figure for the air is judged on the air of the spot, by the night."""

from __future__ import annotations

import re

from commanding import EVENING, HEAD, Garden, stamp
from garden_toml import EMBER, HEATH


def test_a_hardy_tree_with_an_air_figure_is_told_of_the_night_not_of_the_season(
    garden: Garden,
) -> None:
    figure = HEATH.replace("limits = { ", "limits = { air_min_c = 2.5, ")
    garden.write(HEAD + EMBER + figure)
    hazards = [f for f in garden.seen_at()["findings"] if f["hazard"] == "cold-air"]
    cold, later = hazards  # in the night after, few members are so cold
    assert (cold["strength"], later["strength"]) == ("act", "notice")
    assert (cold["tree"], cold["measured_on"], cold["harm"]) == ("Heath", "screen air", 2.5)
    assert cold["span"][0].startswith("2024-04-23")
    told = garden.do("once", "--dry-run", "--at", stamp(EVENING)).stdout
    assert "tropical" not in told
    assert "for the cold season" not in told
    shown = garden.do("why", "Heath", "--at", stamp(EVENING)).stdout
    assert re.search(r"cold air, as you set it +2\.5 °C +\S+ +own limit", shown)
    line = next(line for line in shown.splitlines() if "Air colder than you set" in line)
    assert f"chance {cold['chance']:.0%}; " in line  # nothing is known to kill it


def test_a_keeper_s_own_air_figure_kills_no_hardy_tree(garden: Garden) -> None:
    """The keeper says below what air the tree should be in, not where it dies."""
    garden.write(HEAD + HEATH + '\n[limits.spot."top bench"]\nair_min_c = 4\n')
    cold = [f for f in garden.seen_at()["findings"] if f["hazard"] == "cold-air"]
    assert cold[0]["strength"] == "act"
    assert {(one["harm"], one["kill"], one["kill_chance"]) for one in cold} == {(4.0, None, 0.0)}
    told = garden.do("once", "--dry-run", "--at", stamp(EVENING)).stdout
    assert "Heath, " in told
    assert "kills" not in told
    for words in (["why", "Heath"], ["why", "Heath", "--json"], ["feels", "Heath"]):
        done = garden.do(*words, "--at", stamp(EVENING))
        assert done.exit_code == 0, done.output
        assert "inf" not in done.stdout


def test_a_tropical_s_own_figure_still_speaks_for_its_season(garden: Garden) -> None:
    fig = '\n[[tree]]\nname = "Fig"\nspecies = "Ficus microcarpa"\nlitres = 3\nspot = "top bench"\n'
    garden.write(HEAD + fig + "[tree.limits]\nair_min_c = 15\n")
    hazards = {f["hazard"]: f["harm"] for f in garden.seen_at()["findings"]}
    assert hazards == {"chill": 15.0}
