"""The page on a narrow phone on a bad night: what the first screen shows, and how many taps."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from browsing import NARROW, SCREEN, Finger, as_phone, misfits, show, shows
from cold_garden import cold_garden
from page_garden import PageGarden, left_as_found, served
from selenium.webdriver import Chrome
from selenium.webdriver.common.by import By

from underbench.daemon.alerts.to_do import to_do
from underbench.rules.garden.journal import Move

TREES, SEEDLINGS = 40, 11


@pytest.fixture
def phone(phone: Chrome) -> Chrome:
    as_phone(phone, width=NARROW, height=SCREEN)
    return phone


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> PageGarden:
    return cold_garden(tmp_path_factory.mktemp("garden"), more=SEEDLINGS)


@pytest.fixture(scope="module")
def served_at(made: PageGarden) -> Iterator[str]:
    with served(made.app) as address:
        yield address


@pytest.fixture
def url(served_at: str, made: PageGarden) -> Iterator[str]:
    with left_as_found(made):
        yield served_at


def box(phone: Chrome, css: str) -> Any:
    """The first box of that kind, and how far down the last one ends, in CSS pixels."""
    return phone.execute_script(
        "const all = [...document.querySelectorAll(arguments[0])]"
        ".map(e => e.getBoundingClientRect());"
        "return [all[0].top, all[0].bottom, all[all.length - 1].bottom];",
        css,
    )


def test_without_a_tap_the_screen_says_what_to_do_and_shows_the_night_and_forty_trees(
    phone: Chrome, url: str
) -> None:
    phone.get(url)
    lines = [one.text for one in phone.find_elements(By.CSS_SELECTOR, ".line")]
    assert lines == ["PROTECT 40 trees by 20:00: cover 30, shed 10 danger"]
    assert box(phone, ".line")[2] < SCREEN / 4
    strips = phone.find_elements(By.CSS_SELECTOR, ".strip")
    assert len(strips) == 5
    assert box(phone, ".strip")[2] < SCREEN
    assert all(strip.find_elements(By.CSS_SELECTOR, "[fill='url(#danger)']") for strip in strips)
    rows = phone.find_elements(By.CSS_SELECTOR, ".grid tbody tr")
    assert len(rows) == TREES
    assert all(len(one.find_elements(By.TAG_NAME, "td")) == 5 for one in rows[:3])
    assert box(phone, ".grid tbody")[2] <= 1.5 * SCREEN
    assert misfits(phone) == []


def test_trees_are_carried_two_of_them_not_in_four_taps(
    phone: Chrome, made: PageGarden, url: str
) -> None:
    phone.get(url)
    finger = Finger(phone)
    finger.tap(".line", "40 trees")
    assert shows(phone, "all but the ticked")
    assert misfits(phone) == []
    finger.tap(".carry label", "Copper")
    finger.tap(".carry label", "Yew")
    finger.tap(".bar button", "all but the ticked")
    assert shows(phone, "Noted:")
    assert finger.taps <= 4
    left = [one.text for one in phone.find_elements(By.CSS_SELECTOR, ".carry label b")]
    assert left == ["Copper", "Yew"]  # it stays with the jobs
    with made.store() as store:
        moved = {entry.tree for entry in store.journal.entries() if isinstance(entry, Move)}
    assert len(moved) == TREES - 2


def test_pages_of_many_trees_fit(phone: Chrome, made: PageGarden, url: str) -> None:
    """Those with fewer are looked at in the same way in test_browser."""
    phone.get(f"{url}/bench/top%20bench")
    assert misfits(phone) == []
    show(phone, made.client().get("/plan/windows").text)
    assert misfits(phone) == []


def test_a_trees_page_names_the_job_that_was_told(made: PageGarden) -> None:
    """The shed has no room for all: alone, each tree would be best off there."""
    client, zone = made.client(), made.settings.garden.timezone
    with made.store() as store:
        jobs = to_do(store.episodes.since(made.now), made.now, zone)
    covered = [(one, tree) for one in jobs if one.into is None for tree in one.trees]
    assert covered
    for job, tree in covered[:: len(covered) // 2]:
        by = f"{job.do_by.astimezone(ZoneInfo(zone)):%a %d %b %H:%M}"
        assert f'class="deed">To do: {job.words}, by {by}.' in client.get(f"/tree/{tree}").text
