"""What stands between a tree and the weather: lath, roof, fleece, cloth, glass, sheds, rooms.

Covers change sun, sky and wind by plain shares and the air by a first-order lag. Few of their
numbers have a published source; each says where it is from. Bags are in `rules.physics.bag`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import inf, isnan, nan
from typing import Final

import numpy as np

from underbench.rules.weather.hourly import Array


class CoverKind(StrEnum):
    """A kind of cover, in the trade's words."""

    OPEN = "open"
    LATH = "lath"
    ROOF = "roof"
    FLEECE_1 = "fleece, 1 layer"
    FLEECE_2 = "fleece, 2 layers"
    HALF_SHADE = "half shade"
    FULL_SHADE = "full shade"
    FRAME_SHUT = "cold frame, shut"
    FRAME_VENTED = "cold frame, vented"
    GREENHOUSE_SHUT = "greenhouse, shut"
    GREENHOUSE_VENTED = "greenhouse, vented"
    SHED = "shed"
    GARAGE = "garage"
    CELLAR = "cellar"
    COOL_ROOM = "cool room"
    INDOORS = "indoors"


@dataclass(frozen=True, slots=True)
class Cover:
    """A cover as numbers.

    ``sun_share``, ``sky_share`` and ``wind_share`` are shares of what the open spot has;
    ``rain_share`` is 0 under a roof. With time constant ``lag_h``, the air beneath tends to outside
    air mixed with ``ground_share`` parts of the deep ground's warmth. The sun adds ``sun_k_m2_w``
    per W/m² of global radiation, the sky ``sky_k_m2_w`` per W/m² of net longwave (negative under a
    clear sky). ``held_c`` holds the air at that temperature whatever it is outside (NaN: it does
    not), and it falls no lower than ``least_c``. ``draws_at_m`` is the height above the ground at
    which the outside air gets in.
    """

    sun_share: float = 1.0
    sky_share: float = 1.0
    wind_share: float = 1.0
    rain_share: float = 1.0
    lag_h: float = 0.0
    ground_share: float = 0.0
    sun_k_m2_w: float = 0.0
    sky_k_m2_w: float = 0.0
    held_c: float = nan
    least_c: float = -inf
    draws_at_m: float = 0.0
    slope_deg: float = 0.0

    @property
    def holds_air(self) -> bool:
        """Whether the air beneath is another than the air outside."""
        return self.lag_h > 0.0


HOUSE_M: Final = 2.0  # a house takes in its air all the way up; judgement

COVERS: Final[dict[CoverKind, Cover]] = {
    CoverKind.OPEN: Cover(),
    # Slats as wide as the gaps between them, overhead: half the sun, half the sky, all the rain,
    # and a little less wind. The halves are geometry, the wind judgement.
    CoverKind.LATH: Cover(sun_share=0.5, sky_share=0.5, wind_share=0.8),
    # A clear rain roof, open at the sides. It reaches about one and a half times as far out as it
    # is high over the crown. So the sky left is what lies below 34°, a share of sin² 34° = 0.3.
    # Clear sheet passes about 0.8 of the light and no longwave. Shape, light and wind are
    # judgement.
    CoverKind.ROOF: Cover(sun_share=0.8, sky_share=0.3, wind_share=0.9, rain_share=0.0),
    # 17 to 30 g/m² fleece passes about 85 % of light and about half the longwave, and is worth 1 to
    # 2 K a layer when it reaches the ground. Common practice, no source.
    CoverKind.FLEECE_1: Cover(
        sun_share=0.85, sky_share=0.5, wind_share=0.3, lag_h=0.3, ground_share=0.1, sun_k_m2_w=0.004
    ),
    CoverKind.FLEECE_2: Cover(
        sun_share=0.7, sky_share=0.25, wind_share=0.2, lag_h=0.5, ground_share=0.2, sun_k_m2_w=0.006
    ),
    # 50 % and 90 % cloth overhead, open at the sides: the air beneath is the garden's. Judgement.
    CoverKind.HALF_SHADE: Cover(sun_share=0.5, sky_share=0.7, wind_share=0.8),
    CoverKind.FULL_SHADE: Cover(sun_share=0.1, sky_share=0.4, wind_share=0.7),
    # A shut frame in full sun runs 15 to 20 K over the air. Late on a clear night a small one falls
    # below the air where little warmth comes up (Sugiyama 1967 on small tunnels, as quoted);
    # elsewhere it stays a degree or so above (Savage 1980, tunnels: minima 1.3 K up, as quoted).
    # Its light slopes: builders' pages say 20 to 45°, old Dutch lights have 5 to 10. At 25° a clear
    # noon in January is as warm as a grower's log has it (tests/rules/physics/test_slope.py). What
    # a watt warms it: judgement.
    CoverKind.FRAME_SHUT: Cover(
        sun_share=0.8,
        sky_share=0.2,
        wind_share=0.1,
        rain_share=0.0,
        lag_h=0.5,
        ground_share=0.2,
        sun_k_m2_w=0.022,
        sky_k_m2_w=0.01,
        slope_deg=25.0,
    ),
    # Lights propped or off: at most 2 K over in full sun. Common practice, no source.
    CoverKind.FRAME_VENTED: Cover(
        sun_share=0.85, sky_share=0.6, wind_share=0.5, rain_share=0.0, lag_h=0.1, sun_k_m2_w=0.0018
    ),
    # Larger, slower and leakier than a frame; single glass at night close to outside. Judgement.
    CoverKind.GREENHOUSE_SHUT: Cover(
        sun_share=0.75,
        sky_share=0.1,
        wind_share=0.05,
        rain_share=0.0,
        lag_h=1.0,
        ground_share=0.2,
        sun_k_m2_w=0.018,
        sky_k_m2_w=0.005,
        draws_at_m=HOUSE_M,
    ),
    # With its vents open, up to 4 K over. Judgement.
    CoverKind.GREENHOUSE_VENTED: Cover(
        sun_share=0.75,
        sky_share=0.1,
        wind_share=0.3,
        rain_share=0.0,
        lag_h=0.3,
        sun_k_m2_w=0.004,
        draws_at_m=HOUSE_M,
    ),
    # Dark, dry and slow; a day's swing mostly passes it by. Judgement, no source.
    CoverKind.SHED: Cover(
        sun_share=0.02,
        sky_share=0.0,
        wind_share=0.02,
        rain_share=0.0,
        lag_h=5.0,
        ground_share=0.25,
        sun_k_m2_w=0.003,
        draws_at_m=HOUSE_M,
    ),
    # Thicker walls and a floor on the ground make each of these slower than the shed. How cold it
    # gets in winter is for the keeper to say. Judgement, no source.
    CoverKind.GARAGE: Cover(
        sun_share=0.02,
        sky_share=0.0,
        wind_share=0.02,
        rain_share=0.0,
        lag_h=12.0,
        ground_share=0.4,
        sun_k_m2_w=0.002,
        draws_at_m=HOUSE_M,
    ),
    CoverKind.CELLAR: Cover(0.0, 0.0, 0.01, 0.0, 72.0, ground_share=1.0, draws_at_m=HOUSE_M),
    CoverKind.COOL_ROOM: Cover(0.3, 0.0, 0.02, 0.0, 24.0, ground_share=0.4, draws_at_m=HOUSE_M),
    # A lived-in room by a window. Judgement, no source.
    CoverKind.INDOORS: Cover(0.3, 0.0, 0.02, 0.0, 2.0, held_c=18.0, draws_at_m=HOUSE_M),
}


def combined(outer: Cover, inner: Cover) -> Cover:
    """Return ``inner`` standing under ``outer`` as one cover.

    Shares multiply, so that nothing put under a roof sees more sky, sun, wind or rain than the roof
    lets in. Only the sun and sky that pass the outer cover move the air under the inner one. Where
    one of the two is no cover, the answer is the other.
    """
    return Cover(
        sun_share=outer.sun_share * inner.sun_share,
        sky_share=outer.sky_share * inner.sky_share,
        wind_share=outer.wind_share * inner.wind_share,
        rain_share=outer.rain_share * inner.rain_share,
        lag_h=outer.lag_h + inner.lag_h,
        ground_share=outer.ground_share + inner.ground_share,
        sun_k_m2_w=outer.sun_k_m2_w + outer.sun_share * inner.sun_k_m2_w,
        sky_k_m2_w=outer.sky_k_m2_w + outer.sky_share * inner.sky_k_m2_w,
        held_c=outer.held_c if isnan(inner.held_c) else inner.held_c,
        least_c=max(outer.least_c, inner.least_c),
        draws_at_m=max(outer.draws_at_m, inner.draws_at_m),
        slope_deg=max(outer.slope_deg, inner.slope_deg),
    )


@dataclass(frozen=True, slots=True)
class AirRun:
    """Air under a cover or in a bag: ``air_c`` (tree, member, hour) at the end of each hour, and
    ``end_c`` (tree, member) to start the next run with."""

    air_c: Array
    end_c: Array


def covered_air(
    covers: Sequence[Cover],
    start_c: Array,
    *,
    air_c: Array,
    global_wm2: Array,
    net_longwave_wm2: Array,
    deep_c: Array,
) -> AirRun:
    """Return the air under one cover per tree, from ``start_c`` (tree, member).

    Weather broadcasts to (tree, member, hour); ``global_wm2`` is the sun on the cover at its slope;
    ``net_longwave_wm2`` is the sky's less a black body's at air temperature. In the open the answer
    is ``air_c`` itself.
    """
    lag_h, ground, sun_k, sky_k = (
        np.array([getattr(one, name) for one in covers])[:, None, None]
        for name in ("lag_h", "ground_share", "sun_k_m2_w", "sky_k_m2_w")
    )
    toward_c = air_c + ground / (1.0 + ground) * (deep_c - air_c)
    toward_c = toward_c + sun_k * global_wm2 + sky_k * net_longwave_wm2
    held_c, least_c = (
        np.array([getattr(one, name) for one in covers])[:, None, None]
        for name in ("held_c", "least_c")
    )
    toward_c = np.where(np.isnan(held_c), toward_c, held_c)
    with np.errstate(divide="ignore"):
        keeps = np.exp(-1.0 / lag_h)[..., 0]
    inside_c, out = start_c, np.empty((*start_c.shape, toward_c.shape[-1]))
    for hour in range(toward_c.shape[-1]):
        toward = toward_c[..., hour]
        inside_c = np.maximum(toward + keeps * (inside_c - toward), least_c[..., 0])
        out[..., hour] = inside_c
    return AirRun(out, inside_c)
