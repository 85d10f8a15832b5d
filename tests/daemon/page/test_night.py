"""The night as a picture: its hours, what fills a strip, and its words."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from page_garden import EVENING

from underbench.daemon.page.night import HEIGHT, WIDTH, Night, axis, harm_words, night_of, strip
from underbench.daemon.wording.units import Units
from underbench.rules.garden.inventory import Garden

HOUR = timedelta(hours=1)
GARDEN = Garden(
    name="Orchard End",
    latitude=46.05,
    longitude=14.51,
    elevation_m=300,
    timezone="Europe/Ljubljana",
)
ZONE, METRIC = ZoneInfo("Europe/Ljubljana"), Units("metric")
MIDNIGHT = datetime(2024, 4, 23, 22, tzinfo=UTC)  # by the garden's clock


def struck(strength: str, begins_h: float, ends_h: float) -> list[tuple[str, int, int]]:
    """One tree struck between two hours after midnight."""
    begin, end = (int((MIDNIGHT + h * HOUR).timestamp()) for h in (begins_h, ends_h))
    return [(strength, begin, end)]


def night(now: datetime = EVENING, *hours: list[tuple[str, int, int]]) -> Night:
    return night_of(GARDEN, now, None, hours)


def boxes(drawn: str, strength: str) -> list[tuple[float, float, float, float]]:
    """Left, bottom, right and top of each area filled so."""
    found = re.findall(rf'url\(#{strength}\)" d="M([\d.]+) ([\d.]+)H([\d.]+)V([\d.]+)H', drawn)
    return [tuple(map(float, one)) for one in found]  # type: ignore[misc]


def test_the_night_ends_at_noon_and_begins_before_dusk_with_now_in_it() -> None:
    shown = night()
    assert shown.ends.astimezone(ZONE).hour == 12
    assert shown.begins <= EVENING < shown.dusk < shown.dawn < shown.ends
    assert night(EVENING - 7 * HOUR).begins > EVENING - 7 * HOUR  # in the morning: the next night


def test_in_the_small_hours_it_is_the_night_that_is_on() -> None:
    shown = night(MIDNIGHT + 3 * HOUR)
    assert shown.begins == MIDNIGHT + 2 * HOUR
    assert shown.ends == MIDNIGHT + 12 * HOUR


def test_where_only_the_day_harms_it_is_the_day_that_is_shown() -> None:
    hot = struck("act", 14, 17)
    morning = MIDNIGHT + 10 * HOUR
    shown = night(morning, hot)
    assert (shown.begins, shown.ends) == (morning, morning + 24 * HOUR)
    assert shown.whole_day
    assert not night(morning, hot, struck("act", 27, 30)).whole_day


def test_a_strip_is_filled_by_as_many_trees_as_are_struck_the_gravest_below() -> None:
    hours = [struck("danger", 1, 5), struck("act", 3, 6), struck("notice", 3, 4), []]
    shown = night(EVENING, *hours)
    drawn = strip(shown, hours)
    ((left, bottom, right, top),) = boxes(drawn, "danger")
    assert left == round(shown.x(MIDNIGHT + HOUR), 1)
    assert right == round(shown.x(MIDNIGHT + 5 * HOUR), 1)
    assert (bottom, top) == (HEIGHT, HEIGHT * 3 / 4)
    first, alone = boxes(drawn, "act")
    assert (first[1], first[3]) == (HEIGHT * 3 / 4, HEIGHT / 2)  # on top of the danger
    assert (alone[1], alone[3]) == (HEIGHT, HEIGHT * 3 / 4)  # after it
    ((_, low, _, high),) = boxes(drawn, "notice")
    assert (low, high) == (HEIGHT / 2, HEIGHT / 4)


def test_two_stretches_with_calm_between_are_two() -> None:
    twice = struck("act", 0, 2) + struck("act", 5, 6)
    assert len(boxes(strip(night(), [twice]), "act")) == 2


def test_fills_differ_by_pattern_and_words_say_the_same() -> None:
    hours = [struck("danger", 1, 5), struck("act", 3, 6), []]
    assert harm_words(night(), hours, ZONE, METRIC) == "1 in danger, 1 harmed, 01:00 to 06:00"
    assert harm_words(night(), [[]], ZONE, METRIC) == "no harm"


def test_marks_and_hours_stand_clear_of_each_other() -> None:
    due = MIDNIGHT - 2 * HOUR
    drawn = axis(night_of(GARDEN, EVENING, due, []), GARDEN, METRIC)
    words = re.findall(r">([^<>]+)</text>", drawn)
    assert words[:2] == ["now", "by 22:00"]
    xs = [float(x) for x in re.findall(r'class="hour" x="(\d+)"', drawn)]
    assert all(later - before > 30 for before, later in pairwise(xs))
    assert 0 < min(xs) < max(xs) < WIDTH
    early = axis(night_of(GARDEN, EVENING - 7 * HOUR, None, []), GARDEN, METRIC)
    assert "now" not in re.findall(r">([^<>]+)</text>", early)
