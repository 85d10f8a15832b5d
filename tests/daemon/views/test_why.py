"""`underbench why`: the trail, the hours, the decision, and what would turn it."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from commanding import EVENING, FROST_DAY, Garden, Service, fails, stamp, strict_json
from garden_toml import EMBER, HANDS_ON, HEATH, MEANS, PLACE
from openmeteo_service import StandIn

from underbench.rules.weather.hourly import Weather

AT = ["--at", stamp(EVENING)]
Why = dict[str, Any]


def why(garden: Garden, tree: str = "Ember") -> Why:
    done = garden.do("why", tree, "--json", *AT)
    assert done.exit_code == 0, done.output
    return strict_json(done.stdout)


def bench(**keys: Any) -> str:
    own = "".join(f"{key} = {value}\n" for key, value in keys.items())
    return '\n[[spot]]\nname = "top bench"\nkind = "bench"\nsun = "08:00-18:00"\n' + own


@pytest.fixture(scope="module")
def frosty(spring: Weather, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Why]:
    """What ``why`` says about Ember before the night of frost, as text and as JSON."""
    service = Service(spring)
    with StandIn(service) as server:
        garden = Garden(tmp_path_factory.mktemp("frosty"), service, server)
        return garden.do("why", "Ember", *AT).stdout, why(garden)


@pytest.fixture
def mild(garden: Garden, make: Any) -> Garden:
    """A garden before a night near the limit of open maple leaves, with a fortnight of record."""
    mean_c, before = np.full(24 * 28, 12.0), 14
    mean_c[24 * before - 12 : 24 * before + 12] = 6.0
    first = FROST_DAY - timedelta(days=before)
    garden.service.weather = make.weather(first, len(mean_c), mean_c=mean_c, swing_k=6.0)
    garden.do("seen", "leafing-out", "Ember", "--on", f"{first:%Y-%m-%d}")
    return garden


def test_the_hours_stand_beside_the_limit_and_add_up_to_the_chance(
    frosty: tuple[str, Why],
) -> None:
    _, found = frosty
    one = found["pressing"]
    assert one["hazard"] == found["findings"][0]["hazard"]
    assert one["chance"] == found["findings"][0]["chance"]
    assert max(hour["harmed"] for hour in one["hours"]) <= one["chance"]
    harm = one["limit"]["harm"]
    for hour in one["hours"]:
        assert hour["worst_tenth"] <= hour["middle"]  # in frost, colder is worse
        if hour["middle"] < harm - 1.5:  # a limit is known to half a kelvin
            assert hour["harmed"] >= 0.5
    assert any(hour["harmed"] == 0 for hour in one["hours"])


def test_the_plan_stands_place_by_place_and_night_by_night(frosty: tuple[str, Why]) -> None:
    shown, found = frosty
    places = {row["place"]: row for row in found["plan"]}
    assert found["planned"][0] == "shed"
    assert {len(row["nights"]) for row in places.values()} == {len(found["planned"])}
    home = places["top bench"]
    assert home["nights"][0] > places["shed"]["nights"][0]  # where it is to be costs less
    assert min(row["in_all"] for row in places.values()) < home["in_all"]
    assert re.search(r"^  into the shed +\d+\.\d\*", shown, re.MULTILINE)
    assert re.search(rf"^  left at top bench +{home['nights'][0]:.1f} ", shown, re.MULTILINE)


def test_text_and_json_say_the_same(frosty: tuple[str, Why]) -> None:
    shown, found = frosty
    one = found["pressing"]
    assert f"chance {one['chance']:.0%} (of losing it {one['kill_chance']:.0%})" in shown
    for layer in one["limit"]["trail"]:
        assert layer["what"] in shown
        assert layer["source"] in shown
    for flip in found["flips"]:
        assert re.search(rf"^  {flip['input']} ", shown, re.MULTILINE)
    assert shown.count("on whose word") == 1
    rows = re.findall(r"^  \d\d:00 .*$", shown, re.MULTILINE)
    assert len(rows) == len(one["hours"])


def test_where_it_says_it_turns_the_decision_turns(mild: Garden) -> None:
    """A leaf stores no heat. So a pass with the spot set so in the file comes to the same."""
    usual = {"sky_view": 0.8, "wind_factor": 0.7}

    def set_to(leaf_c: float, **keys: float) -> Why:
        own = f"[tree.limits]\nleaf_frost_c = {leaf_c}\nroot_frost_c = -20\n"
        mild.write(PLACE + HANDS_ON + MEANS + bench(**usual | keys) + EMBER + own)
        return why(mild)

    close = set_to(-2.0)["pressing"]["at_act_from"]["worst"] - 0.1  # nearly acted on
    before = set_to(close)
    for key in usual:
        (flip,) = (f for f in before["flips"] if f["input"] == key.replace("_", " "))
        assert flip["turns_at"] is not None
        after = set_to(close, **{key: flip["turns_at"]})
        assert after["acted_on"] is not before["acted_on"]
        assert after["pressing"]["chance"] == pytest.approx(flip["chance"])


def test_a_stage_said_to_turn_it_turns_it_once_seen(mild: Garden) -> None:
    mild.write(PLACE + HANDS_ON + MEANS + bench() + EMBER)
    before = why(mild)
    (flip,) = (f for f in before["flips"] if f["input"] == "stage" and f["turns_at"])
    seen = mild.do("seen", flip["turns_at"].replace(" ", "-"), "Ember", "--on", "2024-04-23")
    assert seen.exit_code == 0
    after = why(mild)
    assert after["stage"] == flip["turns_at"]
    assert after["acted_on"] is not before["acted_on"]


def hardy_to(garden: Garden, root_c: float) -> None:
    """A tree with only its roots at risk in the night. Their edge comes to about −0.9 °C."""
    own = f"[tree.limits]\nleaf_frost_c = -15\nroot_frost_c = {root_c}\n"
    garden.write(PLACE + HANDS_ON + MEANS + bench() + EMBER + own)


def test_only_what_turns_the_decision_is_named(mild: Garden) -> None:
    hardy_to(mild, -0.8)
    found, shown = why(mild), mild.do("why", "Ember", *AT).stdout
    assert found["acted_on"]
    turns = {flip["input"]: flip for flip in found["flips"]}
    assert turns.keys() == {"sky view", "wind factor", "litres", "height", "roots"}  # not stage
    assert all(flip["chance"] < found["act_from"] for flip in turns.values())
    assert turns["litres"]["turns_at"] > turns["litres"]["is"] == 4  # a bigger ball cools slower
    assert turns["height"]["turns_at"] == 0  # the ground is warmer than the air
    listed = shown.split("What would turn it:")[1].split("Each alone")[0]
    assert [re.split(r"  +", line.strip())[0] for line in listed.splitlines()[1:]] == list(turns)


def test_where_nothing_turns_it_that_is_said(mild: Garden) -> None:
    hardy_to(mild, 1.5)
    assert why(mild)["flips"] == []
    assert "None of these alone would turn the decision" in mild.do("why", "Ember", *AT).stdout


def test_roots_just_cut_are_offered_as_taken_and_the_other_way_round(mild: Garden) -> None:
    def roots() -> tuple[str, str, bool]:
        found = why(mild)
        (flip,) = (f for f in found["flips"] if f["input"] == "roots")
        return flip["is"], flip["turns_at"], found["acted_on"]

    hardy_to(mild, -0.8)
    assert roots() == ("taken", "just repotted", True)  # wet through, it freezes later
    hardy_to(mild, -5.0)
    mild.do("did", "repot", "Ember", "--roots", "50%", "--on", "2024-04-20")
    assert roots() == ("not taken", "taken", True)


def test_nothing_to_do_names_the_nearest_limit_and_how_far_it_is(garden: Garden) -> None:
    garden.do("moved", "Ember", "shed", "--on", "2024-04-22")
    shown, found = garden.do("why", "Ember", *AT).stdout, why(garden)
    assert "Nothing to do: fewer than one weather in ten" in shown
    assert re.search(r"Nearest to a limit: .+, \w{3} .+ to ", shown)
    assert "short of the limit of" in shown
    assert found["pressing"]["at_act_from"]["short_of_harm"] > 0
    assert "At home, at top bench, it would be: PROTECT" in shown
    assert found["at_home"]


def test_a_gardener_in_us_units_meets_no_celsius(garden: Garden) -> None:
    head = PLACE.replace("timezone", 'units = "us"\ntimezone')
    garden.write(head + HANDS_ON + MEANS + bench() + EMBER + HEATH)
    garden.do("did", "repot", "Ember", "--on", "2024-04-20")
    shown = garden.do("why", "Ember", *AT).stdout
    assert "°F·d above 43 °F" in shown  # 6 °C
    assert "°C" not in shown
    assert " L" not in re.sub(r"Latitude|Limit", "", shown)


def test_a_limit_of_one_s_own_moves_the_decision(mild: Garden) -> None:

    assert _with_limit(mild, 3.0)["acted_on"]
    assert not _with_limit(mild, -9.0)["acted_on"]


def _with_limit(garden: Garden, leaf_c: float) -> Why:
    own = f'\n[limits.species."Acer palmatum"]\nleaf_frost_c = {leaf_c}\nroot_frost_c = -9\n'
    garden.write(PLACE + HANDS_ON + MEANS + bench() + EMBER + own)
    return why(garden)


def test_a_name_misspelt_is_one_line(garden: Garden) -> None:
    fails(garden.do("why", "Embre", "--json", *AT), "did you mean 'Ember'?")


def test_the_air_near_the_ground_is_set_beside_the_forecasts(mild: Garden) -> None:
    """The same tree on a bench over grass and on paving; no source, as the models have it."""

    def colder_k(**keys: object) -> float:
        spot = bench(sky_view=0.8, wind_factor=0.5) + "".join(
            f"{k} = {v!r}\n" for k, v in keys.items()
        )
        mild.write(PLACE + HANDS_ON + MEANS + spot + EMBER)
        told = mild.do("why", "Ember", "--at", stamp(EVENING)).stdout
        found = re.search(r"at top bench comes to .+, (\d\.\d) °C below the forecast's", told)
        return float(found[1]) if found else 0.0

    low, high = colder_k(height_cm=0), colder_k(height_cm=80)
    assert low > high + 1.0
    assert high > colder_k(height_cm=80, surface='"paving"')
