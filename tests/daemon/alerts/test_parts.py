"""Parts of a message: each fits its service, no tree is lost, and the order is kept."""

from __future__ import annotations

from collections.abc import Sequence
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import SecretStr

from underbench.daemon.alerts.parts import in_parts
from underbench.daemon.alerts.push_room import LEAST, room_for, room_of
from underbench.daemon.config.people_tables import Telling
from underbench.daemon.store.message_queue import LINK_GROWS, LONGEST_BODY
from underbench.daemon.wording.vocabulary import Words

names = st.text(st.characters(categories=["L"]), min_size=1, max_size=40)
benches = st.lists(st.lists(names, min_size=1, max_size=20), min_size=1, max_size=8)


def said(trees: Sequence[str]) -> Words:
    return Words(f"PROTECT {len(trees)}", ", ".join(trees), tuple(trees))


@given(groups=benches, room=st.integers(160, 2000))
def test_every_part_fits_and_every_tree_comes_in_its_order(
    groups: list[list[str]], room: int
) -> None:
    parts = in_parts(groups, said, room)
    assert [tree for part in parts for tree in part.trees] == [t for own in groups for t in own]
    assert all(len(part.body.encode()) <= room for part in parts)
    assert all(part.trees for part in parts)
    ends = [f" ({n} of {len(parts)})" for n in range(1, len(parts) + 1)]
    if len(parts) > 1:
        assert all(part.title.endswith(end) for part, end in zip(parts, ends, strict=True))


def test_a_bench_stays_together_if_it_fits_into_a_part() -> None:
    groups = [["a" * 10] * 3, ["b" * 10] * 3, ["c" * 10] * 9]
    parts = in_parts(groups, said, 60)
    assert [part.trees for part in parts[:2]] == [tuple(groups[0]), tuple(groups[1])]
    assert [len(part.trees) for part in parts[2:]] == [5, 4]


@pytest.mark.parametrize(
    ("url", "room"),
    [
        ("ntfy://topic", LONGEST_BODY),  # 7,800 for Apprise: more than a phone can read
        ("pover://a@b", 1024),  # Pushover's API: 1,024 characters, and 250 for the title
        ("tgram://1/2", 4096 - 160),  # Telegram's: 4,096 for all, as it has no titles
        ("twilio://a", LEAST),  # text messages are joined by the service
        ("terminal://", LONGEST_BODY),
        ("not an address", LONGEST_BODY),
    ],
)
def test_a_message_is_as_long_as_its_service_takes(url: str, room: int) -> None:
    assert room_for([SecretStr(url)]) == room
    assert room_for([SecretStr("ntfy://topic"), SecretStr(url)]) == room


def test_it_is_the_services_of_those_who_hear_it_that_count() -> None:
    telling = Telling(urls=(SecretStr("ntfy://a"),), danger_urls=(SecretStr("twilio://a"),))
    given = {"telling": telling, "stand_in_urls": {"Ilse": (SecretStr("pover://a@b"),)}}
    settings: object = SimpleNamespace(**given)
    asked = [
        room_of(settings, ("keeper",)),  # type: ignore[arg-type]
        room_of(settings, ("Ilse",)),  # type: ignore[arg-type]
        room_of(settings, ("Ilse", "keeper")),  # type: ignore[arg-type]
        room_of(settings, ("keeper",), danger=True),  # type: ignore[arg-type]
    ]
    assert [room + LINK_GROWS for room in asked] == [LONGEST_BODY, 1024, 1024, LEAST]
