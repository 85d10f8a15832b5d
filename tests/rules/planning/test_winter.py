"""Through the winter: in, how long, chill, and out; what command and round-up say."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from commanding import HEAD, Garden, fails
from garden_toml import BENCH, EMBER, FIG, HANDS_ON, HEATH, MEANS, PLACE, SHED
from hypothesis import given
from hypothesis import strategies as st
from spring_frosts import Labs

from underbench.daemon.alerts import scheduled_messages as duties
from underbench.daemon.alerts.scheduled_messages import say
from underbench.daemon.planning.round_up_line import RoundUpLine
from underbench.daemon.planning.winter import winters
from underbench.daemon.planning.winter_text import WinterView
from underbench.daemon.wording.json_form import SCHEMA
from underbench.rules.garden.inventory import SpotKind
from underbench.rules.garden.journal import Move, Sighting, Stage, Work
from underbench.rules.garden.works import WorkKind
from underbench.rules.limits.aftercare import Aftercare
from underbench.rules.limits.condition import Condition
from underbench.rules.planning.past_years import DateRange, PastDay, Usual
from underbench.rules.planning.winter import (
    Cold,
    Doing,
    Wintering,
    air_chill,
    bark_at_risk,
    cold_nights,
    doing,
    hardening_off,
    near_c,
    nights_under,
    open_by_day,
    out_c,
    thawing_hour,
    winter_of,
)
from underbench.rules.plants.species import Kind
from underbench.rules.plants.species_lookup import find as species_named

DAY = timedelta(days=1)
NORTH, SOUTH = 46.0, -46.0
YEARS = Cold(
    DateRange(date(2025, 11, 5), date(2025, 11, 20), 4),
    DateRange(date(2026, 3, 10), date(2026, 4, 2), 4),
    4,
)
NEVER, UNKNOWN = Cold(None, None, 4), Cold(None, None, 0)
MAPLE = Wintering(
    near_c=-3.0,
    kind=SpotKind.BENCH,
    belongs_under=False,
    shelter=True,
    nights=0,
    stay_nights=0,
    rests=True,
    chill_days=60.0,
    air_chill=60.0,
    stage=Stage.DORMANT,
    in_leaf=False,
    threatened=False,
    too_cold=False,
    near_on=None,
    kind_of_plant=Kind.BROADLEAF_DECIDUOUS,
)
IN_SHED = replace(MAPLE, kind=SpotKind.SHED, nights=120, stay_nights=120)


def on(month: int, day: int, tree: Wintering = MAPLE, cold: Cold = YEARS) -> Doing:
    return doing(tree, cold, date(2025 if month > 8 else 2026, month, day), NORTH)


# Nights and earlier years


def stays(*carried: tuple[int, str]) -> list[Move]:
    begins = datetime(2025, 9, 1, 12, tzinfo=UTC)
    return [Move(tree="Ember", at=begins + n * DAY, spot=spot) for n, spot in carried]


def test_nights_are_counted_where_the_day_ends() -> None:
    moves = stays((10, "shed"), (15, "bench"), (20, "shed"))
    assert nights_under(moves, "bench", {"shed"}, date(2025, 9, 1), date(2025, 10, 1)) == (15, 10)


@given(st.lists(st.tuples(st.integers(-30, 60), st.sampled_from(["shed", "bench"]))))
def test_nights_in_and_out_are_all_the_nights(carried: list[tuple[int, str]]) -> None:
    begins, today = date(2025, 9, 1), date(2025, 10, 21)
    under, stay = nights_under(stays(*carried), "bench", {"shed"}, begins, today)
    out, _ = nights_under(stays(*carried), "bench", {"bench"}, begins, today)
    assert under + out == 50
    assert 0 <= stay <= under


def earlier(latitude: float, cold: dict[date, float], years: range = range(2021, 2026)) -> Usual:
    """Whole years at 10 °C with lows of 5 °C, except for some nights."""
    first, last = date(years[0], 1, 1), date(years[-1], 12, 31)
    days = [first + n * DAY for n in range((last - first).days + 1)]
    return Usual({day: PastDay(10.0, cold.get(day, 5.0)) for day in days}, latitude)


def test_the_cold_of_earlier_years_is_a_range_of_this_winters_days() -> None:
    cold = {date(2021, 11, 10): -4.0, date(2022, 3, 1): -4.0, date(2023, 12, 24): -9.0}
    found = cold_nights(earlier(NORTH, cold), -3.0, date(2026, 1, 10))
    assert found.winters == 4
    assert found.first == DateRange(date(2025, 11, 10), date(2025, 12, 24), 2)
    assert found.last is not None
    assert found.last.years == 2
    assert found.last.first == date(2025, 12, 24)
    assert found.last.last == date(2026, 3, 1)


def test_a_winter_half_known_does_not_count_nor_does_the_one_it_is() -> None:
    cold = {date(2025, 11, 10): -4.0}
    assert cold_nights(earlier(NORTH, cold), -3.0, date(2026, 1, 10)) == NEVER
    assert cold_nights(Usual({}, NORTH), -3.0, date(2026, 1, 10)) == UNKNOWN


@given(st.dictionaries(st.dates(date(2021, 1, 1), date(2025, 8, 1)), st.floats(-20, 5)))
def test_hardier_trees_go_in_no_sooner_and_come_out_no_later(cold: dict[date, float]) -> None:
    usual, today = earlier(NORTH, cold), date(2026, 1, 10)
    tender, hardy = (cold_nights(usual, limit_c, today) for limit_c in (-3.0, -8.0))
    if hardy.first and hardy.last:
        assert tender.first is not None
        assert tender.last is not None
        assert tender.first.first <= hardy.first.first
        assert tender.last.last >= hardy.last.last


def test_the_south_has_its_winter_half_a_year_later() -> None:
    assert winter_of(date(2026, 1, 10), NORTH) == date(2025, 9, 1)
    assert winter_of(date(2026, 8, 10), NORTH) == date(2026, 9, 1)
    assert winter_of(date(2026, 7, 10), SOUTH) == date(2026, 3, 1)
    assert doing(MAPLE, Cold(DateRange(date(2026, 5, 5), date(2026, 5, 20), 4), None, 4),
                 date(2026, 5, 6), SOUTH) is Doing.GO_IN  # fmt: skip


# What there is to do: common practice, no source


@pytest.mark.parametrize(
    ("month", "day", "what"),
    [(10, 20, Doing.NOTHING), (10, 30, Doing.GO_IN), (11, 20, Doing.GO_IN), (1, 20, Doing.NOTHING)],
)
def test_it_goes_in_before_the_first_nights_of_earlier_years(
    month: int, day: int, what: Doing
) -> None:
    assert on(month, day) is what


def test_the_forecast_brings_it_in_whatever_the_years_were() -> None:
    near = replace(MAPLE, near_on=date(2025, 10, 3))
    assert {on(10, 1, near, cold) for cold in (YEARS, NEVER, UNKNOWN)} == {Doing.GO_IN}


def test_what_nothing_can_take_in_is_covered_and_uncovered_in_spring() -> None:
    big = replace(MAPLE, shelter=False, cover_told=True)
    assert on(11, 1, big) is Doing.COVER_ON
    assert on(1, 20, big) is Doing.NOTHING
    assert on(4, 5, big) is Doing.COVER_OFF
    assert on(4, 5, replace(big, threatened=True)) is Doing.NOTHING
    assert on(5, 20, big) is Doing.NOTHING
    assert on(4, 5, replace(big, cover_told=False)) is Doing.NOTHING  # none was asked for


def test_what_is_under_the_bench_has_its_cover() -> None:
    below = replace(MAPLE, shelter=False, kind=SpotKind.UNDER_BENCH)
    assert on(11, 10, below) is Doing.NOTHING
    assert on(11, 10, replace(below, threatened=True)) is Doing.COVER_ON


def test_a_maple_is_not_carried_in_with_its_autumn_leaves_but_when_the_forecast_asks() -> None:
    red = replace(MAPLE, stage=Stage.COLOURING, in_leaf=True)
    assert on(11, 10, red) is Doing.NOTHING
    assert on(11, 10, replace(red, near_on=date(2025, 11, 12))) is Doing.GO_IN
    pine = replace(red, stage=Stage.HARDENED, kind_of_plant=Kind.CONIFER_EVERGREEN)
    assert on(11, 10, pine) is Doing.GO_IN


def test_a_cover_that_is_too_cold_is_no_place_to_stay() -> None:
    fig = replace(IN_SHED, kind_of_plant=Kind.TROPICAL, too_cold=True, threatened=True)
    assert on(12, 5, fig) is Doing.TOO_COLD
    assert on(12, 5, replace(fig, belongs_under=True)) is Doing.TOO_COLD
    assert on(12, 5, replace(fig, too_cold=False)) is Doing.STAY


@pytest.mark.parametrize(
    ("month", "day", "what"),
    [(11, 20, Doing.STAY), (2, 10, Doing.STAY), (3, 20, Doing.STAY), (4, 3, Doing.COME_OUT)],
)
def test_it_comes_out_after_the_last_nights_of_earlier_years(
    month: int, day: int, what: Doing
) -> None:
    assert on(month, day, IN_SHED) is what


def test_buds_that_move_want_light_and_come_out_sooner() -> None:
    assert on(3, 20, replace(IN_SHED, stage=Stage.BUD_SWELL)) is Doing.COME_OUT


def test_what_is_in_leaf_waits_for_the_latest_of_the_last_nights() -> None:
    assert YEARS.last is not None
    early, late = YEARS.last.first + DAY, YEARS.last.last + DAY
    in_leaf = replace(IN_SHED, stage=Stage.LEAFING_OUT, in_leaf=True)
    assert doing(in_leaf, YEARS, early, NORTH) is Doing.STAY
    assert doing(in_leaf, YEARS, late, NORTH) is Doing.COME_OUT


def test_young_leaves_come_out_to_warmer_nights_than_wood_at_rest(make: Any) -> None:
    """Open leaves die at −2 to −3 °C of tissue, which clear nights bring at 0 °C of screen air:
    common practice, no source."""
    maple, tree = species_named("Acer palmatum"), make.tree()
    at_rest, young = (
        Condition(tree, stage, Aftercare(), 0.0, 40.0)
        for stage in (Stage.DORMANT, Stage.LEAFING_OUT)
    )
    assert out_c(maple, at_rest) == near_c(maple, at_rest)
    assert out_c(maple, young) >= 0.0 > out_c(maple, at_rest)


def test_a_tropical_comes_out_in_summer_though_nights_near_its_limit_go_on_to_its_end() -> None:
    chilly = Cold(DateRange(date(2025, 9, 3), date(2025, 9, 20), 4),
                  DateRange(date(2026, 6, 20), date(2026, 6, 30), 4), 4)  # fmt: skip
    fig = replace(
        IN_SHED, kind_of_plant=Kind.TROPICAL, rests=False, stage=Stage.HARDENED, in_leaf=True
    )
    assert on(5, 25, fig, chilly) is Doing.COME_OUT
    assert on(5, 25, replace(fig, near_on=date(2026, 5, 27)), chilly) is Doing.STAY
    assert on(3, 25, fig, chilly) is Doing.STAY


@given(st.dates(date(2025, 9, 1), date(2026, 8, 31)), st.sampled_from([YEARS, NEVER, UNKNOWN]))
def test_what_the_forecast_threatens_never_comes_out(today: date, cold: Cold) -> None:
    for threat in ({"threatened": True}, {"near_on": today}):
        found = doing(replace(IN_SHED, **threat), cold, today, NORTH)
        assert found not in (Doing.COME_OUT, Doing.COVER_OFF)


def test_without_earlier_years_the_forecast_alone_decides_and_not_before_april() -> None:
    assert on(3, 20, IN_SHED, UNKNOWN) is Doing.STAY
    assert on(4, 2, IN_SHED, UNKNOWN) is Doing.COME_OUT


def test_a_tree_kept_warmer_than_it_need_be_is_named_while_there_is_time() -> None:
    warm = replace(IN_SHED, chill_days=10.0, air_chill=25.0)
    assert on(11, 30, warm) is Doing.STAY
    assert on(12, 10, warm) is Doing.TOO_WARM
    assert on(1, 10, replace(warm, stage=Stage.BUD_SWELL)) is Doing.STAY
    assert on(1, 10, replace(warm, kind=SpotKind.BENCH)) is Doing.NOTHING


@pytest.mark.parametrize("air", [12.0, None])
def test_where_no_colder_place_is_known_it_is_not_asked_for(air: float | None) -> None:
    assert on(2, 10, replace(IN_SHED, chill_days=10.0, air_chill=air)) is Doing.STAY


@pytest.mark.parametrize("kind", [Kind.BROADLEAF_EVERGREEN, Kind.TROPICAL])
def test_what_keeps_its_leaves_is_not_called_too_warm(kind: Kind) -> None:
    warm = replace(IN_SHED, chill_days=10.0, air_chill=60.0, kind_of_plant=kind)
    assert on(2, 10, warm) is Doing.STAY


def test_chill_is_counted_in_the_open_air_where_the_days_are_known() -> None:
    days = [date(2025, 11, 1) + n * DAY for n in range(40)]
    usual = Usual({day: PastDay(5.0 if day.month == 12 else 9.0, 0.0) for day in days}, NORTH)
    assert air_chill(usual, date(2025, 12, 11)) == 10.0
    assert air_chill(usual, date(2025, 10, 11)) is None
    assert air_chill(Usual({}, NORTH), date(2025, 12, 11)) is None


def test_a_collected_pine_goes_in_by_what_its_cut_roots_bear(make: Any) -> None:
    """Collected trees are kept almost free of frost for their first winter: common practice, no
    source."""
    pine, tree = species_named("Pinus thunbergii"), make.tree()
    care = Aftercare(roots=Work(tree="Pine", at=NOON, work=WorkKind.COLLECT), floor_c=-2.0)
    settled, collected = (
        near_c(pine, Condition(tree, Stage.HARDENED, one, 0.0, 40.0)) for one in (Aftercare(), care)
    )
    assert settled < -4.0 < 0.0 < collected


def test_days_out_lengthen_and_begin_in_shade() -> None:
    days = hardening_off(date(2026, 4, 3))
    assert len(days) == 10
    hours = [day.hours for day in days]
    assert hours == sorted(set(hours))
    assert max(hours) < 13  # no night yet
    assert [day.shade for day in days] == [True] * 5 + [False] * 5


def test_only_what_is_in_leaf_after_more_than_a_fortnight_is_hardened_off() -> None:
    soft = replace(IN_SHED, in_leaf=True, stay_nights=15)
    assert soft.hardens_off
    assert not replace(soft, stay_nights=14).hardens_off
    assert not replace(soft, in_leaf=False).hardens_off
    assert not replace(soft, kind=SpotKind.BENCH).hardens_off


def test_glass_is_opened_on_mild_days_and_in_the_sun() -> None:
    frame, glass = (
        replace(IN_SHED, kind=kind) for kind in (SpotKind.COLD_FRAME, SpotKind.GREENHOUSE)
    )
    assert open_by_day(frame, 3, 10.0, 10.0)
    assert open_by_day(glass, 3, 2.0, 18.0)
    assert not open_by_day(frame, 3, 5.0, 9.0)
    assert not open_by_day(frame, 9, 15.0, 25.0)  # it stands open since summer
    assert not open_by_day(IN_SHED, 3, 12.0, 20.0)
    assert not open_by_day(replace(glass, kind_of_plant=Kind.TROPICAL), 3, 12.0, 20.0)


# The command

NOON = datetime(2024, 4, 20, 10, tzinfo=UTC)


def shown(garden: Garden, *words: str, at: datetime = NOON) -> str:
    done = garden.do("winter", *words, "--at", at.isoformat())
    assert done.exit_code == 0, done.output
    return done.stdout


def test_the_command_says_what_to_do_with_each_tree(garden: Garden) -> None:
    garden.write(HEAD + EMBER + HEATH + FIG)
    garden.do("moved", "Ember", "shed", "--on", "2024-03-20")
    garden.do("seen", "leafing-out", "Ember", "--on", "2024-04-10")
    read = json.loads(shown(garden, "--json"))
    assert read["schema"] == SCHEMA
    trees = {one["tree"]: one for one in read["trees"]}
    assert trees["Ember"]["nights_under_cover"] == 31
    assert trees["Fig"]["do"] == Doing.GO_IN  # 12 °C: a figure of growers
    assert trees["Fig"]["needs_chill"] is False
    assert trees["Heath"]["in_below_c"] == -5.5  # roots from -10, 4.5 K before
    assert trees["Heath"]["do"] == Doing.NOTHING
    assert read["trees"][0]["tree"] == "Fig"
    told = shown(garden)
    assert re.search(r"A night so cold is forecast by .+: Fig\.", told)
    assert "not known yet" in told
    assert "Heath" not in shown(garden, "Ember")


def test_a_soft_tree_is_led_out_by_and_by(labs: Labs, make: Any) -> None:
    garden = labs(WINTERED, make.weather(APRIL - 40 * DAY, 24 * 60, mean_c=14.0))
    garden.store.journal.add(
        [
            Move(tree="Ember", at=APRIL - 30 * DAY, spot="shed"),
            Sighting(tree="Ember", at=APRIL - 3 * DAY, stage=Stage.LEAFING_OUT),
        ]
    )
    outlook = garden.run(APRIL).outlook
    told = " ".join(WinterView(outlook, winters(outlook, garden.store)).text().split())
    assert "come out" in told
    assert "Harden off over 10 days" in told
    assert "In leaf after their nights in: Ember (30 nights in)" in told
    assert "over 10 days from 20 Apr on" in told
    say(garden.run(APRIL), garden.settings, garden.store, APRIL)  # it was told to come out
    later = APRIL + 3 * DAY
    outlook = garden.run(later).outlook
    told = WinterView(outlook, winters(outlook, garden.store)).text()
    assert "over 10 days from 20 Apr on" in told  # the plan goes on and does not begin anew


def test_a_name_that_is_none_is_one_clear_line(garden: Garden) -> None:
    fails(garden.do("winter", "Embr"), "Ember")


@pytest.mark.parametrize("work", ["check", "feed", "unwire"])
def test_what_changes_no_limit_is_not_tried_on_paper(garden: Garden, work: str) -> None:
    fails(garden.do("whatif", "did", work, "Ember"), work, "changes no limit")


# The round-up

AT_NINE = '[telling]\nround_up = "09:00"\n'
WINTERED = PLACE + HANDS_ON + MEANS + BENCH + SHED + "room = 2\n" + AT_NINE + EMBER
APRIL = datetime(2024, 4, 20, 8, tzinfo=UTC)
AUTUMN = datetime(2024, 11, 2, 9, tzinfo=UTC)


def said(garden: Any, first: datetime, days: int) -> list[list[str]]:
    found = []
    for n in range(days):
        now = first + n * DAY
        (message,) = say(garden.run(now), garden.settings, garden.store, now)
        found.append(message.body.splitlines())
    return found


def cooling(make: Any, first: datetime) -> Any:
    """Nights of 1 °C, from Thursday 7 November on of -0.8 °C: near what a maple's roots bear."""
    daily = np.full(24 * 30, 6.0)
    daily[24 * 14 :] = 4.2
    return make.weather(first - 10 * DAY, len(daily), mean_c=daily, swing_k=5.0)


def test_a_round_up_says_once_when_to_bring_in(labs: Labs, make: Any) -> None:
    garden = labs(WINTERED, cooling(make, AUTUMN))
    bodies = said(garden, AUTUMN, 4)
    lines = [line for body in bodies for line in body if line.startswith("Bring in")]
    assert lines == ["Bring in Ember by Wednesday evening: the cold they bear is near."]


def with_years(garden: Any, cold: tuple[date, ...]) -> Any:
    """A garden with five earlier years, cold only on these days."""
    first = date(2019, 1, 1)
    days = [first + n * DAY for n in range(365 * 5 + 1)]
    kept = [((day - date(1970, 1, 1)).days, 8.0, -5.0 if day in cold else 3.0) for day in days]
    garden.store.hours.keep_days(kept)
    return garden


def test_the_years_say_to_make_room_and_the_forecast_still_gives_the_day(
    labs: Labs, make: Any
) -> None:
    weather = cooling(make, AUTUMN)
    garden = with_years(labs(WINTERED, weather), (date(2021, 11, 4), date(2022, 11, 20)))
    garden.store.journal.add([Sighting(tree="Ember", at=AUTUMN - DAY, stage=Stage.DORMANT)])
    bodies = said(garden, AUTUMN - 2 * DAY, 6)
    lines = [line for body in bodies for line in body if "Ember" in line]
    lines = [line for line in lines if not line.startswith("To be told")]
    assert lines == [
        "Make room under cover for Ember: such cold came from 4 Nov on, in 2 of 4 winters.",
        "Bring in Ember by Wednesday evening: the cold they bear is near.",
    ]


def test_a_round_up_says_once_when_to_bring_out(labs: Labs, make: Any) -> None:
    garden = labs(WINTERED, make.weather(APRIL - 40 * DAY, 24 * 60, mean_c=14.0))
    garden.store.journal.add([Move(tree="Ember", at=APRIL - 30 * DAY, spot="shed")])
    lines = [
        line for body in said(garden, APRIL, 3) for line in body if "cold is usually over" in line
    ]
    assert len(lines) == 1
    assert "Ember" in lines[0]


def test_what_closes_today_is_not_pushed_out_and_a_round_up_stays_short(
    labs: Labs, make: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    garden = labs(WINTERED, make.weather(APRIL - 40 * DAY, 24 * 60, mean_c=14.0))
    garden.store.journal.add([Move(tree="Ember", at=APRIL - 30 * DAY, spot="shed")])
    closes = RoundUpLine("Last good day to repot Ember.", ("window closes",), APRIL.date())
    others = [RoundUpLine(f"Look at {n}.", (f"look {n}",)) for n in range(2)]
    monkeypatch.setattr(duties, "follow_up_line", lambda *_: others)
    monkeypatch.setattr(duties, "window_lines", lambda *_: [closes])
    (body,) = said(garden, APRIL, 1)
    assert len(body) <= 7  # six lines, and the source
    assert body[3:5] == [closes.words, others[0].words]
    assert garden.store.duties.last_done("window closes") == APRIL
    assert garden.store.duties.last_done("look 1") is None  # it was not said


def test_earlier_winters_are_given_as_ranges(labs: Labs, make: Any) -> None:
    cold = (date(2021, 11, 10), date(2022, 11, 20), date(2023, 3, 5))
    garden = with_years(labs(WINTERED, cooling(make, AUTUMN)), cold)
    outlook = garden.run(AUTUMN).outlook
    told = WinterView(outlook, winters(outlook, garden.store)).text()
    assert "from 10 Nov–20 Nov until 10 Nov–5 Mar (2 of 4 winters)" in told


@pytest.mark.parametrize(
    ("frozen_h", "hour"),
    [
        ([47.0, 48.0, 49.0, 0.0, 0.0], 3),
        ([20.0, 21.0, 0.0, 0.0], None),  # one night
        ([70.0, 71.0, 72.0], None),  # no thaw in sight
    ],
)
def test_an_evergreen_is_watered_as_a_long_frost_leaves_its_roots(
    frozen_h: list[float], hour: int | None
) -> None:
    """Common practice, no source."""
    assert thawing_hour(frozen_h) == hour


@pytest.mark.parametrize(
    ("low_c", "sun_wm2", "wind_ms", "frozen_h", "risk"),
    [
        (-10.0, 450.0, 1.0, 0.0, True),  # sun on bark, then a hard night
        (-10.0, 150.0, 1.0, 0.0, False),  # dull
        (-4.0, 450.0, 1.0, 0.0, False),  # an ordinary frost
        (-6.0, 100.0, 5.0, 60.0, True),  # wind while the roots are frozen
        (-6.0, 100.0, 1.0, 60.0, False),
        (-6.0, 100.0, 5.0, 10.0, False),
    ],
)
def test_bare_bark_and_twigs_are_at_risk_in_sun_or_wind_with_hard_frost(
    low_c: float, sun_wm2: float, wind_ms: float, frozen_h: float, risk: bool
) -> None:
    """Common practice, no source."""
    day = [value * 24 for value in ([sun_wm2], [wind_ms], [frozen_h])]
    assert bark_at_risk(low_c, *day) is risk
