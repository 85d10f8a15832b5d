"""A chart as a picture: everything lies where it should, is labelled, and can be read."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from itertools import pairwise
from math import nan
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underbench.daemon.charts.svg import LOW, TALL, Chart, Curve, Level, Look, Panel, draw
from underbench.rules.weather.hourly import HOUR_S

SVG = "{http://www.w3.org/2000/svg}"
EVENING = datetime(2027, 4, 20, 15, tzinfo=UTC)  # 17:00 in Ljubljana
FAINTEST_WORDS, FAINTEST_LINES = 4.5, 3.0
# Okabe & Ito, "Color Universal Design" (2008); the hexadecimal values from memory.
OKABE_ITO = {
    "#000000", "#e69f00", "#56b4e9", "#009e73", "#f0e442", "#0072b2", "#d55e00", "#cc79a7",
}  # fmt: skip


def curve(values: Sequence[float], look: Look = Look.LEAF, name: str = "leaf") -> Curve:
    middle = np.array(values, dtype=float)
    return Curve(name, look, middle - 1, middle, middle + 1)


def chart(*panels: Panel, hours: int = 48, zone: str = "Europe/Ljubljana", **given: Any) -> Chart:
    start = given.pop("start", EVENING)
    times = int(start.timestamp()) + HOUR_S * np.arange(1, hours + 1)
    usual = {"title": "Ember", "subtitle": "on top bench", "dark": np.zeros(hours, dtype=bool)}
    return Chart(times=times, timezone=zone, panels=panels, **{**usual, **given})


def frost(hours: int = 48) -> Panel:
    """Leaf, air and root ball through two nights, with four limits close together."""
    cold = 5 - 8 * np.sin(np.arange(hours) / 24 * 2 * np.pi)
    levels = [
        Level("harms leaves −2.5 °C", Look.LEAF, -2.5, False),
        Level("kills leaves −4.5 °C", Look.LEAF, -4.5, True),
        Level("harms roots −3.0 °C", Look.ROOTS, -3.0, False),
        Level("kills roots −5.0 °C", Look.ROOTS, -5.0, True),
    ]
    curves = [
        curve(cold + 1, Look.AIR, "air"),
        curve(cold),
        curve(np.maximum(cold, 0), Look.ROOTS, "root ball"),
    ]
    return Panel("Temperature, °C", curves, levels)


def drawn(wanted: Chart) -> ET.Element:
    return ET.fromstring(draw(wanted))


def every(root: ET.Element, tag: str, name: str = "") -> list[ET.Element]:
    """The elements of a tag with all the classes in ``name``."""
    wanted = set(name.split())
    return [e for e in root.iter(SVG + tag) if wanted <= set(e.get("class", "").split())]


def words(root: ET.Element, name: str = "") -> list[str]:
    return ["".join(e.itertext()) for e in every(root, "text", name)]


def number(element: ET.Element, key: str) -> float:
    return float(element.get(key, ""))


def corners(rect: ET.Element) -> tuple[float, float, float, float]:
    x, y, w, h = (number(rect, key) for key in ("x", "y", "width", "height"))
    return x, y, x + w, y + h


def points(path: ET.Element) -> list[tuple[float, float]]:
    found = re.findall(r"(-?[\d.]+),(-?[\d.]+)", path.get("d", ""))
    return [(float(x), float(y)) for x, y in found]


def inside(root: ET.Element, slack: float = 0.1) -> bool:
    """Whether all points of curves and bands, and all limit lines, lie in a plot."""
    plots = [corners(rect) for rect in every(root, "rect", "plot")]
    ends = [p for path in root.iter(SVG + "path") for p in points(path)]
    ends += [
        (number(line, f"x{end}"), number(line, f"y{end}"))
        for line in root.iter(SVG + "line")
        for end in "12"
    ]
    return all(
        any(
            left - slack <= x <= right + slack and top - slack <= y <= foot + slack
            for left, top, right, foot in plots
        )
        for x, y in ends
    )


# What it is made of


def test_it_is_one_picture_that_refers_to_nothing() -> None:
    text = draw(chart(frost()))
    root = ET.fromstring(text)
    assert root.tag == SVG + "svg"
    assert root.get("viewBox", "").split()[2] == "1080"
    assert text.replace("http://www.w3.org/2000/svg", "").count("http") == 0
    assert not re.search(r"href|url\(|@import|<script|<image", text)


def test_it_says_what_it_is_to_who_cannot_see_it() -> None:
    root = drawn(chart(frost()))
    assert root.get("role") == "img"
    (title,) = every(root, "title")
    assert title.text == "Ember: on top bench"


def test_words_are_escaped_and_survive() -> None:
    title, limit = "<b>Ember & \"Co\"</b> ]]> 'x'", "harms <leaves> & more"
    panel = Panel("a < b & c", [curve([1, 2], name="<leaf>")], [Level(limit, Look.LEAF, 1, False)])
    root = drawn(chart(panel, hours=2, title=title, notes=["<note> &amp;"]))
    said = words(root)
    for one in (title, limit, "a < b & c", "<leaf>", "<note> &amp;"):
        assert one in said


@given(st.text())
def test_any_name_makes_well_formed_xml(name: str) -> None:
    root = drawn(chart(frost(3), hours=3, title=name, subtitle=name, notes=[name]))
    assert len(words(root, "title")) == 1


def test_characters_xml_cannot_write_are_left_out() -> None:
    assert words(drawn(chart(title="Em\x00b\x1f\ufffeer")), "title") == ["Ember"]


# Where things lie


def test_every_point_lies_in_its_plot() -> None:
    low = Panel("Water, %", [curve(np.linspace(99, 1, 48), Look.WATER)], shown=(0, 100), height=LOW)
    root = drawn(chart(frost(), low))
    assert len(every(root, "path", "curve")) == 4
    assert inside(root)


@given(
    st.lists(st.floats(-60, 70) | st.just(nan), min_size=1, max_size=30),
    st.lists(st.floats(-60, 70), max_size=4),
)
def test_whatever_the_values_they_lie_in_the_plot(values: list[float], limits: list[float]) -> None:
    levels = [Level(f"limit {n}", Look.ROOTS, limit, False) for n, limit in enumerate(limits)]
    root = drawn(chart(Panel("Temperature", [curve(values)], levels), hours=len(values)))
    assert inside(root)
    known = bool(np.isfinite(values).any())
    assert bool(every(root, "path", "curve")) == known
    assert words(root, "limit") == ([level.label for level in levels] if known else [])


def test_heights_are_those_the_axis_says() -> None:
    root = drawn(chart(frost()))
    at = {
        words_of: number(e, "y") - 10 for e in every(root, "text", "tick") for words_of in [e.text]
    }
    zero, five = at["0"], at["5"]
    assert zero > five
    lines = {n: number(every(root, "line", n)[0], "y1") for n in ("leaf harms", "roots kills")}
    a_degree = (zero - five) / 5
    assert lines["leaf harms"] == pytest.approx(zero + 2.5 * a_degree, abs=0.2)
    assert lines["roots kills"] == pytest.approx(zero + 5 * a_degree, abs=0.2)


def test_night_is_shaded_for_just_its_hours() -> None:
    dark = np.zeros(48, dtype=bool)
    dark[3:13] = True  # ten hours from the end of the third
    root = drawn(chart(frost(), dark=dark))
    left, _, right, _ = corners(every(root, "rect", "plot")[0])
    begins, _, ends, _ = corners(every(root, "rect", "night")[0])
    an_hour = (right - left) / 48
    assert (begins - left) / an_hour == pytest.approx(3, abs=0.01)
    assert (ends - left) / an_hour == pytest.approx(13, abs=0.01)


def test_a_gap_breaks_the_curve() -> None:
    values = [1.0, 2.0, nan, 4.0, 5.0, nan, 7.0]
    runs = [
        points(path)
        for path in every(drawn(chart(Panel("", [curve(values)]), hours=7)), "path", "curve")
    ]
    assert [len(dict.fromkeys(run)) for run in runs] == [2, 2, 1]


def test_one_hour_is_a_dot() -> None:
    root = drawn(chart(Panel("", [curve([3.0])]), hours=1))
    (path,) = every(root, "path", "curve")
    first, second = points(path)
    assert first == second  # the round ends of a line without length make the dot
    assert inside(root)
    assert words(root, "name") == ["leaf"]


def test_no_hours_and_nothing_known_are_said() -> None:
    for root in (
        drawn(chart(Panel("Air", [curve([])]), hours=0)),
        drawn(chart(Panel("Air", [curve([nan, nan])]), hours=2)),
        drawn(chart(Panel("Air", []), hours=2)),
    ):
        assert words(root, "note") == ["nothing is known of these hours"]
        assert not every(root, "path")
    assert words(drawn(chart(hours=5)), "title") == ["Ember"]


# Labels


def test_each_curve_is_named_at_its_end_and_names_keep_apart() -> None:
    panel = Panel("", [curve([5, 5, 5], look, look) for look in Look])
    root = drawn(chart(panel, hours=3))
    names = every(root, "text", "name")
    assert {name.text for name in names} == {look.value for look in Look}
    right = corners(every(root, "rect", "plot")[0])[2]
    assert all(number(name, "x") >= right for name in names)
    heights = sorted(number(name, "y") for name in names)
    assert min(b - a for a, b in pairwise(heights)) >= 28


def test_each_limit_is_labelled_beside_its_line_and_labels_keep_apart() -> None:
    root = drawn(chart(frost()))
    boxes = []
    for level in frost().levels:
        (label,) = [e for e in every(root, "text", "limit") if e.text == level.label]
        line = every(root, "line", f"{level.look} {'kills' if level.kills else 'harms'}")[0]
        assert abs(number(label, "y") - number(line, "y1")) < 40
        boxes.append((number(label, "x"), number(label, "y"), len(level.label) * 17))
    for n, (x, y, wide) in enumerate(boxes):
        for other_x, other_y, other_wide in boxes[n + 1 :]:
            apart = x + wide <= other_x or other_x + other_wide <= x
            assert apart or abs(y - other_y) >= 28


def test_limits_of_different_parts_differ_without_colour() -> None:
    style = every(drawn(chart(frost())), "style")[0].text or ""
    dashes = dict(re.findall(r"\.(\w+)\{stroke-dasharray:([^}]+)\}", style))
    assert dashes.keys() == {"air", "roots"}  # the leaf's is drawn through
    assert len(set(dashes.values())) == 2
    thin, thick = (
        float(re.findall(rf"\.{name}\{{stroke-width:([\d.]+)", style)[0])
        for name in ("harms", "kills")
    )
    assert thick >= 2 * thin


# Read on a phone, in sun and in the dark


def test_no_words_are_smaller_than_26_of_1080() -> None:
    long = "Acer palmatum behind the old shed by the wall, the one with two trunks"
    root = drawn(chart(frost(), title=long, subtitle=2 * long))
    text = ET.tostring(root, encoding="unicode")
    sizes = [float(size) for size in re.findall(r"font-size:([\d.]+)px", text)]
    assert min(sizes) >= 26
    for name in ("title", "subtitle"):
        (said,) = words(root, name)
        assert said.endswith("…")
        assert long.startswith(said[:-1])


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2 (definition; read from memory)."""
    digits = colour[1:] if len(colour) == 7 else "".join(2 * c for c in colour[1:])
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def colours(dark: bool) -> dict[str, str]:
    """What the style sets, by selector. The dark scheme lies over the light one."""
    style = every(drawn(chart(frost())), "style")[0].text or ""
    light, _, over = style.partition("@media (prefers-color-scheme:dark)")
    found: dict[str, str] = {}
    for selectors, rules in re.findall(r"([^{}]+)\{([^{}]*)\}", light + (over if dark else "")):
        for key, colour in re.findall(r"\b(stroke|fill):(#[0-9a-f]+)", rules):
            for selector in selectors.strip().split(","):
                found[f"{selector} {key}"] = colour
    return found


@pytest.mark.parametrize("dark", [False, True])
def test_colours_are_told_apart_and_seen(dark: bool) -> None:
    """Contrast asked by WCAG 2.2, 1.4.3 (words 4.5) and 1.4.11 (graphics 3); from memory."""
    seen = colours(dark)
    paper, plot = seen[".paper fill"], seen[".plot fill"]
    lines = {look: seen[f"path.{look} stroke"] for look in Look}
    assert {lines[look] for look in Look if look is not Look.GUST} <= OKABE_ITO
    assert len({lines[look] for look in (Look.AIR, Look.LEAF, Look.ROOTS)}) == 3
    for look in Look:
        assert contrast(lines[look], plot) >= FAINTEST_LINES
        said = seen.get(f"text.{look} fill", seen["text fill"])
        assert contrast(said, paper) >= FAINTEST_WORDS
    assert contrast(seen["text fill"], paper) >= FAINTEST_WORDS


# Hours and days


def test_hours_and_days_are_local() -> None:
    root = drawn(chart(frost()))
    assert words(root, "hour") == [
        "18:00", "00:00", "06:00", "12:00", "18:00", "00:00", "06:00", "12:00",
    ]  # fmt: skip
    assert words(root, "date") == ["Tue", "Wed 21 Apr", "Thu 22 Apr"]
    assert len(every(root, "line", "day")) == 2


def test_the_night_the_clocks_go_forward_has_no_second_hour() -> None:
    """28 March 2027, 02:00 to 03:00 in the European Union (last Sunday of March)."""
    night = chart(frost(8), hours=8, start=datetime(2027, 3, 27, 22, tzinfo=UTC))
    assert words(drawn(night), "hour") == [
        "23:00",
        "00:00",
        "01:00",
        "03:00",
        "04:00",
        "05:00",
        "06:00",
        "07:00",
        "08:00",  # eight hours after 23:00, one of them not on the clock
    ]


def test_zones_off_by_a_quarter_have_whole_hours_too() -> None:
    root = drawn(chart(frost(), zone="Asia/Kathmandu"))  # UTC+5:45
    assert words(root, "hour")[:2] == ["00:00", "06:00"]
    assert words(root, "date") == ["Tue", "Wed 21 Apr", "Thu 22 Apr"]


@pytest.mark.parametrize("hours", [1, 2, 6, 24, 48, 120, 168])
def test_hours_and_days_never_run_into_each_other(hours: int) -> None:
    root = drawn(chart(frost(hours), hours=hours))
    for name, size in (("hour", 28), ("date", 28)):
        spans = sorted(
            (
                number(e, "x") - 0.3 * size * len(e.text or ""),
                number(e, "x") + 0.3 * size * len(e.text or ""),
            )
            for e in every(root, "text", name)
        )
        assert spans
        assert all(a[1] <= b[0] for a, b in pairwise(spans))


def test_a_low_panel_is_lower_and_below() -> None:
    water = Panel("Water, %", [curve(np.full(48, 50), Look.WATER)], shown=(0, 100), height=LOW)
    root = drawn(chart(frost(), water))
    first, second = (corners(rect) for rect in every(root, "rect", "plot"))
    assert (first[3] - first[1], second[3] - second[1]) == (TALL, LOW)
    assert second[1] > first[3]
    assert {"0", "50", "100"} <= set(words(root, "tick"))


def test_the_same_chart_is_the_same_picture() -> None:
    one = chart(frost())
    assert draw(one) == draw(replace(one))
