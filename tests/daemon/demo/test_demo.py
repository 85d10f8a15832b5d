"""The demo: the packaged week, rehearsed once and read like a reader."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import NamedTuple

import pytest

from underbench.daemon.demo.demo import demo_plan, run_demo

DAY = re.compile(r"(\w+day) \d+ April: .+ mm of rain\.")
HOUR = re.compile(r"— (\d\d):00 —")
TITLE = re.compile(r"[A-Z][A-Z ]+ (\d+) trees .+")
REASON = re.compile(r"^(Gale|[A-Z][a-z ]+): \w+(?: \(.+?\))?, .*; chance ", re.MULTILINE)


class Message(NamedTuple):
    """One message as the terminal showed it."""

    day: str
    hour: int
    title: str
    body: str
    trees: frozenset[str]

    @property
    def action(self) -> str:
        """The first word of its title."""
        return self.title.partition(" ")[0]

    @property
    def reason(self) -> str:
        """The hazard that the body names first."""
        found = REASON.search(self.body)
        return found[1] if found else ""


@pytest.fixture(scope="module")
def shown() -> str:
    lines: list[str] = []
    run_demo(lines.append)
    return "\n".join(lines)


@pytest.fixture(scope="module")
def messages(shown: str) -> list[Message]:
    found, day = [], ""
    names = [tree.name for tree in demo_plan().settings.trees]
    for block in shown.split("\n\n"):
        first, _, rest = block.partition("\n")
        if begins := DAY.fullmatch(first):
            day = begins[1]
        elif hour := HOUR.fullmatch(first):
            title, _, body = rest.partition("\n")
            trees = frozenset(name for name in names if re.search(rf"\b{name}\b", body))
            found.append(Message(day, int(hour[1]), title, body, trees))
    return found


@pytest.fixture(scope="module")
def only(messages: list[Message]) -> Callable[[str], Message]:
    def one(word: str) -> Message:
        (found,) = (m for m in messages if word in f"{m.title}\n{m.body}")
        return found

    return one


def test_each_kind_of_message_appears(messages: list[Message]) -> None:
    assert {m.action for m in messages} == {"PROTECT", "SHADE", "WATER", "BACK"}
    told = [m.reason for m in messages if m.action == "PROTECT"]
    assert told == ["Gale", "Frost on open leaves"]


def test_no_tree_hears_the_same_twice(messages: list[Message]) -> None:
    told = [(m.reason, tree) for m in messages for tree in m.trees if m.action != "BACK"]
    assert len(set(told)) == len(told)


def test_every_tree_counted_in_a_title_is_named_below(messages: list[Message]) -> None:
    back = [m for m in messages if m.action == "BACK"]  # it asks of other trees how they fared
    counted = [(int(title[1]), m) for m in messages if (title := TITLE.match(m.title))]
    named = [m for m in messages if not TITLE.match(m.title) and m not in back]
    assert all(len(m.trees) == 1 for m in named)
    assert all(number == len(m.trees) for number, m in counted if m not in back)
    assert [m.title for m in named] == [
        "SHADE the bag of Forgeron by 08:00 (danger)",
        "WATER Grelot by 19:00 tomorrow",
        "WATER Lutin by 14:00 Monday",
    ]


def test_two_cold_nights_are_one_run(only: Callable[[str], Message], shown: str) -> None:
    frost = only("Frost on open leaves")
    assert "2 nights in a row" in frost.body
    assert "leave them in" in frost.body
    assert "09:00 Saturday" in frost.body
    assert re.search(r"Thursday 23 April: .+\nNo message\.", shown)


def test_danger_is_told_by_the_evening_before_and_the_return_on_its_day(
    only: Callable[[str], Message],
) -> None:
    frost, back = only("Frost on open leaves"), only("BACK OUT")
    assert (frost.day, frost.hour) == ("Wednesday", 7)
    assert frost.title.startswith("PROTECT 5 trees by 20:36 tomorrow (danger): tool shed 4")
    assert back.day == "Saturday"


def test_messages_come_when_somebody_can_read_them(messages: list[Message]) -> None:
    assert all(7 <= m.hour < 21 for m in messages)


def test_the_right_trees_are_told_of(
    only: Callable[[str], Message], messages: list[Message]
) -> None:
    """Common practice, no source: fresh loose roots blow over, open maple leaves freeze, and a dark
    bag cooks. The smallest pots dry first. Hardened or tied trees are left in peace."""
    gale, frosted = only("Gale"), only("Frost on open leaves").trees
    assert gale.trees == {"Marcotte", "Torrent", "Veilleur"}
    assert "Back out 09:00 Saturday" in gale.body  # they stay in through the frost after it
    assert {"Braise", "Plume"} <= frosted
    assert not frosted & {"Ermite", "Sapeur"}
    assert "Forgeron" in frosted  # days in a warm bag opened its buds, and a bag is no frost cover
    assert only("Bag too hot").trees == {"Forgeron"}
    dry = [m for m in messages if "Dry pots" in m.body]
    assert [m.trees for m in dry] == [{"Grelot"}, {"Lutin"}]  # half a litre each
    assert all("ask somebody in" in m.body for m in dry)


def test_it_is_short_and_ends_with_how_to_start(shown: str) -> None:
    lines = shown.splitlines()
    assert len(lines) < 120
    for command in ("underbench init", "check", "underbench today", "underbench run"):
        assert command in "\n".join(lines[-6:])
    assert "first_garden.toml" in lines[-4]


def test_it_says_that_all_is_invented_and_nothing_is_sent(shown: str) -> None:
    opening = " ".join(shown.partition("Monday")[0].split())
    for words in ("invented garden", "weather is made up", "Nothing is sent"):
        assert words in opening
