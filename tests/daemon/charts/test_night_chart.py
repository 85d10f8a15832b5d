"""The picture that goes with an advice: it shows the tree, and what the limit is measured on."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from garden_toml import HEATH
from spring_frosts import EVENING, GARDEN, Labs, in_leaf, spring

from underbench.daemon.charts.night_chart import night_chart
from underbench.daemon.charts.png import png
from underbench.daemon.charts.svg_labels import TEXT_PX
from underbench.rules.advice.advice import Advice
from underbench.rules.advice.remedy import STAY
from underbench.rules.garden.journal import Move, Work
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards.findings import Finding
from underbench.rules.limits.limit import Layer, Limit, MeasuredOn
from underbench.rules.weather.hourly import HOUR_S

DAY = timedelta(days=1)
US_GARDEN = GARDEN.replace("elevation_m", 'units = "us"\nelevation_m')
WINTER = datetime(2024, 2, 25, tzinfo=UTC)
BAGGED = GARDEN + (
    '[[tree]]\nname = "Thorn"\nspecies = "Crataegus monogyna"\nlitres = 4\nspot = "top bench"\n'
)


@pytest.fixture
def frosty(labs: Labs, make: Any) -> Any:
    return in_leaf(labs, spring(make, 2.0)).run(EVENING)


def words(svg: str) -> list[str]:
    root = ElementTree.fromstring(svg)
    return ["".join(text.itertext()) for text in root.iter("{http://www.w3.org/2000/svg}text")]


def picture_of(done: Any, kind: MeasuredOn) -> str:
    """The picture of the first advice, told now or later, whose first limit is on ``kind``."""
    told = (*done.told, *(one for one, _ in done.later))
    found = next(one for one in told if one.advice.lead.limit.measured_on is kind)
    return str(found.message.picture)


def about(advice: Advice, **changed: Any) -> Advice:
    """The advice with only its first finding changed."""
    lead = replace(advice.lead, **changed)
    return replace(advice, jobs=(replace(advice.jobs[0], findings=(lead,)),))


def measured(lead: Finding, kind: MeasuredOn) -> dict[str, Any]:
    return {"limit": replace(lead.limit, measured_on=kind)}


def test_a_frost_brings_the_night_against_the_limits_told(frosty: Any) -> None:
    (told,) = frosty.told
    drawn = words(told.message.picture)
    lead = told.advice.lead
    assert drawn[:3] == ["Ember", "Frost, at top bench", "°C"]
    assert "by 20:00" in drawn
    assert lead.limit.harm == -2.5
    assert {"harms −2.5", "kills −4.5", "leaf", "air"} <= set(drawn)


def test_a_second_limit_is_told_by_name_where_there_is_room_for_it(frosty: Any) -> None:
    (told,) = frosty.told
    roots = next(f for f in told.advice.findings if f.limit.measured_on is MeasuredOn.SHELL)
    assert roots.limit.harm == -3.0
    near = words(told.message.picture)
    assert "roots" in near
    assert (
        "roots −3.0" not in near
    )  # half a degree from the leaves' limit: one would hide the other
    apart = replace(roots, limit=Limit(MeasuredOn.SHELL, (Layer("invented", -12.0, -18.0, ""),)))
    job = replace(told.advice.jobs[0], findings=(told.advice.lead, apart))
    drawn = words(night_chart(frosty.outlook, replace(told.advice, jobs=(job,))))
    assert "roots −12.0" in drawn


def test_it_is_read_at_arm_s_length(frosty: Any) -> None:
    """Text has a twentieth of the picture's height or more. The picture is about 4 to 3."""
    picture = frosty.told[0].message.picture
    _, _, wide, high = map(float, ElementTree.fromstring(picture).attrib["viewBox"].split())
    assert high <= 20 * TEXT_PX
    assert wide / high == pytest.approx(4 / 3, rel=0.05)
    made = png(picture)
    assert made is not None
    assert made.startswith(b"\x89PNG")


def test_a_gale_brings_the_gusts_and_nothing_else(labs: Labs, make: Any) -> None:
    gale = datetime(2024, 4, 24, 6, tzinfo=UTC).timestamp()
    quiet = spring(make)
    windy = np.where(abs(quiet.times - gale - 5 * HOUR_S) <= 5 * HOUR_S, 12.0, 2.0)[None, :]
    blown = replace(quiet, wind_ms=windy, gust_ms=2.5 * windy)
    garden = labs(GARDEN + HEATH.replace("tied = true", "height_cm = 90"), blown)
    garden.note(Work(tree="Heath", at=EVENING - 5 * DAY, work=WorkKind.REPOT, roots_pct=40))
    drawn = words(picture_of(garden.run(EVENING), MeasuredOn.GUST))
    assert "m/s" in drawn
    assert "gusts" in drawn
    assert not {"air", "leaf", "°C"} & set(drawn)


def test_a_hot_bag_is_drawn_on_the_day_of_its_deadline(labs: Labs, make: Any) -> None:
    """In a warm spell the worst may be days ahead, but the deadline is for the first day."""
    warming = make.weather(
        WINTER, 24 * 60, mean_c=[5 + day / 4 for day in range(60) for _ in "x" * 24]
    )
    garden = labs(BAGGED, warming)
    garden.note(Work(tree="Thorn", at=WINTER + 20 * DAY, work=WorkKind.BAG))
    done = garden.run(WINTER + 50 * DAY + timedelta(hours=5))
    drawn = words(picture_of(done, MeasuredOn.BAG))
    assert {"in bag", "air"} <= set(drawn)
    assert any(word.startswith("by ") for word in drawn)


def test_us_units_have_their_degrees_and_clock(labs: Labs, make: Any) -> None:
    (told,) = in_leaf(labs, spring(make, 2.0), US_GARDEN).run(EVENING).told
    drawn = words(told.message.picture)
    assert {"°F", "by 8:00 pm", "harms 27.5", "12 am"} <= set(drawn)  # −2.5 °C × 1.8 + 32


@pytest.mark.parametrize("kind", [MeasuredOn.MOSS, MeasuredOn.DARK, MeasuredOn.SUN])
def test_what_comes_on_by_days_has_no_picture(frosty: Any, kind: MeasuredOn) -> None:
    advice = frosty.told[0].advice
    assert night_chart(frosty.outlook, about(advice, **measured(advice.lead, kind))) == ""


def test_hours_beyond_the_forecast_have_no_picture(frosty: Any) -> None:
    beyond = frosty.outlook.reaches + 3 * DAY
    later = {"first_at": beyond, "worst_at": beyond, "until_at": beyond}
    advice = replace(about(frosty.told[0].advice, **later), do_by=beyond)
    assert night_chart(frosty.outlook, advice) == ""


def test_trees_that_stay_in_have_none_as_they_do_not_feel_it(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make, 2.0))
    advice = garden.run(EVENING, dry_run=True).told[0].advice
    garden.note(Move(tree="Ember", at=EVENING - timedelta(hours=1), spot="shed"))
    outlook = garden.run(EVENING, dry_run=True).outlook
    (job,) = advice.jobs
    assert job.choice is not None
    stay = replace(job.choice, way=replace(job.choice.way, remedy=STAY))
    stays = replace(advice, jobs=(replace(job, choice=stay),))
    assert night_chart(outlook, stays) == ""


def test_the_picture_begins_before_the_deadline_however_far_off_the_worst_is(frosty: Any) -> None:
    advice = frosty.told[0].advice
    lead = advice.lead
    later = {name: getattr(lead, name) + 3 * DAY for name in ("first_at", "worst_at", "until_at")}
    drawn = words(night_chart(frosty.outlook, about(advice, **later)))
    assert "by 20:00" in drawn
    assert {"Wed", "Thu", "Fri"} <= set(drawn)


def test_death_far_below_the_curves_is_said_in_words(frosty: Any) -> None:
    advice = frosty.told[0].advice
    hardy = Limit(MeasuredOn.LEAF, (Layer("invented", -2.5, -30.0, "invented"),))
    drawn = words(night_chart(frosty.outlook, about(advice, limit=hardy)))
    assert "Kills from −30.0 °C, which is off this picture." in drawn
    assert not any(word.startswith("kills ") for word in drawn)
    near = words(night_chart(frosty.outlook, advice))
    assert not any("off this picture" in word for word in near)
