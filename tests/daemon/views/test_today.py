"""``underbench today``: what to do now, what stands where, what comes. It keeps nothing."""

from __future__ import annotations

from typing import Any

import pytest
from commanding import DAY, EVENING, HEAD, HOUR, Garden, fails, stamp, strict_json
from garden_toml import EMBER, HEATH

from underbench.daemon.alerts.to_do import ToDo
from underbench.daemon.store.store import Store
from underbench.rules.advice.remedy import BAG_AND, FULL_SHADE, HALF_SHADE, OPEN_BAG, Remedy
from underbench.rules.garden.journal import Move
from underbench.rules.hazards import HOT_BAG
from underbench.rules.hazards.hazard import Action

JOB = "PROTECT by 20:00 today (danger): Ember. Frost; frost in the root balls. Into the shed."


def today(garden: Garden, at: Any = EVENING) -> dict[str, list[str]]:
    """What the command prints, by heading, with each wrapped line joined again."""
    done = garden.do("today", "--at", stamp(at))
    assert done.exit_code == 0, done.output
    parts: dict[str, list[str]] = {}
    heading = ""
    for line in done.stdout.splitlines():
        assert len(line) <= 80
        if line.startswith("    "):
            parts[heading][-1] += f" {line.strip()}"
        elif line.startswith("  "):
            parts[heading].append(line.strip())
        else:
            heading = line
            parts.setdefault(heading, [])
    return parts


def test_what_the_next_pass_would_tell_is_shown_and_not_told(garden: Garden) -> None:
    shown = today(garden)
    assert next(iter(shown)) == "Orchard End, Tuesday 23 April, 17:10"
    assert shown["To do now"][0] == f"{JOB} (Not told yet.)"
    assert shown["To do now"][1].startswith("PROTECT by 20:00 today (danger): Heath. Frost. Cover")
    assert shown["Away from home"] == ["No tree."]
    assert shown["After works"] == ["Nothing is due."]
    with Store.open(garden.database) as store:
        assert store.episodes.since(EVENING - DAY) == []
        assert store.messages.records(EVENING - DAY) == []


def test_a_job_stays_until_somebody_says_that_it_is_done(garden: Garden) -> None:
    garden.do("once", "--at", stamp(EVENING))
    later = EVENING + HOUR
    assert JOB in today(garden, later)["To do now"]
    garden.do("handled", "Ember", "--on", "2024-04-23")
    shown = today(garden, later)
    assert [line for line in shown["To do now"] if "Ember" in line] == []
    assert [line for line in shown["To do now"] if "Heath" in line]
    assert shown["Away from home"] == ["shed: Ember (home: top bench)"]


def test_a_quiet_day_has_nothing_to_do(garden: Garden) -> None:
    assert today(garden, EVENING - 9 * DAY)["To do now"] == ["Nothing."]


def test_each_coming_day_has_its_line_with_the_air_that_ahead_shows(garden: Garden) -> None:
    coming = today(garden)["What comes"]
    assert [line.split(":")[0] for line in coming[:5]] == ["Tue", "Wed", "Thu", "Fri", "Sat"]
    assert "Frost (2)" in coming[0]
    words = ("--at", stamp(EVENING), "--json")
    ahead, shown = (strict_json(garden.do(name, *words).stdout) for name in ("ahead", "today"))
    assert ahead["days"] == [{k: v for k, v in d.items() if k != "words"} for d in shown["days"]]


def test_what_will_be_told_later_is_among_what_comes(garden: Garden) -> None:
    coming = today(garden, EVENING - 50 * HOUR)["What comes"]
    assert any(line.startswith("To be told ") and "PROTECT 2 trees" in line for line in coming)


def test_what_is_due_after_works_says_how_to_note_it(garden: Garden) -> None:
    garden.do("did", "bag", "Ember", "--on", "2024-03-20")
    assert today(garden)["After works"] == [
        "Look under the bag: Ember (bag 20 Mar). When done: underbench did check-bag TREE"
    ]


def test_it_is_said_in_the_keepers_units(garden: Garden) -> None:
    garden.write(HEAD.replace("[garden]", '[garden]\nunits = "us"') + EMBER + HEATH)
    assert any("°F" in line for line in today(garden)["What comes"])


@pytest.mark.parametrize("told", [False, True])
def test_as_json_a_job_says_whether_it_was_told(garden: Garden, told: bool) -> None:
    if told:
        garden.do("once", "--at", stamp(EVENING))
    body = strict_json(garden.do("today", "--json", "--at", stamp(EVENING + HOUR)).stdout)
    (job,) = (one for one in body["to_do"] if one["trees"] == [{"tree": "Ember"}])
    assert (job["action"], job["strength"], job["told"]) == ("protect", "danger", told)
    assert job["words"] == "Into the shed"


def test_without_a_forecast_it_is_one_line(garden: Garden) -> None:
    garden.go_offline()
    fails(garden.do("today"))


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"cloth": True}, "top bench: Ember (under shade cloth)"),
        ({"layers": 1}, "top bench: Ember (covered)"),
        ({}, "No tree."),
    ],
)
def test_what_was_left_over_a_tree_is_shown(
    garden: Garden, given: dict[str, Any], said: str
) -> None:
    with Store.open(garden.database) as store:
        store.journal.add([Move(tree="Ember", at=EVENING - HOUR, spot="top bench", **given)])
    assert today(garden)["Away from home"] == [said]


@pytest.mark.parametrize(
    ("remedy", "word"), [(OPEN_BAG, "OPEN"), (HALF_SHADE, "SHADE"), (BAG_AND[FULL_SHADE], None)]
)
def test_of_a_bag_it_is_said_what_is_done_to_it(remedy: Remedy, word: str | None) -> None:
    job = ToDo(Action.VENT, (HOT_BAG.key,), remedy, None, False, EVENING, ("Ember",))
    assert job.word == (word or "OPEN AND SHADE")
