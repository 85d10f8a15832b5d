"""The sun and the sky against FAO-56, astral and published figures."""

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from astral import Observer
from astral.sun import azimuth, elevation, sunrise, sunset
from hypothesis import given
from hypothesis import strategies as st

from underbench.rules.weather import sun

PLACES = [(52.0, 0.0), (35.7, 139.7), (-33.9, 151.2), (64.1, -21.9), (4.0, -75.0)]
DAYS_2026 = [date(2026, 1, 25), date(2026, 3, 20), date(2026, 7, 10), date(2026, 11, 2)]


def printed(value: float, digits: int) -> object:
    """Within half a unit of the last printed digit."""
    return pytest.approx(value, abs=0.5 * 10.0**-digits)


def seconds(*when: int) -> np.ndarray:
    return np.array(int(datetime(*when, tzinfo=UTC).timestamp()))


def hours_of(day: date) -> np.ndarray:
    """The middles of a day's 24 hours."""
    start = int(datetime(day.year, day.month, day.day, tzinfo=UTC).timestamp())
    return start + 1800 + 3600 * np.arange(24)


def test_day_of_year_counts_from_one_and_knows_leap_years():
    assert sun.day_of_year(seconds(2026, 1, 1)) == 1.0
    assert sun.day_of_year(seconds(2026, 9, 3, 23, 59)) == 246.0
    assert sun.day_of_year(seconds(2028, 12, 31)) == 366.0


@pytest.mark.parametrize(("latitude", "longitude"), PLACES)
def test_position_agrees_with_astral(latitude: float, longitude: float):
    observer = Observer(latitude, longitude)
    times = np.concatenate([hours_of(day) for day in DAYS_2026])
    high, turned = sun.position(times, latitude, longitude)
    moments = [datetime.fromtimestamp(int(t), tz=UTC) for t in times]
    theirs = [elevation(observer, at, with_refraction=False) for at in moments]
    assert np.degrees(high) == pytest.approx(theirs, abs=0.02)
    apart = np.degrees(turned) - [azimuth(observer, at) for at in moments]
    apart = (apart + 180.0) % 360.0 - 180.0
    # Compared as an angle on the ground: near the zenith an azimuth turns fast and means little.
    assert np.abs(apart * np.cos(high)).max() < 0.02


@pytest.mark.parametrize(("latitude", "longitude"), PLACES)
@pytest.mark.parametrize("day", DAYS_2026)
def test_sunrise_and_sunset_agree_with_astral(day: date, latitude: float, longitude: float):
    ours = sun.sunrise_sunset(day, latitude, longitude)
    observer = Observer(latitude, longitude)
    for mine, crossing in zip(ours, (sunrise, sunset), strict=True):
        assert mine is not None
        # astral names a crossing by its UTC date, which far from Greenwich may be a day off.
        near = [crossing(observer, day + timedelta(days=off)) for off in (-1, 0, 1)]
        assert min(abs(mine - theirs) for theirs in near) < timedelta(seconds=90)


def test_sunrise_comes_before_noon_before_sunset_of_the_same_day():
    rise, fall = sun.sunrise_sunset(date(2026, 7, 10), 35.7, 139.7)
    assert rise is not None
    assert fall is not None
    tokyo = timedelta(hours=9)
    assert (rise + tokyo).date() == (fall + tokyo).date() == date(2026, 7, 10)


def test_no_sunrise_in_polar_day_and_polar_night():
    assert sun.sunrise_sunset(date(2026, 6, 21), 78.0, 15.0) == (None, None)
    assert sun.sunrise_sunset(date(2026, 12, 21), 78.0, 15.0) == (None, None)


def test_fao_56_example_8_extraterrestrial_radiation():
    assert sun.sun_distance_factor(246.0) == printed(0.985, 3)
    assert sun.declination_rad(246.0) == printed(0.120, 3)
    assert sun.daily_extraterrestrial_mj(246.0, -20.0) == printed(32.2, 1)


def test_fao_56_example_9_daylight_hours():
    assert sun.daylight_hours(246.0, -20.0) == printed(11.7, 1)
    assert sun.daylight_hours(246.0, -20.0) * np.pi / 24.0 == printed(1.527, 3)  # Example 8
    assert sun.daylight_hours(105.0, 13.0 + 44.0 / 60.0) == printed(12.31, 2)  # Example 17


@pytest.mark.parametrize(
    ("example", "day", "latitude", "ra_mj", "digits"),
    [
        ("10 (Rio de Janeiro)", 135.0, -(22 + 54 / 60), 25.1, 1),
        ("15 (Lyon)", 196.0, 45 + 43 / 60, 40.6, 1),
        ("17 (Bangkok)", 105.0, 13 + 44 / 60, 38.06, 2),
        ("18 (Brussels)", 187.0, 50 + 48 / 60, 41.09, 2),
    ],
)
def test_fao_56_radiation_of_other_examples(
    example: str, day: float, latitude: float, ra_mj: float, digits: int
):
    assert sun.daily_extraterrestrial_mj(day, latitude) == printed(ra_mj, digits), example


def test_fao_56_example_10_and_18_daylight():
    assert sun.daylight_hours(135.0, -(22 + 54 / 60)) == printed(10.9, 1)
    assert sun.daylight_hours(187.0, 50 + 48 / 60) == printed(16.1, 1)


def test_fao_56_example_19_hourly_extraterrestrial_radiation():
    # 14-15 h on day 274 at N'Diaye, by the clock of 15° W: one hour behind UTC.
    middle = seconds(2026, 10, 1, 15, 30)
    assert sun.hourly_extraterrestrial_mj(middle, 16 + 13 / 60, -16.25) == printed(3.543, 3)


@pytest.mark.parametrize("latitude", [0.0, 45.7, -33.9, 60.0, 75.0, -80.0])
@pytest.mark.parametrize("day", DAYS_2026)
def test_hours_add_up_to_the_day(day: date, latitude: float):
    hourly = sun.hourly_extraterrestrial_mj(hours_of(day), latitude, 0.0)
    of_year = sun.day_of_year(hours_of(day)[0])
    # 1e-3 of a bright day: a sun that just sets loses the part of its hour across midnight.
    assert hourly.min() >= 0.0
    assert hourly.sum() == pytest.approx(
        sun.daily_extraterrestrial_mj(of_year, latitude), rel=1e-9, abs=0.04
    )


def test_hours_add_up_exactly_where_the_night_is_a_night():
    hourly = sun.hourly_extraterrestrial_mj(hours_of(date(2026, 7, 15)), 45 + 43 / 60, 0.0)
    day = sun.daily_extraterrestrial_mj(196.0, 45 + 43 / 60)
    assert hourly.sum() == pytest.approx(day, rel=1e-12)


def test_haurwitz_clear_sky():
    # Values pvlib's own test of its haurwitz() expects at these elevations.
    degrees = np.array([-20.0, -0.05, -0.001, 5.0, 10.0, 30.0, 50.0, 90.0])
    expected = [0, 0, 0, 48.6298687941956, 135.741748091813, 487.894132885425, 778.766689344363]
    ours = sun.clear_sky_wm2(np.radians(degrees), 0.0)
    assert ours == pytest.approx([*expected, 1035.0920325345], rel=1e-9)
    assert sun.clear_sky_wm2(1.0, 1500.0) > sun.clear_sky_wm2(1.0, 0.0)


def test_cloud_takes_sun_as_kasten_and_czeplak_say():
    # Kasten & Czeplak 1980: overcast passes a quarter, half cover still above 90 %.
    assert sun.clear_share(np.array([0.0, 1.0])) == pytest.approx([1.0, 0.25])
    assert sun.clear_share(0.5) > 0.92
    clear = sun.clear_sky_wm2(0.8, 50.0)
    assert sun.global_from_cloud_wm2(0.8, 1.0, 50.0) == pytest.approx(0.25 * clear)


def test_erbs_diffuse_share():
    # Values pvlib's own test of its erbs() expects, to 1 %: it takes the sun-earth distance
    # from Spencer 1971, in January 0.2 % apart from FAO-56's.
    diffuse = sun.diffuse_from_global_wm2(
        np.array([0.0, 50.0, 1000.0, 1000.0]),
        np.radians([-30.0, 5.0, 80.0, 80.0]),
        np.array([1.0, 1.0, 1.0, 180.0]),
    )
    assert diffuse == pytest.approx([0.0, 41.57, 217.88, 170.44], rel=0.01)


@given(st.floats(0.0, 1400.0), st.floats(-1.5, 1.57), st.floats(1.0, 366.0))
def test_diffuse_is_a_part_of_global(global_wm2: float, elevation_rad: float, day: float):
    diffuse = sun.diffuse_from_global_wm2(global_wm2, elevation_rad, day)
    assert 0.0 <= diffuse <= global_wm2
    if elevation_rad < 0.0:
        assert diffuse == global_wm2


def test_prata_emissivity():
    # Computed from Prata 1996 apart from this code, by a separate prototype: not a published table.
    ours = sun.sky_emissivity(np.array([20.0, 0.0, -6.0, 28.0]), np.array([1.0, 0.4, 0.35, 1.4]))
    assert ours == printed([0.7748, 0.7224, 0.7176, 0.8023], 4)


def test_the_sky_is_colder_than_air_and_cloud_warms_it():
    cloud = np.linspace(0.0, 1.0, 11)
    down = sun.longwave_down_wm2(0.0, 0.5, cloud)
    # A black body at 0 °C sends out 315.6 W/m² (Stefan-Boltzmann); overcast comes within 5 %.
    assert (np.diff(down) > 0.0).all()
    assert 0.68 * 315.6 < down[0] < 0.78 * 315.6
    assert 0.95 * 315.6 < down[-1] < 315.6


def test_shapes_broadcast_and_gaps_stay_gaps():
    assert sun.longwave_down_wm2(np.zeros((2, 5)), 0.5, np.nan).shape == (2, 5)
    assert np.isnan(sun.global_from_cloud_wm2(0.8, np.nan, 0.0))
    assert np.isnan(sun.diffuse_from_global_wm2(np.nan, 0.8, 100.0))


@pytest.mark.parametrize("missing", [0.1, 0.22, 0.5, 0.8])
def test_as_much_of_the_sky_is_filled_as_of_the_sun_is_missing(missing: float) -> None:
    """Crawford & Duchon 1999 (read in public code): e = clf + (1 - clf) e_clear, where clf is one
    less the sun that comes through. Haze has dimmed the clear sky to 0.9."""
    high = np.radians(45.0)
    dimmed = 0.9 * (1.0 - missing) * sun.clear_sky_wm2(high, 200.0)
    sky = sun.longwave_down_wm2(5.0, 0.7, sun.cloud_from_global(dimmed, high, 200.0))
    clear = sun.sky_emissivity(5.0, 0.7)
    assert sky / (5.670374e-8 * 278.15**4) == pytest.approx(missing + (1.0 - missing) * clear)


@pytest.mark.parametrize(
    ("share", "filled"), [(0.15, 0.86), (0.25, 0.72), (0.35, 0.62), (0.45, 0.47), (0.55, 0.31)]
)
def test_cloud_told_from_the_sun_sends_what_was_measured(share: float, filled: float) -> None:
    """Medians of 1237 hours with the sun over 25°, June 2014 to October 2015: how much of the clear
    sky's window cloud filled, by the share of the clear sky's sun (within 0.05). Matsch, a meadow
    in the Alps (github.com/EURAC-Ecohydro/GEOtopExamples, df1407b4, obs0001.txt)."""
    high = np.radians(40.0)
    cloud = sun.cloud_from_global(share * sun.clear_sky_wm2(high, 1480.0), high, 1480.0)
    assert 0.84 * float(cloud) == pytest.approx(filled, abs=0.1)


def test_a_bright_sky_is_clear_and_a_low_sun_tells_nothing() -> None:
    high = np.radians([10.0, 40.0])
    bright = 0.95 * sun.clear_sky_wm2(high, 0.0)
    assert sun.cloud_from_global(bright, high, 0.0) == pytest.approx([0.0, 0.0])
    assert np.isnan(sun.cloud_from_global(np.zeros(2), np.radians([4.0, -30.0]), 0.0)).all()
