"""What is learned of the air: nothing without readings, a bias in time, little of a wild value."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import numpy as np
import pytest
from bench.learning import WARM_UP, as_forecast, corrected, made, score, st_louis
from hypothesis import given, settings
from hypothesis import strategies as st

from underbench.rules.garden.inventory import NO_DEPARTURE
from underbench.rules.weather.hourly import Array
from underbench.rules.weather.learned import Learned, Pair, from_text, learn, to_text
from underbench.rules.weather.thermometer import (
    FREE_COLD_K,
    FREE_WARM_K,
    LEADS_H,
    QUICK_COLD_K,
    Hours,
    prior_spread_k,
)

DAY_S = 86400
WINTER_S = int(datetime(2027, 1, 15, 6, tzinfo=UTC).timestamp())
DARK = np.array([True])
A_DAY = np.array([24.0])
biases = st.floats(-1.9, 0.25)  # what the first month may learn in full


def night(
    number: int,
    error_k: float,
    spot: str | None = None,
    lead_h: float = 24,
    forecast_c: float | None = None,
    clear: float = 0.0,
) -> Pair:
    """A night whose lowest air was ``error_k`` above the forecast, which varies by some degrees."""
    low_c = 3.0 * np.sin(2.4 * number) if forecast_c is None else forecast_c
    return Pair(WINTER_S + number * DAY_S, spot, lead_h, low_c, low_c + error_k, clear)


def after(*nights: list[Pair], start: Learned | None = None) -> Learned:
    learned = start or Learned()
    for pairs in nights:
        learned = learn(learned, pairs)
    return learned


def shift_k(learned: Learned, of: Pair | None = None, lead_h: Array = A_DAY) -> float:
    return float(learned.shift_k((of or night(0, 0.0)).hours, lead_h, DARK)[0])


def test_without_readings_nothing_is_changed() -> None:
    none = Learned()
    leads = np.array([0.0, 1.0, 24.0, 96.0])
    assert shift_k(none) == 0.0
    assert none.departure("top bench") == NO_DEPARTURE
    np.testing.assert_allclose(none.spread_k(leads), prior_spread_k(leads * 3600.0))


@given(biases)
@settings(max_examples=15)
def test_a_constant_bias_is_learned_night_by_night(bias_k: float) -> None:
    learned, shifts = Learned(), [0.0]
    for number in range(25):
        learned = learn(learned, [night(number, bias_k)])
        shifts.append(shift_k(learned))
    assert abs(shifts[1]) <= abs(bias_k) * 0.8  # held back at first
    assert shifts[-1] == pytest.approx(bias_k, abs=0.15 * abs(bias_k) + 1e-9)


@given(st.integers(2, 80), st.sampled_from([-30.0, 30.0]))
@settings(max_examples=20, deadline=None)
def test_a_wild_value_hardly_counts(nights: int, wild_k: float) -> None:
    before = after(*([night(n, 0.3 * (-1) ** n)] for n in range(nights)))
    wild = learn(before, [night(nights, wild_k)])
    assert abs(shift_k(wild) - shift_k(before)) < 0.4


@given(st.lists(st.tuples(biases, st.sampled_from([None, "bench", "shelf"])), max_size=8))
def test_what_is_kept_and_read_again_is_the_same_to_the_bit(
    seen: list[tuple[float, str | None]],
) -> None:
    learned = after(*([night(n, k, spot)] for n, (k, spot) in enumerate(seen)))
    again = from_text(to_text(learned))
    assert to_text(again) == to_text(learned)
    more = [night(40, 1.1, "shelf")]
    assert to_text(learn(again, more)) == to_text(learn(learned, more))


@pytest.mark.parametrize("text", ["", "{}", "[7]", "null", '[{"place": "a"}]', "7"])
def test_what_is_no_correction_is_refused(text: str) -> None:
    with pytest.raises(ValueError):  # noqa: PT011  (json's own words for some)
        from_text(text)


def test_one_of_other_parts_is_refused() -> None:
    found = json.loads(to_text(after([night(0, 1.0)])))
    found[0]["blocks"][0]["sums"][0][0] = [[1.0]]
    with pytest.raises(ValueError, match="parts"):
        from_text(json.dumps(found))


def test_clear_calm_nights_are_told_from_cloudy_ones() -> None:
    pairs = ([night(n, -1.8 * (n % 2), clear=float(n % 2))] for n in range(60))
    learned = after(*pairs)
    assert shift_k(learned, night(0, 0.0, clear=1.0)) < -1.3
    assert abs(shift_k(learned, night(0, 0.0, clear=0.0))) < 0.4


def test_a_slope_on_the_forecast_is_learned() -> None:
    # Cold nights come milder than forecast by less than they are colder; here by a third of it.
    pairs = []
    for n in range(120):
        low_c = 8.0 * np.sin(2.4 * n)
        pairs.append([night(n, -1.0 - low_c / 8.0, forecast_c=low_c)])
    learned = after(*pairs)
    assert shift_k(learned, night(120, 0.0, forecast_c=8.0)) == pytest.approx(-2.0, abs=0.3)
    assert shift_k(learned, night(120, 0.0, forecast_c=0.0)) == pytest.approx(-1.0, abs=0.3)


def test_each_lead_has_its_own_error_and_between_them_it_goes_over() -> None:
    by_lead = dict(zip(LEADS_H, (-0.4, -1.0, -1.6), strict=True))
    learned = after(*([night(n, k, lead_h=lead) for lead, k in by_lead.items()] for n in range(28)))
    hours = [6.0, 24.0, 36.0, 48.0, 72.0, 150.0]
    found = [shift_k(learned, lead_h=np.array([lead])) for lead in hours]
    np.testing.assert_allclose(found, [-0.4, -0.4, -0.7, -1.0, -1.6, -1.6], atol=0.25)


@pytest.mark.parametrize("weight", [0.0, 0.6, 1.0])
def test_the_weight_of_the_ensemble_s_own_middle_is_learned(weight: float) -> None:
    rng = np.random.default_rng(5)
    learned = Learned()
    for n in range(120):
        centre_k, low_c = rng.normal(0.0, 1.0), rng.normal(0.0, 3.0)
        seen_c = low_c + weight * centre_k + rng.normal(0.0, 0.3)
        learned = learn(
            learned, [Pair(WINTER_S + n * DAY_S, None, 24, low_c, seen_c, 0.0, centre_k)]
        )
    apart = Pair(WINTER_S, None, 24, 0.0, 0.0, 0.0, -1.0)
    assert shift_k(learned, apart) - shift_k(learned) == pytest.approx(-weight, abs=0.15)


def test_hours_by_day_and_nights_do_not_teach_each_other() -> None:
    noon = [Pair(WINTER_S + 6 * 3600, None, 0.0, 5.0, 3.0)]
    learned = after(*(noon for _ in range(20)))
    assert shift_k(learned) == 0.0
    by_day = learned.shift_k(noon[0].hours, A_DAY, ~DARK)
    assert -2.0 < float(by_day[0]) < -1.5
    assert learned.spread_share == 1.0


@pytest.mark.parametrize(("sd_k", "wider"), [(0.5, False), (3.0, True)])
def test_the_spread_is_learned(sd_k: float, wider: bool) -> None:
    errors = np.random.default_rng(3).normal(0.0, sd_k, 150).tolist()
    learned = after(*([night(n, error)] for n, error in enumerate(errors)))
    assert (learned.spread_share > 1.0) is wider
    before = float(prior_spread_k(np.array(86400.0)))
    assert abs(float(learned.spread_k(A_DAY)[0]) - sd_k) < abs(before - sd_k)


def test_an_ensemble_s_own_spread_is_kept_and_its_lack_added() -> None:
    rng = np.random.default_rng(4)
    learned = Learned()
    for n in range(200):
        pair = night(n, rng.normal(0.0, 1.5))
        learned = learn(learned, [Pair(**{**_fields(pair), "variance_k2": 1.0})])
    narrow, wide = (float(learned.spread_k(A_DAY, np.array([k2]))[0]) for k2 in (0.5, 4.0))
    assert narrow == pytest.approx(1.1, abs=0.2)  # 1.5² less 1.0², within the draw
    assert wide == pytest.approx(narrow, abs=0.1)


def _fields(pair: Pair) -> dict[str, object]:
    return {name: getattr(pair, name) for name in Pair.__slots__}


def test_a_spot_departs_from_the_garden_s_mean_and_can_be_forgotten() -> None:
    nights = [[night(n, -0.5), night(n, -1.5, "hollow")] for n in range(28)]
    learned = after(*nights)
    own, garden = learned.departure("hollow"), learned.departure("never measured")
    assert own.always_k + own.night_k == pytest.approx(-0.5, abs=0.1)
    assert garden == NO_DEPARTURE
    assert shift_k(learned) == pytest.approx(-1.0, abs=0.15)
    left = learned.without("hollow")
    assert left.departure("hollow") == NO_DEPARTURE
    assert shift_k(left) == pytest.approx(-0.5, abs=0.15)


def test_what_is_not_heard_of_any_more_fades() -> None:
    learned = after(*([night(n, -1.5)] for n in range(28)))
    shifts = [shift_k(learned.faded(WINTER_S + days * DAY_S)) for days in (30, 400, 1200)]
    assert shifts[0] < shifts[1] < shifts[2] < 0.0
    assert shifts[2] > -0.8


@pytest.mark.parametrize("error_k", [-15.0, 15.0])
def test_the_first_nights_change_little(error_k: float) -> None:
    early = after(*([night(n, error_k)] for n in range(25)))
    assert -QUICK_COLD_K <= shift_k(early) <= FREE_WARM_K


@given(bias_k=st.floats(0.0, 15.0), nights=st.integers(1, 120))
@settings(max_examples=15, deadline=None)
def test_a_thermometer_in_a_warm_room_talks_no_frost_away(bias_k: float, nights: int) -> None:
    """It shows the same whatever is forecast, and says little to the warm however long."""
    learned = Learned()
    for n in range(nights):
        low_c = 3.0 * np.sin(2.4 * n)
        learned = learn(learned, [night(n, bias_k - low_c, "room", forecast_c=low_c)])
    assert shift_k(learned, night(nights, 0.0, forecast_c=-3.0)) <= FREE_WARM_K + 1e-9


def test_milder_nights_are_earned() -> None:
    learned, found = Learned(), []
    for n in range(400):
        learned = learn(learned, [night(n, 2.5)])
        found.append(shift_k(learned, night(n, 0.0)))
    assert max(found[:60]) <= FREE_WARM_K + 1e-9
    assert found[120] < 1.5
    assert found[-1] == pytest.approx(2.5, abs=0.3)


def test_beyond_four_kelvin_colder_must_be_proven() -> None:
    learned = after(*([night(n, -8.0)] for n in range(28)))
    assert shift_k(learned) >= -FREE_COLD_K
    proven = after(*([night(n, -8.0)] for n in range(28, 120)), start=learned)
    assert shift_k(proven, night(120, 0.0)) < -6.0


def test_a_seasonal_bias_is_gained_from_sixty_nights_on() -> None:
    # The forecast is too warm in clear calm nights, more so in winter. The correction sees only
    # nights before the one it corrects.
    series = made(365, 0, datetime(2024, 10, 15, 6, tzinfo=UTC))
    later = np.arange(365) >= WARM_UP
    seen_c = series.observed_c
    ours, plain = (
        score(series, foresee(series, seen_c), later) for foresee in (corrected, as_forecast)
    )
    assert ours.crps_k < plain.crps_k
    assert ours.brier < plain.brier


@pytest.mark.parametrize("lead_h", [24, 48])
def test_open_forecasts_of_a_real_station_are_not_made_worse(lead_h: int) -> None:
    # St Louis 2021 (source in bench/st_louis_2021.csv): spring was 0.4 K warmer than forecast. The
    # bias is small, so there is little to gain.
    series = st_louis(lead_h)
    later = np.arange(len(series.at_s)) >= WARM_UP
    ours, plain = (
        score(series, foresee(series, series.observed_c), later).crps_k
        for foresee in (corrected, as_forecast)
    )
    assert ours < plain


def test_a_pair_that_is_not_finite_teaches_nothing() -> None:
    assert learn(Learned(), [night(0, float("nan"))]) == Learned()
    assert Hours(np.array([0]), *np.zeros((3, 1))).night_rows.shape == (1, 10)
