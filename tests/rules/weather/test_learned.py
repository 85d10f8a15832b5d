"""What is learned of the air: nothing without readings, a bias in time, little of a wild value."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from bench.learning import made, scores, st_louis
from hypothesis import given, settings
from hypothesis import strategies as st

from underbench.rules.weather.learned import (
    EARLY_NIGHTS,
    HOUR_WEIGHT,
    WARMEST_K,
    Departure,
    Learned,
    Pair,
    features,
    from_text,
    learn,
    prior_spread_k,
    to_text,
)

DAY_S = 86400
WINTER_S = int(datetime(2027, 1, 15, 6, tzinfo=UTC).timestamp())
LEAD_S = 86400.0
WINTER_NIGHT = np.array([1.0, 1.0, 0.0, 1.0, 1.0, 0.5])
SUMMER_NIGHT = np.array([1.0, -1.0, 0.0, 1.0, 1.0, 0.5])
biases = st.floats(-3.0, 3.0)


def night(number: int, error_k: float, spot: str | None = None) -> Pair:
    """A winter's night whose lowest air was ``error_k`` above the forecast."""
    return Pair(WINTER_S + number * DAY_S, spot, WINTER_NIGHT, 0.0, error_k, LEAD_S)


def after(*pairs: Pair, start: Learned | None = None) -> Learned:
    learned = start or Learned()
    for pair in pairs:
        learned = learn(learned, pair)
    return learned


def shift_k(
    learned: Learned, features: np.ndarray = WINTER_NIGHT, spot: str | None = None
) -> float:
    return float(learned.shift_k(features[None], spot)[0])


def test_without_readings_nothing_is_changed() -> None:
    none = Learned()
    leads = np.array([0.0, 3600.0, LEAD_S, 4 * LEAD_S])
    assert shift_k(none) == 0.0
    assert shift_k(none, spot="top bench") == 0.0
    assert none.departure("top bench") == Departure()
    assert (none.spread_k(leads) == prior_spread_k(leads)).all()


@given(biases)
def test_a_constant_bias_is_learned_night_by_night(bias_k: float) -> None:
    learned, shifts = Learned(), [0.0]
    for number in range(60):
        learned = learn(learned, night(number, bias_k))
        shifts.append(shift_k(learned))
    steps = np.diff(shifts) * np.sign(bias_k)
    assert (steps >= -1e-9).all()
    let = min(bias_k, WARMEST_K[1])  # it is bounded to the warm
    assert shifts[-1] == pytest.approx(let, abs=0.06 * abs(bias_k) + 1e-9)
    assert abs(shifts[1]) <= abs(bias_k) * 0.8  # held back at first


@given(st.integers(0, 80), st.sampled_from([-30.0, 30.0]))
@settings(max_examples=30)
def test_a_wild_value_hardly_counts(nights: int, wild_k: float) -> None:
    before = after(*(night(n, 0.3 * (-1) ** n) for n in range(nights)))
    wild = learn(before, night(nights, wild_k))
    assert abs(shift_k(wild) - shift_k(before)) < 0.3


@given(st.lists(st.tuples(biases, st.sampled_from([None, "bench", "shelf"])), max_size=12))
def test_what_is_kept_and_read_again_is_the_same_to_the_bit(
    seen: list[tuple[float, str | None]],
) -> None:
    learned = after(*(night(n, k, spot) for n, (k, spot) in enumerate(seen)))
    again = from_text(to_text(learned))
    assert to_text(again) == to_text(learned)
    more = night(40, 1.1, "shelf")
    assert to_text(learn(again, more)) == to_text(learn(learned, more))


@pytest.mark.parametrize("text", ["", "{}", "[]", "null", '{"spots": ["a"]}', "7"])
def test_what_is_no_correction_is_refused(text: str) -> None:
    with pytest.raises(ValueError):  # noqa: PT011  (json's own words for some)
        from_text(text)


def test_one_of_other_parts_is_refused() -> None:
    with pytest.raises(ValueError, match="parts"):
        from_text(to_text(replace(Learned(), xy=np.zeros(3))))


def test_a_winter_s_bias_leaves_summer_alone() -> None:
    learned = after(
        *(replace(night(n, -2.0), features=WINTER_NIGHT * [1, 1, 1, 0, 0, 0]) for n in range(60))
    )
    assert shift_k(learned, np.array([1.0, 1.0, 0, 0, 0, 0])) < -1.7
    assert abs(shift_k(learned, np.array([1.0, -1.0, 0, 0, 0, 0]))) < 1e-9


def test_clear_calm_nights_are_told_from_cloudy_ones() -> None:
    clear, cloudy = WINTER_NIGHT.copy(), WINTER_NIGHT.copy()
    clear[5], cloudy[5] = 1.0, 0.0
    pairs = [
        replace(night(n, -2.5 if n % 2 else 0.0), features=clear if n % 2 else cloudy)
        for n in range(60)
    ]
    learned = after(*pairs)
    assert shift_k(learned, clear) < -2.0
    assert abs(shift_k(learned, cloudy)) < 0.4


def test_a_spot_departs_from_the_garden_and_a_new_one_goes_with_it() -> None:
    pairs = [night(n, -1.0 if n % 2 else -3.0, None if n % 2 else "hollow") for n in range(80)]
    learned = after(*pairs)
    assert shift_k(learned) == pytest.approx(-1.0, abs=0.25)
    assert shift_k(learned, spot="hollow") == pytest.approx(-3.0, abs=0.4)
    assert shift_k(learned, spot="never measured") == shift_k(learned)
    own = learned.departure("hollow")
    total = own.always_k + own.night_k + 0.5 * own.clear_calm_k
    assert total == pytest.approx(shift_k(learned, spot="hollow") - shift_k(learned))


@pytest.mark.parametrize(("sd_k", "wider"), [(0.5, False), (3.0, True)])
def test_the_spread_is_learned(sd_k: float, wider: bool) -> None:
    errors = np.random.default_rng(3).normal(0.0, sd_k, 120).tolist()
    learned = after(*(night(n, error) for n, error in enumerate(errors)))
    assert (learned.spread_share > 1.0) is wider
    spread = float(learned.spread_k(np.array(LEAD_S)))
    assert abs(spread - sd_k) < abs(float(prior_spread_k(np.array(LEAD_S))) - sd_k)


def test_a_shift_is_held_within_limits() -> None:
    early = after(*(night(n, -15.0) for n in range(40)))
    assert shift_k(early) >= -4.0


def test_a_sensor_that_walks_away_is_held_and_talks_no_frost_away() -> None:
    good = after(*(night(n, -0.5) for n in range(40)))
    walking = good
    for n in range(40, 140):
        walking = learn(walking, night(n, 0.1 * (n - 40)))
    assert walking.held
    assert shift_k(walking) <= 0.0
    # Three such nights are weather, not a sensor.
    assert not after(*(night(40 + n, 3.0) for n in range(3)), start=good).held
    back = after(*(night(140 + n, -0.5) for n in range(60)), start=walking)
    assert not back.held


def test_a_value_that_is_none_teaches_nothing() -> None:
    known = after(night(0, 1.0))
    assert learn(known, night(1, float("nan"))) is known


def test_the_hours_of_a_day_teach_no_more_than_two_nights() -> None:
    hours = [
        replace(night(0, -1.0), at_s=WINTER_S + h, weight=HOUR_WEIGHT, lowest=False)
        for h in range(24)
    ]
    two = after(night(0, -1.0), night(0, -1.0))
    assert abs(shift_k(after(*hours))) <= abs(shift_k(two)) + 1e-6


def test_a_seasonal_bias_is_gained_from_sixty_nights_on() -> None:
    # The forecast is too warm in clear calm nights, more so in winter. The correction sees only
    # nights before the one it corrects.
    for seed in range(3):
        before, after_k, biased, members = scores(
            made(365, seed, datetime(2024, 10, 15, 6, tzinfo=UTC))
        ).T
        assert after_k.mean() < before.mean()
        assert after_k[:40].mean() < before[:40].mean()
        assert members.mean() < biased.mean()


@pytest.mark.parametrize("lead_h", [24, 48])
def test_open_forecasts_of_a_real_station_are_not_made_worse(lead_h: int) -> None:
    # St Louis 2021 (source in bench/st_louis_2021.csv): spring was 0.4 K warmer than forecast. The
    # bias is small, so there is little to gain.
    before, after_k, _, _ = scores(st_louis(lead_h)).T
    assert len(before) >= 60
    assert after_k.mean() < before.mean()


@given(bias_k=st.floats(0.0, 15.0), nights=st.integers(1, 120))
def test_a_thermometer_that_reads_warm_from_the_start_talks_no_hard_frost_away(
    bias_k: float, nights: int
) -> None:
    """On a house wall, say: it teaches little to the warm at first, and never much."""
    learned, spot = Learned(), "wall"
    hour = features(
        np.array([DAY_S * 20_000]), np.array([True]), 14.5, np.array([0.1]), np.array([1.0])
    )
    for night in range(nights):
        pair = Pair(DAY_S * (20_000 + night), spot, hour[0], -3.0, -3.0 + bias_k, DAY_S)
        learned = learn(learned, pair)
    apart = learned.departure(spot)
    warmer_k = float(learned.shift_k(hour)[0]) + sum(max(part, 0.0) for part in apart.parts_k)
    proven = learned.nights >= EARLY_NIGHTS
    assert warmer_k <= (3.0 if proven else 1.5) + 1e-9
    assert float(learned.shift_k(hour, spot)[0]) <= (3.0 if proven else 1.5) + 1e-9
