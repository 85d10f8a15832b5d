"""Words on a phone: the order of facts, and what must never be missing."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from underbench.daemon.wording.units import Units
from underbench.daemon.wording.vocabulary import Made, Sky, Teller, at_spot
from underbench.rules.advice.advice import Advice, Job
from underbench.rules.advice.remedies import Choice, Way
from underbench.rules.advice.remedy import (
    FLEECE_1,
    GROUND,
    HALF_SHADE,
    INTO_SPOT,
    LEE,
    OPEN_BAG,
    STAY,
    Remedy,
)
from underbench.rules.garden.inventory import Standing
from underbench.rules.garden.journal import Work
from underbench.rules.garden.local_time import Stretch
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards import CHILL, DRY_POT, GALE, HOT_BAG, LEAF_FROST, ROOT_FROST, SCORCH
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.limits.limit import Layer, Limit, MeasuredOn
from underbench.rules.physics.places import Place

ZONE = "Europe/Ljubljana"  # two hours ahead of UTC in April
NOW = datetime(2024, 4, 23, 15, 10, tzinfo=UTC)  # a Tuesday
MADE = Made(NOW - timedelta(minutes=60), "Weather data by Open-Meteo.com, CC BY 4.0")
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
NIGHT = Stretch(NOW.replace(hour=10, minute=0), NOW.replace(hour=10, minute=0) + DAY)
SKY = Sky(air_c=-1.6, cloud=0.05, wind_ms=0.8)
OPEN = Place(0.8, 8, 18, 0.7, 0.8, Standing.BENCH)


def finding(tree: str = "Ember", **given: Any) -> Finding:
    """Frost on open leaves early on Wednesday, unless said otherwise; °C."""
    harm, kill = given.pop("limit", (-2.5, -4.5))
    on = given.pop("on", MeasuredOn.LEAF)
    frost = Finding(
        tree=tree,
        hazard=LEAF_FROST,
        span=NIGHT,
        first_at=datetime(2024, 4, 24, 0, tzinfo=UTC),
        until_at=datetime(2024, 4, 24, 5, tzinfo=UTC),
        worst_at=datetime(2024, 4, 24, 4, tzinfo=UTC),
        worst=-3.4,
        limit=Limit(on, (Layer("invented", harm, kill, "invented"),)),
        chance=0.85,
        kill_chance=0.05,
        strength=Strength.ACT,
    )
    return replace(frost, **given)


def choice(remedy: Remedy = INTO_SPOT, spot: str = "shed", **given: Any) -> Choice:
    """Into the shed, unless said otherwise."""
    usual = {
        "suffices": True,
        "chance": 0.05,
        "left": 1.0,
        "measured_on": MeasuredOn.LEAF,
        "two_people": False,
    }
    into = spot if remedy in (INTO_SPOT, STAY) else None
    return Choice(Way(remedy, OPEN, into, indoors=into is not None), **{**usual, **given})


def job(found: Finding, helps: Choice | None, spot: str = "top bench", **given: Any) -> Job:
    return Job(found.tree, spot, (found,), helps, **given)


def advice(*jobs: Job, **given: Any) -> Advice:
    worst = jobs[0].worst
    usual = {
        "action": worst.action,
        "strength": worst.strength,
        "do_by": datetime(2024, 4, 23, 18, tzinfo=UTC),
        "in_hand": True,
        "back_at": datetime(2024, 4, 24, 15, tzinfo=UTC),
        "jobs": jobs,
    }
    return Advice(**{**usual, **given})


def told(one: Advice, sky: Sky = SKY, units: Any = "metric") -> tuple[str, str]:
    teller = Teller(ZONE, Units(units))
    return teller.title(one, NOW), teller.body(one, sky, MADE, NOW)


def in_order(body: str, *facts: str) -> None:
    """Assert that every fact is there, each after the one before."""
    reached = 0
    for fact in facts:
        assert fact in body[reached:], f"{fact!r} missing or too early in:\n{body}"
        reached = body.index(fact, reached) + len(fact)


def test_a_frost() -> None:
    title, body = told(
        advice(
            job(finding("Ember"), choice()),
            job(finding("Plume"), choice()),
            job(finding("Lane"), choice(FLEECE_1), "back row"),
        )
    )
    assert title == "PROTECT 3 trees by 20:00 today"
    in_order(
        body,
        "Frost on open leaves",
        "air −1.6 °C",
        "leaves −3.4 °C",
        "limit −2.5 °C",
        "06:00 tomorrow",
        "02:00–07:00",
        "Clear, calm.",
        "Into the shed: now at top bench (2): Ember, Plume",
        "Cover with 1 layer of fleece, clear of the leaves, weighted: now at back row (1): Lane",
        "Back out 17:00 tomorrow.",
        "Chance 85%.",
        "Forecast of 16:10",
        "Open-Meteo.com, CC BY 4.0",
    )


def test_what_stays_out_frosted_is_kept_from_the_early_sun() -> None:
    """Common practice, no source. It is said only of trees that are not carried in."""
    fleece, shed = choice(FLEECE_1), choice()
    lit = [finding(name, early_sun=True) for name in ("Ember", "Plume", "Lane", "Rook", "Wren")]
    one = told(advice(job(lit[0], fleece), job(finding("Heath"), fleece), job(lit[1], shed)))[1]
    assert "Keep Ember out of early sun until it has thawed." in one
    two = told(advice(*(job(found, fleece) for found in lit[:2])))[1]
    assert "Keep Ember and Plume out of early sun until they have thawed." in two
    many = told(advice(*(job(found, fleece) for found in lit)))[1]
    assert "Keep Ember, Plume, Lane and 2 more out of early sun" in many
    assert "early sun" not in told(advice(job(lit[0], shed), job(finding("Heath"), fleece)))[1]


def test_danger_is_in_the_title() -> None:
    deadly = finding(strength=Strength.DANGER, kill_chance=0.4)
    title, body = told(advice(job(deadly, choice())))
    assert title == "PROTECT 1 tree by 20:00 today (danger)"
    assert "leaves −3.4 °C, limit −2.5 °C, kills from −4.5 °C at 06:00 tomorrow" in body
    assert "kills" not in told(advice(job(finding(), choice())))[1]
    unknown = replace(deadly, limit=finding(limit=(-2.5, float("-inf"))).limit)
    assert "limit −2.5 °C at 06:00" in told(advice(job(unknown, choice())))[1]


def test_a_deadline_that_is_here_is_now_and_a_far_one_has_its_day() -> None:
    one = job(finding(), choice())
    assert told(advice(one, do_by=NOW))[0] == "PROTECT 1 tree now"
    assert told(advice(one, do_by=NOW + DAY))[0] == "PROTECT 1 tree by 17:10 tomorrow"
    assert told(advice(one, do_by=NOW + 3 * DAY))[0] == "PROTECT 1 tree by 17:10 Friday"


def test_frost_on_roots_and_buds_is_named_for_what_it_is() -> None:
    roots = finding(hazard=ROOT_FROST, on=MeasuredOn.SHELL, worst=-4.2, limit=(-3, -5))
    body = told(advice(job(roots, choice())))[1]
    in_order(body, "Frost in the root balls", "root ball's edge −4.2 °C", "limit −3.0 °C")
    buds = finding(on=MeasuredOn.BUD)
    assert "Frost on buds" in told(advice(job(buds, choice())))[1]


def test_of_three_hazards_the_gravest_two_are_named() -> None:
    """More would not be read on a lock screen."""
    frost = finding("Ember", chance=0.9)
    roots = finding("Heath", hazard=ROOT_FROST, on=MeasuredOn.SHELL, chance=0.8)
    gale = finding("Lane", hazard=GALE, on=MeasuredOn.GUST, chance=0.7)
    body = told(advice(*(job(one, choice()) for one in (gale, roots, frost))))[1]
    in_order(body, "Frost on open leaves", "Frost in the root balls")
    assert "Gale" not in body


def test_a_gale() -> None:
    gale = finding(hazard=GALE, on=MeasuredOn.GUST, worst=18.2, limit=(10.0, 16.7), chance=0.6)
    body = told(advice(job(gale, choice(LEE))))[1]
    in_order(body, "Gale", "gusts at the bench 18 m/s", "limit 10 m/s", "Down on the ground")


def test_shade() -> None:
    scorch = finding(hazard=SCORCH, on=MeasuredOn.LEAF, worst=44.0, limit=(42, 47))
    title, body = told(advice(job(scorch, choice(HALF_SHADE))))
    assert title.startswith("SHADE 1 tree by ")
    in_order(
        body,
        "Leaf scorch: leaves 44.0 °C, limit 42.0 °C",
        "Half-shade cloth over: now at top bench (1): Ember",
        "Shade may come off 17:00 tomorrow.",
        "Chance 85%",
    )
    assert "Back out" not in body
    assert "Covers off" not in body


@pytest.mark.parametrize(
    ("units", "inside", "give"), [("metric", "38.0 °C", "±5 °C"), ("us", "100.4 °F", "±9 °F")]
)
def test_a_bag_says_how_little_is_known_of_it(units: str, inside: str, give: str) -> None:
    hot = finding(hazard=HOT_BAG, on=MeasuredOn.BAG, worst=38.0, limit=(28, 35))
    opened = choice(OPEN_BAG, left=float("nan"), measured_on=MeasuredOn.BAG)
    title, body = told(advice(job(hot, opened), back_at=None), units=units)
    assert title.startswith("VENT 1 tree by ")
    in_order(body, "Bag too hot", f"inside the bag {inside}", give, "Open the bag: now at top")
    assert "nan" not in body
    assert "Back" not in body  # a bag is not shut again by a message


def test_water() -> None:
    dry = finding(hazard=DRY_POT, on=MeasuredOn.WATER, worst=0.08, limit=(0.15, 0.03))
    title, body = told(advice(job(dry, None), back_at=None))
    assert title.startswith("WATER 1 tree by ")
    in_order(body, "Dry pots: 8% of the water left", "till it drains: now at top bench (1)", "85%")


SEASON = Stretch(NIGHT.start, NIGHT.start + 30 * DAY)


def chill(**given: Any) -> Finding:
    usual = {"hazard": CHILL, "on": MeasuredOn.AIR, "worst": 9.0, "limit": (12.0, 5.0)}
    return finding(**{**usual, **given})


def test_a_tropical_goes_in_for_the_season() -> None:
    body = told(advice(job(chill(span=SEASON), None), back_at=None))[1]
    in_order(body, "Too cold for tropicals", "9.0 °C", "limit 12.0 °C", "Indoors for the cold")


def test_a_tropical_goes_in_for_one_summer_night() -> None:
    body = told(advice(job(chill(), None), back_at=None))[1]
    assert "Indoors, to a light place: now at top bench (1): Ember" in body
    assert "season" not in body


@pytest.mark.parametrize("span", [NIGHT, SEASON], ids=["night", "season"])
def test_a_tropical_with_no_place_warm_enough_reads_as_one_sentence(span: Stretch) -> None:
    """No place in the garden suffices, so it goes indoors. No half sentence on the shortfall is
    left."""
    weak = choice(spot="greenhouse", suffices=False, chance=0.9, measured_on=MeasuredOn.AIR)
    body = told(advice(job(chill(span=span), weak), back_at=None))[1]
    (line,) = [line for line in body.splitlines() if line.startswith("Indoors")]
    assert line.endswith("to a light place: now at top bench (1): Ember")
    assert body.count("(") == body.count(")")
    assert "greenhouse" not in body
    assert "the best there is" not in body


def test_a_remedy_that_is_not_enough_says_so_and_what_is_left() -> None:
    weak = choice(FLEECE_1, suffices=False, chance=0.45)
    body = told(advice(job(finding(), weak)))[1]
    in_order(body, "of fleece", "(the best there is, ", "still 45%): ", "Ember")
    enough = told(advice(job(finding(), choice(FLEECE_1))))[1]
    assert "the best there is" not in enough


def test_no_remedy_at_all_still_names_the_tree() -> None:
    body = told(advice(job(finding(), None)))[1]
    assert "Shelter as best you can: now at top bench (1): Ember" in body


def test_where_a_tree_stands_never_reads_as_where_it_goes() -> None:
    season = told(advice(job(chill(span=SEASON), None, "frame"), back_at=None))[1]
    assert "season, to a light place: now at frame (1): Ember\n" in season
    under = told(advice(job(finding(), choice(), "Under the bench")))[1]
    assert "Into the shed: now Under the bench (1): Ember\n" in under


def test_heavy_pots_ask_for_two_people() -> None:
    heavy = choice(two_people=True)
    body = told(advice(job(finding("Ember"), heavy), job(finding("Plume"), choice())))[1]
    in_order(body, "Two people for Ember: straight back", "Chance")
    many = [job(finding(f"Old Weatherbeaten {n}"), heavy) for n in range(60)]
    body = told(advice(*many))[1]
    in_order(
        body, "Old Weatherbeaten 0", "57 more", "Two people for Old Weatherbeaten 0", "57 more"
    )
    assert len(body) <= 1000


def test_many_trees_at_one_spot_are_counted_after_those_most_at_risk() -> None:
    body = told(advice(*(job(finding(f"Tree {n}"), choice()) for n in range(9))))[1]
    assert "now at top bench (9): Tree 0, Tree 1, Tree 2 first, then 6 more" in body


def test_what_does_not_fit_is_counted_and_no_name_is_cut() -> None:
    jobs = [job(finding(f"Tree {n}"), choice(), f"the long bench number {n}") for n in range(60)]
    body = told(advice(*jobs))[1]
    assert 900 < len(body) <= 1000
    named = body.count("the long bench number")
    assert f"{60 - named} more trees: see underbench ahead." in body
    assert "(1): Tree 0;" in body
    assert f"(1): Tree {named - 1}\n" in body


@pytest.mark.parametrize(
    ("ago", "words"), [(21, "3 weeks"), (14, "2 weeks"), (13, "13 days"), (1, "1 day")]
)
def test_the_work_that_makes_a_tree_tender_stands_by_its_name(ago: int, words: str) -> None:
    repot = Work(tree="Ember", at=NOW - ago * DAY, work=WorkKind.REPOT)
    fresh = job(finding(), choice(), work=repot)
    body = told(advice(fresh, job(finding("Plume"), choice())))[1]
    assert f"now at top bench (2): Ember (repot {words} ago), Plume\n" in body


def test_nobody_there_in_time_is_said() -> None:
    body = told(advice(job(finding(), choice()), in_hand=False))[1]
    in_order(body, "Frost on open leaves", "Nobody is down to be there before 20:00", "Into the")


# Under cover already


def test_a_tree_under_cover_is_to_be_left_in() -> None:
    title, body = told(advice(job(finding(), choice(STAY), "shed")))
    assert title == "LEAVE IN 1 tree until 17:00 tomorrow"
    assert "\nLeave in, or bring back in: now at shed (1): Ember\nBack out" in body


def test_what_stays_where_it_is_needs_nobody_there() -> None:
    body = told(advice(job(finding(), choice(STAY), "shed"), in_hand=False))[1]
    assert "Nobody" not in body


def test_leaving_in_is_only_said_when_it_holds_for_all() -> None:
    both = advice(job(finding("Ember"), choice(STAY), "shed"), job(finding("Plume"), choice()))
    assert told(both)[0].startswith("PROTECT 2 trees by ")


def test_how_long_a_tree_stays_in_is_not_promised_beyond_the_forecast() -> None:
    one = job(finding(strength=Strength.DANGER), choice(STAY), "shed")
    title = told(advice(one, open_ended=True))[0]
    assert title == "LEAVE IN 1 tree until at least 17:00 tomorrow (danger)"


# Back again


def nights(remedy: Remedy, **given: Any) -> Advice:
    """Two cold nights in a row, and back on the afternoon after the second."""
    first = finding(**given.pop("found", {}))
    second = replace(
        first,
        span=Stretch(NIGHT.start + DAY, NIGHT.end + DAY),
        first_at=first.first_at + DAY,
        until_at=first.until_at + DAY,
        worst_at=first.worst_at + DAY,
    )
    both = Job("Ember", "top bench", (first, second), choice(remedy))
    return advice(both, back_at=datetime(2024, 4, 25, 15, tzinfo=UTC), **given)


def test_a_run_of_cold_nights_is_one_stay_under_cover() -> None:
    body = told(nights(INTO_SPOT))[1]
    in_order(
        body,
        "2 nights in a row, the last ends 07:00 Thursday: leave them in, door open by day.",
        "Back out 17:00 Thursday, shade first.",
    )


def test_the_door_stays_shut_while_cold_may_last_through_the_day() -> None:
    """What harms wood or roots; leaves are open only when days are mild. Common practice."""
    body = told(nights(INTO_SPOT, found={"on": MeasuredOn.SHELL}))[1]
    assert "leave them in, door shut." in body


def test_trees_set_down_for_some_nights_have_no_door() -> None:
    body = told(nights(GROUND))[1]
    assert "leave them in. Back out 17:00 Thursday" in body


def test_covers_stay_on_over_a_run_of_cold_nights_and_come_off_after_it() -> None:
    body = told(nights(FLEECE_1))[1]
    assert "leave the covers on. Covers off 17:00 Thursday.\n" in body  # fleece is not the dark
    assert "Covers off 17:00 tomorrow.\n" in told(advice(job(finding(), choice(FLEECE_1))))[1]


def test_only_leaves_are_led_back_through_shade_and_only_after_some_nights() -> None:
    bare = {"hazard": ROOT_FROST, "on": MeasuredOn.SHELL}
    assert "Back out 17:00 Thursday.\n" in told(nights(INTO_SPOT, found=bare))[1]
    assert "shade" not in told(advice(job(finding(), choice())))[1]


def test_an_end_beyond_the_forecast_is_not_promised() -> None:
    body = told(nights(INTO_SPOT, open_ended=True))[1]
    assert (
        "Back out not before 17:00 Thursday, as far as the forecast reaches: look again then.\n"
        in body
    )


def test_us_units() -> None:
    body = told(advice(job(finding(), choice())), units="us")[1]
    in_order(body, "air 29.1 °F", "leaves 25.9 °F", "limit 27.5 °F")
    assert "°C" not in body


@pytest.mark.parametrize(
    ("cloud", "wind_ms", "words"),
    [(0.0, 0.5, "Clear, calm"), (0.5, 2.0, "Broken cloud, light wind"), (1.0, 7.0, "Overcast, w")],
)
def test_the_sky_of_the_night(cloud: float, wind_ms: float, words: str) -> None:
    body = told(advice(job(finding(), choice())), replace(SKY, cloud=cloud, wind_ms=wind_ms))[1]
    assert words in body


def test_a_spot_reads_as_a_place_to_stand() -> None:
    assert [at_spot(spot) for spot in ("shed", "Under the bench")] == ["at shed", "Under the bench"]
