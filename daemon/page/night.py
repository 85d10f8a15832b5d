"""The night as a picture: for each bench a strip of hours, filled by what they do to its trees.

Of a strip's height as many parts are filled as trees are struck in that hour, the gravest below.
Fills differ by pattern as well as by colour. Colours are those of the page's own style.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from html import escape
from itertools import groupby
from typing import Any
from zoneinfo import ZoneInfo

from underbench.daemon.wording.units import Units
from underbench.rules.garden.inventory import Garden
from underbench.rules.garden.local_time import NOON, local_day, local_moment
from underbench.rules.hazards.findings import Strength
from underbench.rules.weather.hourly import HOUR_S
from underbench.rules.weather.sun import sunrise_sunset

WIDTH, HEIGHT = 328, 22  # units; on a narrow phone one is a pixel
AXIS_HEIGHT = 40
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
MORNING = 9  # o'clock; till then the night is the one that is on
BEFORE_DUSK = 4 * HOUR
HOURS_BETWEEN = 3  # numbers below the strips
CLEAR = 12.0  # units around a mark and at the edge that stay free of numbers
APART = 92.0  # units; nearer marks have their words on either side
STRENGTHS = (Strength.DANGER, Strength.ACT, Strength.NOTICE)
SAID = ("in danger", "harmed", "nearly harmed")  # by strength
PATTERNS = (
    '<svg class="hidden" aria-hidden="true"><defs>'
    '<pattern id="danger" width="6" height="6" patternUnits="userSpaceOnUse">'
    '<path class="f-danger" d="M0 0h6v6H0z"/><path class="l-danger" d="M0 0l6 6M6 0l-6 6"/>'
    "</pattern>"
    '<pattern id="act" width="6" height="6" patternUnits="userSpaceOnUse">'
    '<path class="f-act" d="M0 0h6v6H0z"/>'
    '<path class="l-act" d="M-1.5 1.5l3-3M0 6l6-6M4.5 7.5l3-3"/></pattern>'
    '<pattern id="notice" width="6" height="6" patternUnits="userSpaceOnUse">'
    '<path class="f-notice" d="M0 0h6v6H0z"/><circle class="l-notice" cx="3" cy="3" r="1.2"/>'
    "</pattern></defs></svg>"
)
Hours = Sequence[Any]  # of one tree: strength, begin, end


@dataclass(frozen=True)
class Night:
    """The hours shown, from ``begins`` to ``ends``, the sun's going and coming in them, and what
    is marked: now, and by when to act."""

    begins: datetime
    ends: datetime
    dusk: datetime
    dawn: datetime
    now: datetime
    do_by: datetime | None

    @property
    def whole_day(self) -> bool:
        """Whether it is a day's hours, as nothing happens at night."""
        return self.ends - self.begins >= DAY

    def x(self, moment: datetime | float) -> float:
        """Return where a moment stands across the strip, in units."""
        at = moment.timestamp() if isinstance(moment, datetime) else moment
        share = (at - self.begins.timestamp()) / (self.ends - self.begins).total_seconds()
        return WIDTH * min(1.0, max(0.0, share))


def night_of(
    garden: Garden, now: datetime, do_by: datetime | None, hours: Iterable[Hours]
) -> Night:
    """Return the night that is on or comes, from before dusk to noon. If only the day harms trees
    (``hours`` of all of them), it is the whole day from now on."""
    zone = ZoneInfo(garden.timezone)
    day = local_day(now, garden.timezone)
    day -= DAY if now.astimezone(zone).hour < MORNING else timedelta()
    dusk = sunrise_sunset(day, garden.latitude, garden.longitude)[1]
    dawn = sunrise_sunset(day + DAY, garden.latitude, garden.longitude)[0]
    noon, middle = (local_moment(day + n * DAY, NOON, garden.timezone) for n in (1, 0))
    dusk, dawn = dusk or middle + 6 * HOUR, dawn or noon - 6 * HOUR
    begins = _hour(max(now - HOUR, dusk - BEFORE_DUSK))  # an hour of room for what is marked
    struck = [(begin, end) for own in hours for _, begin, end in own]
    if struck and not any(e > dusk.timestamp() and b < noon.timestamp() for b, e in struck):
        begins = _hour(now)
        noon = begins + DAY
    return Night(begins, noon, dusk, dawn, now, do_by)


def _hour(moment: datetime) -> datetime:
    return moment.replace(minute=0, second=0, microsecond=0)


def strip(night: Night, hours: Sequence[Hours]) -> str:
    """Return a bench's strip as SVG. ``hours`` are those of each of its trees."""
    parts = [_sky(night, HEIGHT)]
    for (low, high, strength), run in groupby(_cells(night, hours), key=lambda cell: cell[2:]):
        if low == high:
            continue
        own = list(run)
        left, right = night.x(own[0][0]), night.x(own[-1][1])
        parts.append(
            f'<path fill="url(#{strength})" d="M{left:.1f} {HEIGHT - low:.1f}H{right:.1f}'
            f'V{HEIGHT - high:.1f}H{left:.1f}z"/>'
        )
    return _svg(HEIGHT, [*parts, *_marks(night, 0, HEIGHT)])


def _cells(
    night: Night, hours: Sequence[Hours]
) -> Iterator[tuple[float, float, float, float, str]]:
    """From when to when, from how high to how high, and how hard; a strength after the other."""
    first, past = (int(at.timestamp()) for at in (night.begins, night.ends))
    by_hour = [(at, _struck(hours, at)) for at in range(first, past, HOUR_S)]
    for strength in STRENGTHS:
        for at, struck in by_hour:
            below = sum(struck[one] for one in STRENGTHS[: STRENGTHS.index(strength)])
            each = HEIGHT / len(hours)
            yield at, at + HOUR_S, each * below, each * (below + struck[strength]), strength


def _struck(hours: Sequence[Hours], at: int) -> Counter[str]:
    """How many trees are struck in the hour from ``at`` on, by the hardest strength of each."""
    worst = (
        next((one for one in STRENGTHS if any(s == one and b <= at < e for s, b, e in own)), None)
        for own in hours
    )
    return Counter(one for one in worst if one)


def _sky(night: Night, height: int) -> str:
    """Daylight, and the dark between dusk and dawn."""
    dusk, dawn = night.x(night.dusk), night.x(night.dawn)
    return (
        f'<path class="light" d="M0 0h{WIDTH}v{height}H0z"/>'
        f'<path class="dark" d="M{dusk:.1f} 0H{dawn:.1f}V{height}H{dusk:.1f}z"/>'
    )


def _marks(night: Night, top: int, bottom: int) -> Iterator[str]:
    """Upright lines at now and at the deadline, as far as they are in the picture."""
    for name, at in (("now", night.now), ("due", night.do_by)):
        if at and night.begins <= at <= night.ends:
            yield f'<path class="{name}" d="M{night.x(at):.1f} {top}V{bottom}"/>'


def axis(night: Night, garden: Garden, units: Units) -> str:
    """Return the hours that stand above the strips, with the words of what is marked."""
    zone = ZoneInfo(garden.timezone)
    marked = [("now", "now", night.now)] if night.now >= night.begins else []
    if night.do_by and night.begins <= night.do_by <= night.ends:
        clock = units.hour(night.do_by.astimezone(zone))
        marked.append(("due", f"by {clock}", night.do_by))
    parts = []
    for n, (name, words, at) in enumerate(marked):
        x = night.x(at)
        anchor = "start" if x < WIDTH / 2 else "end"
        if n and x - night.x(marked[0][2]) < APART:
            x = max(x, night.x(marked[0][2]) + 40)
        parts.append(_text(words, x, 14, anchor, name))
    at = night.begins
    while at < night.ends:
        local = at.astimezone(zone)
        free = all(abs(night.x(at) - night.x(one)) > CLEAR for _, _, one in marked)
        if local.hour % HOURS_BETWEEN == 0 and free and CLEAR < night.x(at) < WIDTH - CLEAR:
            parts.append(_text(f"{local.hour}", night.x(at), 34, "middle", "hour"))
        at += HOUR
    return _svg(AXIS_HEIGHT, [*parts, *_marks(night, 18, AXIS_HEIGHT)])


def _text(words: str, x: float, y: int, anchor: str, name: str) -> str:
    return f'<text class="{name}" x="{x:.0f}" y="{y}" text-anchor="{anchor}">{escape(words)}</text>'


def _svg(height: int, parts: Iterable[str]) -> str:
    return (
        f'<svg class="hours" viewBox="0 0 {WIDTH} {height}" aria-hidden="true">'
        f"{''.join(parts)}</svg>"
    )


def harm_words(night: Night, hours: Sequence[Hours], zone: ZoneInfo, units: Units) -> str:
    """Return in words what a strip shows, for whoever does not see it."""
    begins, ends = night.begins.timestamp(), night.ends.timestamp()
    shown = [[one for one in own if one[2] > begins and one[1] < ends] for own in hours]
    worst = Counter(min((STRENGTHS.index(one[0]) for one in own), default=None) for own in shown)
    struck = [(begin, end) for own in shown for _, begin, end in own]
    if not struck:
        return "no harm"
    first, last = min(begin for begin, _ in struck), max(end for _, end in struck)
    clocks = [units.clock(datetime.fromtimestamp(at, zone)) for at in (first, last)]
    many = (f"{worst[n]} {words}" for n, words in enumerate(SAID) if worst[n])
    return f"{', '.join(many)}, {clocks[0]} to {clocks[1]}"
