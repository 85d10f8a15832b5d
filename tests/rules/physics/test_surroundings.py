"""The air, sun and ground around a tree, and what is counted of them from hour to hour."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from typing import Any

import numpy as np
import pytest
from astral import Observer
from astral.sun import elevation

from underbench.rules.garden.inventory import ContainerKind, Routine, Standing
from underbench.rules.garden.journal import Stage
from underbench.rules.garden.works import WorkKind
from underbench.rules.physics.pots import ball_of
from underbench.rules.physics.rootball import nodes_of, reflected_wm2
from underbench.rules.physics.surroundings import sky_over

JANUARY, JULY = datetime(2026, 1, 10, tzinfo=UTC), datetime(2026, 7, 6, tzinfo=UTC)
DAY = timedelta(days=1)


def test_the_sun_of_an_hour_stands_where_it_does_at_its_middle(make: Any) -> None:
    """Checked against astral, which gives the sun at any moment; the light is the whole hour's."""
    weather = make.weather(JULY, 24)
    garden = make.garden
    middles = [datetime.fromtimestamp(int(t) - 1800, tz=UTC) for t in weather.times]
    observer = Observer(garden.latitude, garden.longitude)
    theirs = [elevation(observer, at, with_refraction=False) for at in middles]
    ours = np.degrees(sky_over(weather, garden).elevation_rad[0, 0])
    assert ours == pytest.approx(theirs, abs=0.02)


@pytest.mark.parametrize(("snow_m", "left"), [(0.0, np.exp(-1.0)), (0.5 / 9.0, np.exp(-0.5))])
def test_the_ground_follows_the_air_as_the_exponential(
    make: Any, snow_m: float, left: float
) -> None:
    """Ten days, the time constant, leave 1/e of a step: exact in the limit of short hours. 5.6 cm
    of snow resists as much as half a metre of soil, so it halves the pace."""
    tree = make.tree()
    weather = make.weather(JANUARY, 240, mean_c=-5.0, swing_k=0.0, snow_m=snow_m)
    end = make.follow([tree], weather, start=make.begin([tree], 5.0)).end
    assert (end.deep_c[0, 0] + 5.0) / 10.0 == pytest.approx(left, rel=0.003)


@pytest.mark.parametrize("spot", ["top bench", "shed", "cold frame"])
def test_air_that_warms_faster_than_the_shed_is_never_above_saturation_in_it(
    make: Any, spot: str
) -> None:
    """Warm fog comes in over cold walls, and what is too much condenses."""
    tree = make.tree(spot=spot)
    mean_c = np.where(np.arange(48) < 24, -5.0, 12.0)
    weather = make.weather(JANUARY, 48, mean_c=mean_c, swing_k=0.0, dew_drop_k=0.0, cloud=1.0)
    felt = make.follow([tree], weather, start=make.begin([tree], -5.0)).exposure
    assert (felt.vpd_kpa >= -1e-6).all()


def test_a_wall_sees_half_of_what_even_ground_sends_back() -> None:
    """View factor of an upright wall to endless ground: one half. Albedo 0.2, handbook."""
    whole, diffuse = np.array(800.0), np.array(150.0)
    assert reflected_wm2(whole, diffuse, np.array(1.0)) == pytest.approx(0.5 * 0.2 * 800.0)
    assert reflected_wm2(whole, diffuse, np.array(0.0)) == pytest.approx(0.5 * 0.2 * 150.0)


def test_heat_of_a_litre_thawed_and_frozen(make: Any) -> None:
    """Handbook: water 4.18 and ice 2.1 kJ/kgK; 0.38 kg in a litre of mix of dry 0.5 MJ/m³K."""
    nodes = nodes_of(ball_of([make.container(1.0)], [Standing.BENCH]), np.ones((1, 1)))
    assert 2.0 * nodes.thawed_j_k.item() == pytest.approx(500.0 + 0.38 * 4180.0, rel=1e-3)
    assert 2.0 * nodes.frozen_j_k.item() == pytest.approx(500.0 + 0.38 * 2100.0, rel=5e-3)


def test_only_hours_frozen_nearly_through_are_counted(make: Any) -> None:
    """A half-frozen ball still gives water; an hour counts from four fifths frozen on."""
    tree = make.tree(litres=15.0)
    weather = make.weather(JANUARY, 24 * 6, mean_c=-6.0, swing_k=0.0, cloud=1.0, global_wm2=0.0)
    felt = make.follow([tree], weather, start=make.begin([tree], 3.0)).exposure
    ice, hours = felt.frozen_share[0, 0], felt.frozen_h[0, 0]
    partly = (ice > 0.35) & (ice < 0.79)
    assert partly.sum() > 5
    assert (hours[partly] == 0).all()
    through = ice >= 0.8
    assert hours[through].tolist() == list(range(1, through.sum() + 1))


def test_roots_gain_by_warmth_but_not_by_heat(make: Any) -> None:
    """Nothing above 39 °C (Markham et al. 2011, as quoted); we stop at 35. Above 6 °C before."""
    tree = make.tree(litres=3.0)

    def gained(mean_c: float) -> float:
        weather = make.weather(JULY, 48, mean_c=mean_c, swing_k=0.0, cloud=1.0, global_wm2=0.0)
        routine = (Routine(times=(time(7),), first=(1, 1), last=(12, 31)),)
        setting = make.setting([tree], routine)
        start = make.begin([tree], mean_c)
        return float(make.follow([tree], weather, setting=setting, start=start).end.root_day_cd[0])

    assert gained(4.0) == 0.0
    assert gained(44.0) == 0.0
    mild = make.follow([tree], make.weather(JULY, 48, mean_c=12.0, swing_k=0.0, cloud=1.0))
    shell_c = mild.exposure.shell_c[0, 0, :24]
    first = dict(mild.midnights)[JULY + DAY].root_warmth_cd[0]
    assert first == pytest.approx(np.clip(shell_c - 6.0, 0.0, 14.0).sum() / 24.0, rel=1e-5)


def test_a_crown_in_a_shut_bag_draws_no_water(make: Any) -> None:
    """Its air is saturated (common practice: that is what bags are for)."""
    trees = [make.tree("Ember"), make.tree("Lane")]
    weather = make.weather(JULY, 24, mean_c=20.0, dew_drop_k=9.0)
    journal = [make.seen(tree.name, JULY - DAY, Stage.HARDENED) for tree in trees]
    journal.append(make.work("Lane", JULY - 0.5 * DAY, WorkKind.BAG))
    left = make.follow(trees, weather, journal).exposure.water_left[:, 0, -1]
    assert left[1] > left[0] + 0.3


def test_a_bed_has_ground_below_and_only_a_top(make: Any) -> None:
    ball = ball_of([make.container(60.0, kind=ContainerKind.BED)], [Standing.GROUND])
    assert ball.ground[0]
    assert (ball.side_m2[0], ball.base_m2[0]) == (0.0, 0.0)
    assert ball.top_m2[0] == pytest.approx(0.06 / 0.25)
