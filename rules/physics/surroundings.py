"""What surrounds a tree, without the tree itself: air, wind, sun and sky where it stands.

Trees of one spot share all of it. So it is worked out once for each *stand* (one set of
surroundings with one past), and each tree is told its stand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from underbench.rules.garden.inventory import NO_DEPARTURE, Departure, Garden
from underbench.rules.physics import cover, et0, near_ground, wind
from underbench.rules.physics.cover import Cover
from underbench.rules.physics.near_ground import GROUNDS, REFERENCE_M, SURFACES, Layer
from underbench.rules.physics.places import Place
from underbench.rules.physics.pots import DEEP_M, SNOW_WMK, SOIL_WMK
from underbench.rules.physics.slope import onto_slope_wm2
from underbench.rules.weather.air import saturation_kpa, wind_at_m
from underbench.rules.weather.constants import KELVIN, SIGMA_WM2K4
from underbench.rules.weather.hourly import HOUR_S, Array, Weather
from underbench.rules.weather.learned import departure_k
from underbench.rules.weather.spread import Site, known_site
from underbench.rules.weather.sun import clear_sky_wm2, longwave_down_wm2, position

CROWN_OVER_POT_M = 0.3  # leaves stand about this far above the foot of the pot
# A tree's air is taken between its pot and its crown; judgement. A leaf that exchanges on both
# faces with the air 20 cm over the ground comes to 1.3 to 1.6 K of the measured surface of a crop
# and of a meadow; in the air of 2 m it was 3.6 and 1.4 K off (`tests/bench/near_ground.py`). So a
# row on the ground is a leaf in its own cold air. Of a crown on a bench nothing was found measured.
AIR_OVER_FOOT_M = 0.2
# The ground that cools the air of a spot lies round it, not only below it. So it sees a sky a
# quarter of the way from the spot's to the open field's. With more, the air under a bench would be
# as cold as on it, which is not what growers find (judgement). Round a box that holds its own air,
# half the open wind blows (judgement); what the spot says is inside.
GROUND_AROUND = 0.25
OUTSIDE_WIND = 0.5
FIRST_DAY_H = 24
LEAST_WIND_MS = 0.1  # air outdoors is never stiller, and the films need some
LOW_SUN = 0.05  # sine of the elevation below which a beam on the level says nothing of the beam
MOST_BEAM_WM2 = 1050.0
DEEP_MEMORY_H = 240.0  # ground half a metre down follows the air over some ten days; judgement
MJ_PER_WH = HOUR_S / 1e6


@dataclass(frozen=True, slots=True)
class Sky:
    """What the weather brings to the open field; (1, member, hour) or broadcasting to it.

    ``clock`` (hour,) is the local time, h, in the middle of each hour. ``from_equator_rad`` is the
    sun's azimuth less that of the equator.
    """

    weather: Weather
    clock: Array
    elevation_rad: Array
    from_equator_rad: Array
    vapour_kpa: Array
    longwave_wm2: Array
    net_longwave_wm2: Array
    beam_wm2: Array
    clearness: Array


def sky_over(weather: Weather, garden: Garden) -> Sky:
    """Return the sky of a complete ``weather``; sun positions are taken at mid-hour."""
    elevation, azimuth = position(weather.times - HOUR_S // 2, garden.latitude, garden.longitude)
    vapour = saturation_kpa(weather.dew_c)
    longwave = longwave_down_wm2(weather.air_c, vapour, weather.cloud)
    return Sky(
        weather=weather,
        clock=_local_clock(weather, garden.timezone),
        elevation_rad=elevation[None, None],
        from_equator_rad=(azimuth - (np.pi if garden.latitude >= 0 else 0.0))[None, None],
        vapour_kpa=vapour[None],
        longwave_wm2=longwave[None],
        net_longwave_wm2=(longwave - SIGMA_WM2K4 * (weather.air_c + KELVIN) ** 4)[None],
        beam_wm2=_beam(weather, elevation)[None],
        clearness=et0.clearness(
            weather.global_wm2 * MJ_PER_WH,
            clear_sky_wm2(elevation, garden.elevation_m) * MJ_PER_WH,
            weather.cloud,
        )[None],
    )


def _local_clock(weather: Weather, timezone: str) -> Array:
    zone = ZoneInfo(timezone)
    middles = [
        datetime.fromtimestamp(t, UTC).astimezone(zone) for t in (weather.times - 1800).tolist()
    ]
    return np.array([middle.hour + middle.minute / 60 for middle in middles])


def _beam(weather: Weather, elevation_rad: Array) -> Array:
    level = weather.global_wm2 - weather.diffuse_wm2
    sine = np.maximum(np.sin(elevation_rad), LOW_SUN)
    return np.where(elevation_rad > 0, np.clip(level / sine, 0.0, MOST_BEAM_WM2), 0.0)


@dataclass(frozen=True, slots=True)
class Stands:
    """Places and the air they begin with, one per stand.

    ``cover_c``, ``deep_c`` and ``ground_c`` are (stand, member). ``departs_k`` (stand, part) and
    the rest (stand,) are as in :class:`underbench.rules.physics.exposure.Traits`.
    """

    covers: tuple[Cover, ...]
    sky_view: Array
    sun_from: Array
    sun_until: Array
    wind_factor: Array
    height_m: Array
    surface: Array
    departs_k: Array
    cover_c: Array
    deep_c: Array
    ground_c: Array


def distinct(rows: Array) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the first row of each kind in (tree, column), and the kind of each row."""
    whole = np.ascontiguousarray(rows)
    keys = whole.view(np.dtype((np.void, whole.shape[1] * whole.itemsize)))[:, 0].tolist()
    number: dict[bytes, int] = {}
    kinds = np.array([number.setdefault(key, len(number)) for key in keys], dtype=np.intp)
    first = np.empty(len(number), dtype=np.intp)
    first[kinds[::-1]] = np.arange(len(keys))[::-1]  # the last write stays: the first row
    return first, kinds


@dataclass(frozen=True, slots=True)
class Surroundings:
    """The surroundings of each stand; (stand, member, hour) or broadcasting to it.

    ``screen_c`` is the air as a screen at 2 m has it, where the place is open to it. The clocks of
    the seasons were fitted to screens.
    ``cover_end_c`` and ``ground_end_c`` (stand, member) start the next run of the air under cover
    and of the ground's surface.
    """

    air_c: Array
    screen_c: Array
    vapour_kpa: Array
    wind_ms: Array
    gust_ms: Array
    sky_view: Array
    longwave_wm2: Array
    elevation_rad: Array
    sun_share: Array
    beam_wm2: Array
    global_wm2: Array
    diffuse_wm2: Array
    sun_wm2: Array
    pressure_kpa: Array
    deep_c: Array
    snow_m: Array
    clearness: Array
    cover_end_c: Array
    ground_end_c: Array


def surroundings(stands: Stands, sky: Sky, site: Site) -> Surroundings:
    """Return what surrounds trees at ``stands`` under ``sky``."""
    weather = sky.weather
    sun, view, draught, rain = (
        np.array([getattr(one, name) for one in stands.covers])[:, None, None]
        for name in ("sun_share", "sky_share", "wind_share", "rain_share")
    )
    deep = _deep(stands.deep_c, weather)
    shelter = np.minimum(
        _column(stands.wind_factor) * site.wind_share[None, :, None] * draught, 1.0
    )
    height = _column(stands.height_m) + CROWN_OVER_POT_M
    open_sky = np.clip(_column(stands.sky_view) + site.sky_shift[None, :, None], 0.0, 1.0)
    lit = _lit(stands, sky.clock) * sun
    direct = weather.global_wm2 - weather.diffuse_wm2
    # A cover that lets the sun through lets the sky's light through, but not its cold.
    onto = direct[None] * lit + weather.diffuse_wm2[None] * open_sky * np.maximum(sun, view)
    over = _layer(stands, sky, shelter, open_sky, onto, deep, weather.snow_m[None] * rain)
    layer_k = over.air_k(_column(_air_height_m(stands)))
    under = cover.covered_air(
        stands.covers,
        stands.cover_c,
        air_c=_air(stands, sky, layer_k),
        global_wm2=_onto_cover(stands, sky),
        net_longwave_wm2=sky.net_longwave_wm2,
        deep_c=deep,
    )
    steady = shelter * wind_at_m(weather.wind_ms, height) * over.wind_share(height)
    return Surroundings(
        air_c=under.air_c,
        screen_c=under.air_c - np.where(_boxed(stands), 0.0, layer_k),
        vapour_kpa=np.minimum(sky.vapour_kpa, saturation_kpa(under.air_c)),
        wind_ms=np.maximum(steady, LEAST_WIND_MS),
        gust_ms=wind.bench_gust_ms(weather.wind_ms[None], weather.gust_ms[None], height, shelter),
        sky_view=open_sky * view,
        longwave_wm2=sky.longwave_wm2,
        elevation_rad=sky.elevation_rad,
        sun_share=lit,
        beam_wm2=sky.beam_wm2,
        global_wm2=weather.global_wm2[None],
        diffuse_wm2=weather.diffuse_wm2[None],
        sun_wm2=onto,
        pressure_kpa=weather.pressure_kpa[None],
        deep_c=deep,
        snow_m=weather.snow_m[None] * rain,
        clearness=sky.clearness,
        cover_end_c=under.end_c,
        ground_end_c=over.end_c,
    )


def _layer(
    stands: Stands,
    sky: Sky,
    shelter: Array,
    open_sky: Array,
    sun_wm2: Array,
    deep_c: Array,
    snow_m: Array,
) -> Layer:
    """The layer below 2 m at each stand, over the ground round it."""
    boxed = _boxed(stands)
    view = _column(np.array([one.sky_share for one in stands.covers]))
    around = (1.0 - GROUND_AROUND) * open_sky + GROUND_AROUND
    share = np.where(boxed, OUTSIDE_WIND, shelter)
    return near_ground.layer(
        [GROUNDS[SURFACES[int(number)]] for number in stands.surface],
        stands.ground_c,
        air_c=sky.weather.air_c[None],
        vapour_kpa=sky.vapour_kpa,
        wind_ms=share * wind_at_m(sky.weather.wind_ms, REFERENCE_M),
        longwave_wm2=sky.longwave_wm2,
        sun_wm2=sun_wm2,
        sky_view=around * np.where(boxed, 1.0, view),
        deep_c=deep_c,
        snow_m=snow_m,
        pressure_kpa=sky.weather.pressure_kpa[None],
    )


def _boxed(stands: Stands) -> NDArray[np.bool_]:
    return np.array([one.holds_air for one in stands.covers])[:, None, None]


def _air_height_m(stands: Stands) -> Array:
    draws_m = np.array([one.draws_at_m for one in stands.covers])
    return np.asarray(np.maximum(stands.height_m + AIR_OVER_FOOT_M, draws_m))


def _air(stands: Stands, sky: Sky, layer_k: Array) -> Array:
    """The air of each stand without its cover: that of 2 m, less what the ground takes from it, and
    as the spot departs from that by its own thermometer (see `near_ground_k`)."""
    air_c = sky.weather.air_c[None] + layer_k
    if not stands.departs_k.any():
        return air_c
    dark = sky.elevation_rad[0, 0] < 0
    rows = stands.departs_k.tolist()
    return air_c + np.stack([departure_k(Departure(*row), sky.weather, dark) for row in rows])


def near_ground_k(places: Sequence[Place], weather: Weather, garden: Garden) -> Array:
    """Return the air at each place less that of 2 m, K (place, member, hour).

    A thermometer that hangs at a spot is compared with the air reckoned for it, so that what it
    teaches holds none of the ground's cold. ``weather`` is complete. The ground begins as warm as
    the air of the first day.
    """
    begins = weather.air_c[:, :FIRST_DAY_H].mean(axis=1) * np.ones((len(places), 1))
    stands = Stands(
        covers=tuple(place.covers for place in places),
        sky_view=np.array([place.sky_view for place in places]),
        sun_from=np.array([place.sun_from for place in places]),
        sun_until=np.array([place.sun_until for place in places]),
        wind_factor=np.array([place.wind_factor for place in places]),
        height_m=np.array([place.height_m for place in places]),
        surface=np.array([SURFACES.index(place.surface) for place in places]),
        departs_k=np.zeros((len(places), len(NO_DEPARTURE.parts_k))),
        cover_c=begins,
        deep_c=begins,
        ground_c=begins,
    )
    around = surroundings(stands, sky_over(weather, garden), known_site())
    return np.asarray(around.air_c - around.screen_c)


def _onto_cover(stands: Stands, sky: Sky) -> Array:
    """The sun on each stand's cover: on sloping glass at its slope, in the spot's sun hours."""
    level = sky.weather.global_wm2[None]
    slope_rad = np.radians([one.slope_deg for one in stands.covers])
    if not slope_rad.any():
        return level
    sloped = onto_slope_wm2(
        slope_rad=_column(slope_rad),
        beam_normal_wm2=sky.beam_wm2 * _lit(stands, sky.clock),
        diffuse_wm2=sky.weather.diffuse_wm2[None],
        global_wm2=level,
        elevation_rad=sky.elevation_rad,
        from_equator_rad=sky.from_equator_rad,
    )
    return np.where(_column(slope_rad) > 0.0, sloped, level)


def _column(per_stand: Array) -> Array:
    return per_stand[:, None, None]


def _lit(stands: Stands, clock: Array) -> Array:
    """1 in the hours whose middle falls into a spot's sun hours by the local clock."""
    lit = (clock >= stands.sun_from[:, None]) & (clock <= stands.sun_until[:, None])
    return lit[:, None, :].astype(float)


def _deep(start_c: Array, weather: Weather) -> Array:
    """Ground temperature (stand, member, hour): a running mean of the air outside. The more snow
    lies between, the more slowly the ground follows."""
    through = (DEEP_M / SOIL_WMK) / (DEEP_M / SOIL_WMK + weather.snow_m / SNOW_WMK)
    share, air_c = through / DEEP_MEMORY_H, weather.air_c
    out, now = np.empty((*start_c.shape, air_c.shape[-1])), start_c
    for hour in range(air_c.shape[-1]):
        now = now + share[:, hour] * (air_c[None, :, hour] - now)
        out[..., hour] = now
    return out
