"""The commands that note what was done or seen: what they answer, and what they change."""

from __future__ import annotations

from dataclasses import replace

import pytest
from commanding import EVENING, HEAD, Garden, fails, stamp, strict_json
from garden_toml import EMBER, HEATH


def test_a_move_noted_is_where_the_tree_is_judged(garden: Garden) -> None:
    said = garden.do("moved", "ember", "SHED", "--on", "2024-04-22")
    assert (said.exit_code, said.stdout) == (0, "Noted: Ember moved to shed.\n")
    assert {f["tree"] for f in garden.seen_at()["findings"]} == {"Heath"}
    assert garden.do("moved", "Ember", "home", "--on", "2024-04-23").exit_code == 0
    assert {f["tree"] for f in garden.seen_at()["findings"]} == {"Ember", "Heath"}


def test_a_stage_seen_wins_over_the_estimate(garden: Garden) -> None:
    said = garden.do("seen", "dormant", "Ember", "--on", "2024-04-22")
    assert said.stdout == "Noted: Ember seen dormant on 22 April 2024.\n"
    found = [f for f in garden.seen_at()["findings"] if f["tree"] == "Ember"]
    assert "leaf tissue" not in {f["measured_on"] for f in found}


def test_a_work_noted_says_what_it_asks_for_and_counts(garden: Garden) -> None:
    said = garden.do("did", "repot", "Heath", "Ember", "--roots", "25%", "--on", "2024-04-13")
    assert said.exit_code == 0
    assert said.stdout.startswith("Noted for Heath and Ember: repot on 13 April 2024.")
    assert "no colder than −1.0 °C" in said.stdout
    assert "until 11 May 2024" in said.stdout  # four weeks; common practice, no source
    shown = garden.do("why", "Heath", "--at", stamp(EVENING)).stdout
    assert "Roots open since repot on 13 April: no colder than −1.0 °C" in shown


def test_a_conifer_is_never_bagged(garden: Garden) -> None:
    said = garden.do("did", "bag", "Ember", "Heath", "--on", "2024-04-13").stdout
    assert "Heath is never to be bagged" in said
    assert "Ember is never" not in said


def test_a_bag_is_slit_and_opened_and_why_says_how_it_is(garden: Garden) -> None:
    garden.do("did", "bag", "Ember", "--film", "clear", "--on", "2024-04-13")
    assert garden.do("did", "slit-bag", "Ember", "--on", "2024-04-14").exit_code == 0
    opened = garden.do("did", "open-bag", "Ember", "--on", "2024-04-20").stdout
    assert opened == (
        "Noted for Ember: open bag on 20 April 2024.\n"
        "Out of strong sun until 30 April 2024; the bag off after a week.\n"
    )
    shown = garden.do("why", "Ember", "--at", stamp(EVENING)).stdout
    assert "In a clear bag, open; bagged on 13 April." in shown
    assert "the bag's inside is known to ±" in shown


def test_a_watering_noted_reaches_the_pot(garden: Garden) -> None:
    spring = garden.service.weather
    breezy = replace(spring, rain_mm=0 * spring.rain_mm, wind_ms=0 * spring.wind_ms + 5)
    garden.service.weather = breezy

    def left() -> float:
        felt = strict_json(garden.do("feels", "Ember", "--json", "--at", stamp(EVENING)).stdout)
        return min(hour["water_left"]["high_tenth"] for hour in felt["hours"])

    dry = left()
    assert garden.do("watered", "Ember", "--on", "2024-04-23").stdout == "Noted: Ember watered.\n"
    assert left() > dry


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["did", "repott", "Ember"], "no work called 'repott'; did you mean 'repot'?"),
        (["did", "slit-bag", "Ember", "--on", "2024-04-13"], "Ember had no bag on 13 April 2024"),
        (["did", "open-bag", "Ember", "--on", "2024-04-13"], "record its bag first"),
        (["did", "repot", "Ember", "--film", "clear"], "--film clear: goes with bag only"),
        (["did", "repot", "Embre"], "no tree called 'Embre'; did you mean 'Ember'?"),
        (["did", "repot", "Ember", "--on", "yesterday"], "expected a day like 2027-04-20"),
        (["did", "repot", "Ember", "--on", "2124-04-01"], "that day has yet to come"),
        (["moved", "Ember", "shet"], "no spot called 'shet'; did you mean 'shed'?"),
        (["seen", "hardend", "Ember"], "no stage called 'hardend'; did you mean 'hardened'?"),
        (["seen", "leafing-out", "Ember", "Heath"], "Heath is never leafing out"),
        (["watered", "Ember", "Zephyrine"], "no tree called 'Zephyrine'"),
        (["why", "Embre"], "no tree called 'Embre'"),
        (["run"], "names no push service"),
    ],
)
def test_a_slip_is_said_in_one_line_and_nothing_is_noted(
    garden: Garden, words: list[str], said: str
) -> None:
    garden.note()
    fails(garden.do(*words), said)
    assert garden.intact()


@pytest.mark.parametrize(
    "words",
    [
        ["did", "repot", "Ember", "--roots", "120"],
        ["did", "repot"],
        ["moved", "Ember"],
        ["once", "--at", "teatime"],
        ["once", "--at", "0001-01-01T00:00+05:00"],
        ["once", "--at", "9999-12-31T23:30"],
        ["prune"],
    ],
)
def test_what_cannot_be_read_is_refused(garden: Garden, words: list[str]) -> None:
    garden.note()
    fails(garden.do(*words), "--help")
    assert garden.intact()


@pytest.mark.parametrize(
    ("words", "noted"),
    [
        (("seen", "bud", "swell", "Ember"), "Ember seen bud swell"),
        (("seen", "bud-swell", "Ember"), "Ember seen bud swell"),
        (("seen", "Dormant", "old", "heath", "Ember"), "Old Heath and Ember seen dormant"),
        (("did", "slip", "pot", "Old", "Heath", "Ember"), "Old Heath and Ember: slip pot"),
        (("moved", "Old", "Heath", "Ember", "shed"), "Old Heath and Ember moved to shed"),
        (("watered", "Ember", "Old", "Heath"), "Ember and Old Heath watered"),
    ],
)
def test_names_of_two_words_need_no_quotes(
    garden: Garden, words: tuple[str, ...], noted: str
) -> None:
    garden.write(HEAD + EMBER + HEATH.replace('"Heath"', '"Old Heath"'))
    assert noted in garden.do(*words).stdout


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("seen", "leafing", "out"), "expected a stage and then trees"),
        (("did", "slip", "pot"), "expected slip-pot and then a tree"),
        (("did", "repot", "Embr"), "did you mean 'Ember'?"),
        (("moved", "Ember", "on", "the", "table"), "no spot called 'on the table'"),
        (("did", "repot", "Ember", "--litres", "2,5"), "write 2.5, with a point"),
        (("species", "acer"), "did you mean Acer"),
    ],
)
def test_what_is_missing_or_misspelt_is_named(
    garden: Garden, words: tuple[str, ...], said: str
) -> None:
    fails(garden.do(*words), said)


def test_a_spot_of_two_words_misspelt_is_still_taken_for_the_spot(garden: Garden) -> None:
    line = fails(garden.do("moved", "Ember", "Heath", "top", "bnch"), "no spot called 'top bnch'")
    assert 'did you mean "top bench"?' in line
