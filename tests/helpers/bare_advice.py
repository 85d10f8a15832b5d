"""Advice of bare values: findings, remedies and jobs with no weather and no physics behind them."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

from underbench.daemon.wording.units import Units
from underbench.daemon.wording.vocabulary import Made, Teller
from underbench.rules.advice.advice import Advice, Job
from underbench.rules.advice.remedies import Choice, Way
from underbench.rules.advice.remedy import INTO_SPOT, STAY, Remedy
from underbench.rules.garden.inventory import Standing
from underbench.rules.garden.local_time import Stretch
from underbench.rules.hazards import LEAF_FROST
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.limits.limit import Layer, Limit, MeasuredOn
from underbench.rules.physics.places import Place

ZONE = "Europe/Ljubljana"  # two hours ahead of UTC in April
NOW = datetime(2024, 4, 23, 15, 10, tzinfo=UTC)  # a Tuesday
MADE = Made(NOW - timedelta(minutes=60), "Weather data by Open-Meteo.com, CC BY 4.0")
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
NIGHT = Stretch(NOW.replace(hour=10, minute=0), NOW.replace(hour=10, minute=0) + DAY)
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
    frost = {name: given.pop(name, None) for name in ("not_before", "opened")}
    way = Way(remedy, OPEN, into, indoors=into is not None, **frost)
    return Choice(way, **{**usual, **given})


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


def teller(units: Any = "metric") -> Teller:
    """A teller by the clock of an invented garden."""
    return Teller(ZONE, Units(units))
