"""Words on a phone: the order of facts, and what must never be missing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest
from bare_advice import DAY, HOUR, MADE, NIGHT, NOW, advice, choice, finding, job, teller

from underbench.daemon.wording.advice_text import advice_words
from underbench.daemon.wording.vocabulary import at_spot, chance_words, joined, the_spot
from underbench.rules.advice.advice import Advice, Job
from underbench.rules.advice.remedy import (
    BAG_AND,
    FLEECE_1,
    FULL_SHADE,
    GROUND,
    GROUND_FLEECE_1,
    GROUND_FLEECE_2,
    HALF_SHADE,
    INTO_SPOT,
    LEE,
    OPEN_BAG,
    OPEN_FRAME,
    SHUT_FRAME,
    SLIT_BAG,
    STAY,
    TIE,
    WATER,
    WATER_SHADE,
    WET_MOSS,
    Remedy,
)
from underbench.rules.garden.journal import Work
from underbench.rules.garden.local_time import Stretch
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards import (
    CHILL,
    DRY_FREEZE,
    DRY_MOSS,
    DRY_POT,
    GALE,
    HOT_BAG,
    LEAF_FROST,
    ROOT_FROST,
    SCORCH,
)
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.hazard import Hazard
from underbench.rules.limits.limit import MeasuredOn


def told(
    one: Advice, units: Any = "metric", benches: Mapping[str, Sequence[str]] | None = None
) -> tuple[str, str]:
    return advice_words(one, benches or {}, MADE, teller(units), NOW)[:2]


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
    assert title == "PROTECT 3 trees by 20:00: shed 2, cover 1"
    in_order(
        body,
        "Into the shed (2), from the top bench: Ember, Plume\n",
        "Cover with 1 layer of fleece, clear of the leaves, weighted, at the back row: Lane\n",
        "By 20:00 today. Back out, and covers off 17:00 tomorrow.\n",
        "Frost on open leaves: Ember, leaves −3.4 °C at 06:00 (limit −2.5 °C);",
        "harm 02:00–07:00 tomorrow; chance 85%.\n",
        "Forecast of 16:10",
        "Open-Meteo.com, CC BY 4.0",
    )


def test_what_stays_out_frosted_is_kept_from_the_early_sun() -> None:
    """Common practice, no source. It is said only of trees that are not carried in."""
    fleece, shed = choice(FLEECE_1), choice()
    lit = [finding(name, early_sun=True) for name in ("Ember", "Plume", "Lane", "Rook", "Wren")]
    one = told(advice(job(lit[0], fleece), job(finding("Heath"), fleece), job(lit[1], shed)))[1]
    assert "Keep Ember out of early sun until it has thawed." in one
    three = (*(job(found, fleece) for found in lit[:3]), job(finding("Heath"), fleece))
    assert "Keep all but Heath out of early sun until they have" in told(advice(*three))[1]
    many = told(advice(*(job(found, fleece) for found in lit)))[1]
    assert "Keep all of them out of early sun until they have thawed." in many
    assert "early sun" not in told(advice(job(lit[0], shed), job(finding("Heath"), fleece)))[1]


def test_danger_is_in_the_title() -> None:
    deadly = finding(strength=Strength.DANGER, kill_chance=0.4)
    title, body = told(advice(job(deadly, choice())))
    assert title == "BRING Ember into the shed by 20:00 (danger)"
    assert "leaves −3.4 °C at 06:00 (limit −2.5 °C, kills from −4.5 °C)" in body
    assert "kills" not in told(advice(job(finding(), choice())))[1]
    unknown = replace(deadly, limit=finding(limit=(-2.5, float("-inf"))).limit)
    assert "(limit −2.5 °C);" in told(advice(job(unknown, choice())))[1]


def test_a_deadline_that_is_here_is_now_and_a_far_one_has_its_day() -> None:
    one = job(finding(), choice())
    assert told(advice(one, do_by=NOW))[0] == "BRING Ember into the shed now"
    assert told(advice(one, do_by=NOW + DAY))[0].endswith("the shed by 17:10 tomorrow")
    assert told(advice(one, do_by=NOW + 3 * DAY))[0].endswith("the shed by 17:10 Friday")


def test_frost_on_roots_and_buds_is_named_for_what_it_is() -> None:
    roots = finding(hazard=ROOT_FROST, on=MeasuredOn.SHELL, worst=-4.2, limit=(-3, -5))
    body = told(advice(job(roots, choice())))[1]
    in_order(body, "Frost in the root balls", "root ball's edge −4.2 °C", "limit −3.0 °C")
    buds = finding(on=MeasuredOn.BUD)
    assert "Frost on buds" in told(advice(job(buds, choice())))[1]


def test_a_second_hazard_is_told_only_if_it_asks_for_other_help() -> None:
    frost = finding("Ember", chance=0.9)
    roots = finding("Heath", hazard=ROOT_FROST, on=MeasuredOn.SHELL, chance=0.8)
    gale = finding("Lane", hazard=GALE, on=MeasuredOn.GUST, chance=0.7)
    body = told(advice(*(job(one, choice()) for one in (gale, roots, frost))))[1]
    in_order(body, "Frost on open leaves: Ember,", "chance 90%", "Gale: Lane,", "chance 70%")
    assert "Frost in the root balls" not in body


def test_the_number_is_that_of_the_tree_named_beside_it() -> None:
    cold = finding("Ember", worst=-3.1, chance=0.9)
    colder = finding("Heath", worst=-6.6, chance=0.8)
    body = told(advice(job(cold, choice()), job(colder, choice())))[1]
    assert "Ember, leaves −3.1 °C" in body
    assert "−6.6" not in body


@pytest.mark.parametrize(
    ("hours", "said"),
    [
        ((9, 14), "harm 02:00–07:00 tomorrow"),
        ((5, 14), "harm from 22:00 today to 07:00 tomorrow"),
        ((79, 85), "harm from 00:00 Saturday to 06:00 Saturday"),
    ],
)
def test_hours_of_harm_have_their_day(hours: tuple[int, int], said: str) -> None:
    """The garden's clock is two hours ahead; the hours are counted from 17:00 on a Tuesday."""
    first, last = (NOW.replace(minute=0) + hour * HOUR for hour in hours)
    one = finding(first_at=first, until_at=last, worst_at=last)
    body = told(advice(job(one, choice())))[1]
    assert said.replace("from 00:00 Saturday to 06:00", "00:00–06:00") in body


@pytest.mark.parametrize(
    ("share", "said"), [(0.0, "under 5%"), (0.34, "35%"), (0.87, "85%"), (0.99, "over 95%")]
)
def test_no_chance_is_finer_than_five_percent(share: float, said: str) -> None:
    assert chance_words(share) == said


def test_a_gale() -> None:
    gale = finding(hazard=GALE, on=MeasuredOn.GUST, worst=18.2, limit=(10.0, 16.7), chance=0.6)
    body = told(advice(job(gale, choice(LEE))))[1]
    in_order(body, "Down on the ground", "Gale", "gusts at the bench 18 m/s", "limit 10 m/s")


def test_shade() -> None:
    scorch = finding(hazard=SCORCH, on=MeasuredOn.LEAF, worst=44.0, limit=(42, 47))
    title, body = told(advice(job(scorch, choice(HALF_SHADE))))
    assert title == "SHADE Ember by 20:00"
    in_order(
        body,
        "Half-shade cloth over, at the top bench: Ember",
        "Shade may come off 17:00 tomorrow.",
        "Leaf scorch: Ember, leaves 44.0 °C at 06:00 (limit 42.0 °C)",
        "chance 85%",
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
    assert title.startswith("OPEN the bag of Ember by ")
    in_order(body, "Open the bag, at the top", "Bag too hot", f"inside the bag {inside}", give)
    assert "nan" not in body
    assert "Back" not in body  # a bag is not shut again by a message


def test_water() -> None:
    dry = finding(hazard=DRY_POT, on=MeasuredOn.WATER, worst=0.08, limit=(0.15, 0.03))
    title, body = told(advice(job(dry, None), back_at=None))
    assert title.startswith("WATER Ember by ")
    in_order(body, "till it drains, at the top bench: Ember", "Ember, 10% of the water left", "85%")


@pytest.mark.parametrize(("hazard", "daily"), [(DRY_POT, True), (DRY_FREEZE, False)])
def test_a_pot_is_watered_daily_in_drought_and_once_before_a_frost(
    hazard: Hazard, daily: bool
) -> None:
    dry = finding(hazard=hazard, on=MeasuredOn.WATER, worst=0.1, limit=(0.3, float("-inf")))
    morrow = replace(dry, span=Stretch(NIGHT.end, NIGHT.end + DAY))
    twice = replace(job(dry, choice(WATER)), findings=(dry, morrow))
    body = told(advice(twice, back_at=None))[1]
    assert ("The same on the days after" in body) is daily


SEASON = Stretch(NIGHT.start, NIGHT.start + 30 * DAY)


def chill(**given: Any) -> Finding:
    usual = {"hazard": CHILL, "on": MeasuredOn.AIR, "worst": 9.0, "limit": (12.0, 5.0)}
    return finding(**{**usual, **given})


def test_a_tropical_goes_in_for_the_season() -> None:
    body = told(advice(job(chill(span=SEASON), None), back_at=None))[1]
    in_order(body, "Indoors for the cold", "Too cold for tropicals", "9.0 °C", "limit 12.0 °C")


def test_a_tropical_goes_in_for_one_summer_night() -> None:
    body = told(advice(job(chill(), None), back_at=None))[1]
    assert "Indoors, to a light place, from the top bench: Ember" in body
    assert "So on each cool night of the two weeks ahead; out again by day." in body
    assert "season" not in body


def test_glass_is_opened_on_each_sunny_day_of_two_weeks() -> None:
    scorch = finding(hazard=SCORCH, on=MeasuredOn.LEAF, worst=39.0, limit=(37.0, 42.0))
    body = told(advice(job(scorch, choice(OPEN_FRAME))))[1]
    assert "So on each sunny day of the two weeks ahead. Shut it before a night of frost." in body
    assert "may come off" not in body


def test_what_is_tied_down_stays_so_and_the_rest_goes_back() -> None:
    gale = finding(hazard=GALE, on=MeasuredOn.GUST, worst=18.0, limit=(14.0, 24.0))
    tied, carried = job(gale, choice(TIE)), job(replace(gale, tree="Heath"), choice(INTO_SPOT))
    title, alone = told(advice(tied))
    assert title.startswith("TIE DOWN Ember by ")
    assert "Back out" not in alone
    both = told(advice(tied, carried))[1]
    in_order(both, "Back out", "What is tied down may stay so.")


@pytest.mark.parametrize("span", [NIGHT, SEASON], ids=["night", "season"])
def test_a_tropical_with_no_place_warm_enough_reads_as_one_sentence(span: Stretch) -> None:
    """No place in the garden suffices, so it goes indoors. No half sentence on the shortfall is
    left."""
    weak = choice(spot="greenhouse", suffices=False, chance=0.9, measured_on=MeasuredOn.AIR)
    body = told(advice(job(chill(span=span), weak), back_at=None))[1]
    (line,) = [line for line in body.splitlines() if line.startswith("Indoors")]
    assert line.endswith("to a light place, from the top bench: Ember")
    assert "greenhouse" not in body
    assert "The best there is" not in body


def test_a_remedy_that_is_not_enough_says_so_and_what_is_left() -> None:
    weak = choice(FLEECE_1, suffices=False, chance=0.45)
    body = told(advice(job(finding(), weak)))[1]
    in_order(body, "of fleece", "The best there is: chance of harm still 45% for Ember.")
    enough = told(advice(job(finding(), choice(FLEECE_1))))[1]
    assert "The best there is" not in enough


def test_no_remedy_at_all_still_names_the_tree() -> None:
    body = told(advice(job(finding(), None)))[1]
    assert "No place here is enough: shelter as best you can, at the top bench: Ember" in body
    assert "overs off" not in body  # no cover was put on


def test_where_a_tree_stands_never_reads_as_where_it_goes() -> None:
    season = told(advice(job(chill(span=SEASON), None, "frame"), back_at=None))[1]
    assert "season, to a light place, from the frame: Ember\n" in season
    under = told(advice(job(finding(), choice(), "Under the bench")))[1]
    assert "Into the shed, from under the bench: Ember\n" in under
    stays = told(advice(job(finding(), choice(FLEECE_1), "Under the bench")))[1]
    assert "weighted, under the bench: Ember\n" in stays


def test_heavy_pots_ask_for_two_people() -> None:
    heavy = choice(two_people=True)
    body = told(advice(job(finding("Ember"), heavy), job(finding("Plume"), choice())))[1]
    in_order(
        body,
        "Into the shed, from the top bench: Plume",
        "Last, into the shed, from the top bench: Ember",
        "Two people for Ember: straight back, or leave it and cover it.",
        "By 20:00",
    )
    many = [job(finding(f"Goliath {n}"), heavy) for n in range(8)]
    body = told(advice(*many))[1]
    in_order(body, "Two people for Goliath 0, ", "Goliath 6 and Goliath 7: straight back")
    assert "Last" not in body


def test_a_heavy_pot_that_stays_is_not_lifted_last() -> None:
    stays = job(finding("Ember"), choice(STAY, two_people=True), "shed")
    body = told(advice(stays, job(finding("Plume"), choice(FLEECE_1))))[1]
    assert "Last" not in body
    assert "Two people for Ember" in body  # it may have to be brought back in


@pytest.mark.parametrize(
    ("ago", "words"), [(21, "3 weeks"), (14, "2 weeks"), (13, "13 days"), (1, "1 day")]
)
def test_the_work_that_makes_a_tree_tender_stands_by_its_name(ago: int, words: str) -> None:
    repot = Work(tree="Ember", at=NOW - ago * DAY, work=WorkKind.REPOT)
    fresh = job(finding(), choice(), work=repot)
    body = told(advice(fresh, job(finding("Plume"), choice())))[1]
    assert f"Frost on open leaves: Ember (repot {words} ago), leaves" in body


def test_nobody_there_in_time_is_said() -> None:
    body = told(advice(job(finding(), choice()), in_hand=False))[1]
    in_order(body, "Into the", "By your hours nobody is there before 20:00", "Frost on open leaves")


# Under cover already


def test_a_tree_under_cover_is_to_be_left_in() -> None:
    title, body = told(advice(job(finding(), choice(STAY), "shed")))
    assert title == "LEAVE IN Ember until 17:00 tomorrow"
    assert body.startswith("Leave in, or bring back in, at the shed: Ember\nBack out")


def test_what_stays_where_it_is_needs_nobody_there() -> None:
    body = told(advice(job(finding(), choice(STAY), "shed"), in_hand=False))[1]
    assert "Nobody" not in body


def test_leaving_in_is_only_said_when_it_holds_for_all() -> None:
    both = advice(job(finding("Ember"), choice(STAY), "shed"), job(finding("Plume"), choice()))
    assert told(both)[0] == "PROTECT 2 trees by 20:00: leave in 1, shed 1"


def test_how_long_a_tree_stays_in_is_not_promised_beyond_the_forecast() -> None:
    one = job(finding(strength=Strength.DANGER), choice(STAY), "shed")
    title = told(advice(one, open_ended=True))[0]
    assert title == "LEAVE IN Ember until at least 17:00 tomorrow (danger)"


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
    assert "leave them down. Back up 17:00 Thursday" in body
    covered = told(nights(GROUND_FLEECE_1))[1]
    assert "leave them down. Back up, and covers off 17:00 Thursday" in covered


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
    in_order(body, "leaves 25.9 °F", "limit 27.5 °F")
    assert "°C" not in body


def test_a_spot_reads_as_a_place_to_stand() -> None:
    assert [at_spot(spot) for spot in ("shed", "Under the bench")] == ["at shed", "Under the bench"]
    spots = ("shed", "Under the bench", "Long Table", "the shelf")
    assert [the_spot(spot) for spot in spots] == [
        "the shed",
        "under the bench",
        "Long Table",
        "the shelf",
    ]
    assert joined(["Ash", "Elm", "Yew"]) == "Ash, Elm and Yew"


# The title is the deed


@pytest.mark.parametrize(
    ("remedies", "hazard", "said"),
    [
        ((INTO_SPOT, INTO_SPOT), LEAF_FROST, "BRING 2 trees into the shed by 20:00"),
        ((FLEECE_1,) * 4, LEAF_FROST, "COVER 4 trees by 20:00"),
        ((GROUND, GROUND), LEAF_FROST, "SET 2 trees on the ground by 20:00"),
        ((GROUND_FLEECE_2,), LEAF_FROST, "SET DOWN AND COVER Tree 0 by 20:00"),
        ((SHUT_FRAME,) * 3, LEAF_FROST, "SHUT the cold frame over 3 trees by 20:00"),
        ((HALF_SHADE, FULL_SHADE), SCORCH, "SHADE 2 trees by 20:00"),
        ((OPEN_FRAME, HALF_SHADE), SCORCH, "SHADE 2 trees by 20:00: frame open 1, shade 1"),
        ((FULL_SHADE,), HOT_BAG, "SHADE the bag of Tree 0 by 20:00"),
        ((FULL_SHADE,) * 3, HOT_BAG, "SHADE the bags of 3 trees by 20:00"),
        ((SLIT_BAG,), HOT_BAG, "SLIT the bag of Tree 0 by 20:00"),
        ((BAG_AND[FULL_SHADE],), HOT_BAG, "OPEN AND SHADE the bag of Tree 0 by 20:00"),
        (
            (FULL_SHADE, OPEN_BAG, OPEN_BAG),
            HOT_BAG,
            "SEE TO the bags of 3 trees by 20:00: open 2, shade 1",
        ),
        ((WATER, WATER), DRY_POT, "WATER 2 trees by 20:00"),
        ((WATER_SHADE,), DRY_POT, "WATER AND SHADE Tree 0 by 20:00"),
        ((WET_MOSS,), DRY_MOSS, "WET THE MOSS of Tree 0 by 20:00"),
    ],
)
def test_the_title_says_the_deed(remedies: Sequence[Remedy], hazard: Any, said: str) -> None:
    kinds = {HOT_BAG: MeasuredOn.BAG, DRY_POT: MeasuredOn.WATER, DRY_MOSS: MeasuredOn.MOSS}
    on = kinds.get(hazard, MeasuredOn.LEAF)
    jobs = [
        job(finding(f"Tree {n}", hazard=hazard, on=on), choice(remedy))
        for n, remedy in enumerate(remedies)
    ]
    assert told(advice(*jobs))[0] == said


def test_a_spot_may_be_named_as_one_goes_there() -> None:
    under = advice(job(finding(), choice(spot="Under the bench")))
    assert told(under)[0] == "BRING Ember under the bench by 20:00"
    assert told(under)[1].startswith("Under the bench, from the top bench: Ember")


def test_more_places_than_a_lock_screen_shows_are_counted() -> None:
    spots = [f"the shed behind the oak number {n}" for n in range(9)]
    jobs = [job(finding(f"Tree {n}"), choice(spot=spot)) for n, spot in enumerate(spots)]
    assert told(advice(*jobs))[0] == "PROTECT 9 trees by 20:00: 9 ways"


def test_a_bag_that_stands_in_frost_is_opened_when_that_is_over() -> None:
    first = NOW.replace(hour=10, minute=0) + DAY
    hot = finding(
        hazard=HOT_BAG, on=MeasuredOn.BAG, worst=38.0, first_at=first, until_at=first + 4 * HOUR
    )
    later = choice(OPEN_BAG, measured_on=MeasuredOn.BAG, not_before=first - 2 * HOUR)
    title, body = told(advice(job(hot, later), do_by=first - 4 * HOUR, back_at=None))
    assert title == "OPEN the bag of Ember 10:00–12:00 tomorrow"
    assert "Open the bag (not before 10:00 tomorrow: frost till then), at the top" in body
    assert "If nobody is there then, shade the bag by 08:00 tomorrow instead." in body
    there = Stretch(first - HOUR, first - HOUR / 2)
    at_eleven = choice(
        OPEN_BAG, measured_on=MeasuredOn.BAG, not_before=first - 2 * HOUR, opened=there
    )
    title, body = told(advice(job(hot, at_eleven), do_by=first - 4 * HOUR, back_at=None))
    assert title == "OPEN the bag of Ember 11:00–11:30 tomorrow"
    assert "(not before 10:00 tomorrow: frost till then)" in body
    past = choice(OPEN_BAG, measured_on=MeasuredOn.BAG, not_before=first - 6 * HOUR)
    assert told(advice(job(hot, past), do_by=first - 4 * HOUR, back_at=None))[0].endswith(
        "by 08:00 tomorrow"
    )


# Every tree, bench by bench


def crowd(*names: str, spot: str = "shelf", helps: Any = None) -> list[Job]:
    return [job(finding(name), helps or choice(), spot) for name in names]


@pytest.mark.parametrize(
    ("others", "said"),
    [
        ((), "Into the shed: all of the shelf (5)\n"),
        (("Plum",), "Into the shed: all of the shelf but Plum (5)\n"),
        (("Plum", "Box"), "Into the shed: all of the shelf but Plum and Box (5)\n"),
        (("Plum", "Box", "Yew"), "(5), from the shelf: Ash, Elm, Oak, Pine, Larch\n"),
        (("A hawthorn as old as the hill",), "(5), from the shelf: Ash, Elm, Oak, Pine, Larch\n"),
    ],
)
def test_a_whole_bench_is_asked_for_as_one(others: Sequence[str], said: str) -> None:
    own = ("Ash", "Elm", "Oak", "Pine", "Larch")
    body = told(advice(*crowd(*own)), benches={"shelf": (*own, *others)})[1]
    assert said in body


def test_a_few_are_named_even_if_they_are_the_whole_bench() -> None:
    body = told(advice(*crowd("Ash", "Elm", "Oak")), benches={"shelf": ("Ash", "Elm", "Oak")})[1]
    assert "Into the shed (3), from the shelf: Ash, Elm, Oak\n" in body


def test_no_bench_is_whole_that_none_of_them_is_known_to_stand_on() -> None:
    own = ("Ash", "Elm", "Oak", "Pine", "Larch")
    body = told(advice(*crowd(*own)), benches={"shelf": own[:4], "shed": own[4:]})[1]
    assert "from the shelf: Ash, Elm, Oak, Pine, Larch\n" in body


def test_one_walks_past_each_bench_once() -> None:
    jobs = [
        *crowd("Ash", spot="back row"),
        *crowd("Elm", spot="shelf", helps=choice(FLEECE_1)),
        *crowd("Oak", spot="shelf"),
        *crowd("Yew", spot="back row", helps=choice(two_people=True)),
    ]
    benches = {"shelf": ("Elm", "Oak"), "back row": ("Ash", "Yew"), "shed": ()}
    body = told(advice(*jobs), benches=benches)[1]
    in_order(body, "Into the shed (2):\n• from the shelf: Oak\n• from the back row: Ash\n", "Cover")
    in_order(body, "Cover", "at the shelf: Elm\n", "Last, into the shed, from the back row: Yew\n")
