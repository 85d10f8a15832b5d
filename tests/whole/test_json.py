"""`--json` prints what daemon/JSON.md says: every field is named, schema comes first, times are
UTC."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from commanding import DAY, EVENING, FROST_DAY, HEAD, Garden, fails, stamp, strict_json
from garden_toml import EMBER, HEATH
from series_csv import rehearse, write_series

from underbench.daemon.commands.cli import main
from underbench.daemon.wording.json_form import SCHEMA
from underbench.rules.hazards.findings import Strength
from underbench.rules.hazards.hazard import Action
from underbench.rules.limits.limit import MeasuredOn
from underbench.rules.weather.hourly import Weather

PAGE = (Path(__file__).parents[2] / "daemon" / "JSON.md").read_text(encoding="utf-8")

# All the data, named as in the garden's file and the journal.
WHOLE = {"export"}
# These answer nothing, or a line.
WITHOUT = {
    *("run", "init", "backup", "restore", "demo"),
    *("page", "page-password", "share", "sheet", "undo"),
}
# Fields that hold names (of trees, spots, limits, days, columns) so many levels down.
BY_NAME = {"derived_of_spots": 2, "limits_by_utc_day": 2, "by_month": 2} | dict.fromkeys(
    (
        "derived",
        "limits",
        "facts",
        "classes",
        "estimated_hours",
        "by_tree",
        "by_reason",
        "counts",
        "brier",
    ),
    1,
)
AT = ("--at", stamp(EVENING))
CALLS = {
    "today": [AT],
    "trees": [()],
    "ahead": [AT],
    "feels": [("Ember", *AT)],
    "why": [("Ember", *AT), ("Heath", *AT)],
    "once": [("--dry-run", *AT)],
    "told": [AT],
    "species": [(), ("Acer palmatum",)],
    "check": [()],
    "alive": [()],
    "did": [
        ("repot", "Heath", "--on", "2024-04-01", "--into", "pot"),
        ("start-layer", "Ember"),
        ("sever-layer", "Ember", "--as", "Spark"),
    ],
    "moved": [("Ember", "shed")],
    "seen": [("hardened", "Heath")],
    "watered": [("Heath",)],
    "handled": [()],
    "outcome": [("Ember", "fine")],
    "accept": [(), ("Ember",)],
    "reading": [("-2.5", "air-min")],
    "skill": [AT],
    "windows": [("repot", *AT)],
    "follow-ups": [AT],
    "winter": [AT],
    "whatif": [
        ("did", "repot", "Ember", *AT),
        ("did", "repot", "Ember", "--on", "2024-04-25", *AT),
    ],
    "seasons": [AT],
}
MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?P<zone>.*)")


def sections() -> dict[str, str]:
    """The page by command. Fields of several answers come under the empty name."""
    _, *parts = re.split(r"^## (.+)$", PAGE, flags=re.MULTILINE)
    found = dict(zip(parts[::2], parts[1::2], strict=True))
    shared = found.pop("In several answers")
    by_command = {name: text for names, text in found.items() for name in names.split(", ")}
    return {"": shared} | by_command


def fields(body: Any) -> Iterator[str]:
    """Every field of an answer, except those that are names of something."""
    if isinstance(body, list):
        for one in body:
            yield from fields(one)
    if isinstance(body, dict):
        for name, value in body.items():
            yield name
            inner = [value]
            for _ in range(BY_NAME.get(name, 0)):
                inner = [one for named in inner for one in named.values()]
            yield from fields(inner)


def moments(body: Any) -> Iterator[str]:
    if isinstance(body, dict | list):
        for one in body.values() if isinstance(body, dict) else body:
            yield from moments(one)
    elif isinstance(body, str) and MOMENT.fullmatch(body):
        yield body


def holds(command: str, body: dict[str, Any]) -> None:
    """Assert that the answer is as the page says."""
    assert next(iter(body.items())) == ("schema", SCHEMA)
    named = set(re.findall(r"`(\w+)`", sections()[""] + sections()[command]))
    assert {field for field in fields(body) if field not in named} == {"schema"}
    assert {m["zone"] for at in moments(body) if (m := MOMENT.fullmatch(at))} <= {"Z"}


def test_every_command_that_answers_takes_json_and_has_its_section() -> None:
    takes = {
        name
        for name, command in main.commands.items()
        if any("--json" in param.opts for param in command.params)
    }
    assert takes == main.commands.keys() - WITHOUT
    assert takes == sections().keys() - {""}
    assert takes == CALLS.keys() | {"rehearse", "tune"} | WHOLE


@pytest.fixture
def told(garden: Garden) -> Garden:
    """A garden with a message that could not be delivered, and one entry in its journal."""
    table = '[telling]\nurls = ["json://127.0.0.1:9/x"]\n[[watering]]\ntimes = ["07:00"]\n'
    garden.write(HEAD + EMBER + HEATH + table)
    assert garden.do("once", *AT).exit_code == 1
    return garden


def test_every_field_printed_is_on_the_page(told: Garden) -> None:
    for command, calls in CALLS.items():
        for words in calls:
            done = told.do(command, *words, "--json")
            assert done.stdout, (command, done.exception)
            holds(command, strict_json(done.stdout))


def test_a_rehearsal_and_a_tuning_are_as_the_page_has_them(garden: Garden, spring: Weather) -> None:
    weather = garden.folder / "spring.csv"
    write_series(weather, spring)
    other = garden.folder / "other.toml"
    other.write_text(
        garden.config.read_text("utf-8") + "[chance]\nact_from = 1.0\nkill_from = 1.0\n", "utf-8"
    )
    words = ["--json", "--from", stamp(FROST_DAY - DAY / 2), "--to", stamp(FROST_DAY - DAY / 4)]
    alone = strict_json(rehearse(garden.config, weather, *words).stdout)
    both = strict_json(rehearse(garden.config, weather, *words, "--with", str(other)).stdout)
    assert alone["messages"]
    assert both["configurations"][0]["only"]
    for body in (alone, both):
        holds("rehearse", body)
    limit = ["Ember", "leaf_frost_c", "--weather", str(weather)]
    tuned = strict_json(garden.do("tune", *limit, *words).stdout)
    holds("tune", tuned)
    values = [one["value"] for one in tuned["outcomes"]]
    assert values[len(values) // 2] == tuned["today"] == -2.5


def test_every_word_of_a_closed_list_is_on_the_page() -> None:
    for word in (*Action, *Strength, *MeasuredOn):
        assert f"`{word}`" in PAGE


def test_exit_codes_are_as_without_it_and_a_fault_prints_nothing_else(told: Garden) -> None:
    assert told.do("alive", "--json").exit_code == told.do("alive").exit_code == 1
    done = told.do("check", "--json")
    assert done.exit_code == told.do("check").exit_code
    body = strict_json(done.stdout)
    assert body["good"] == (done.exit_code == 0)
    assert body["good"] == all(part["state"] != "bad" for part in body["parts"])
    wrong = told.do("feels", "Embre", "--json")
    fails(wrong, "did you mean 'Ember'?")
    assert wrong.stdout == ""


def test_text_and_json_of_what_is_felt_say_the_same(told: Garden) -> None:
    """These are the leaf's lowest middle, to a tenth of a degree, and the harm of the worst
    hour."""
    body = strict_json(told.do("feels", "Ember", *AT, "--json").stdout)
    text = told.do("feels", "Ember", *AT).stdout
    hours = body["hours"][:48]
    coldest = min(hours, key=lambda hour: hour["leaf_c"]["middle"])
    assert f"{coldest['leaf_c']['middle']:.1f}".replace("-", "−") in text
    assert f"{max(hour['harmed'] for hour in hours):4.0%}" in text
    assert coldest["bag_c"] is None
    at = datetime.fromisoformat(coldest["at"])
    assert EVENING < at.astimezone(UTC) < EVENING + 5 * DAY


def test_what_was_noted_is_in_the_answer(told: Garden) -> None:
    body = strict_json(told.do("moved", "Ember", "Heath", "shed", "--json").stdout)
    assert [(e["kind"], e["tree"], e["spot"]) for e in body["noted"]] == [
        ("move", "Ember", "shed"),
        ("move", "Heath", "shed"),
    ]
    assert body["answer"]
