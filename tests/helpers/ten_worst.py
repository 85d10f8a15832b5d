"""The ten situations that are hardest to say on a phone, each as the messages it brings.

    PYTHONPATH=tests/helpers .venv/bin/python tests/helpers/ten_worst.py   # writes them anew

into ``tests/daemon/alerts/ten_worst.txt``, to be read as a grower would. All of it is invented.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
from bare_advice import DAY, HOUR, NOW, ZONE, advice, choice, finding, job
from pydantic import SecretStr

from underbench.daemon.alerts.compose import Speaker, Told
from underbench.daemon.config.people_tables import Telling
from underbench.daemon.outlook.outlook import Outlook
from underbench.rules.advice.advice import Advice, Job
from underbench.rules.advice.remedy import (
    FLEECE_2,
    FULL_SHADE,
    GROUND,
    GROUND_FLEECE_2,
    LEE,
    OPEN_BAG,
)
from underbench.rules.garden.inventory import Away, HandsOn, StandIn
from underbench.rules.garden.journal import Work
from underbench.rules.garden.local_time import Stretch
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards import GALE, HOT_BAG, ROOT_FROST
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.limits.limit import MeasuredOn

WRITTEN = Path(__file__).parents[1] / "daemon" / "alerts" / "ten_worst.txt"
LOCK_SCREEN = 120  # characters
WALK = ("top bench", "shelf", "back row", "Long Table", "shed", "cold frame")
DEADLY = {"strength": Strength.DANGER, "kill_chance": 0.43}
LONG_NAME = "Old Weatherbeaten Hawthorn from the Quarry behind the Church"  # 60 characters
# A service that takes 4,000 characters, and one that takes 1,024.
LONG, SHORT = "ntfy://invented-topic", "pover://invented@invented"

ALWAYS: dict[str, Any] = {"weekdays": (), "weekends": ()}


@dataclass(frozen=True)
class Situation:
    """One situation, as told."""

    name: str
    advice: Advice
    benches: Mapping[str, Sequence[str]]
    told: Sequence[Told]

    @property
    def text(self) -> str:
        """The situation as it is read on a phone."""
        messages = (_shown(one) for one in self.told)
        return f"=== {self.name}\n\n" + "\n\n".join(messages)


def _shown(one: Told) -> str:
    whole = f"{one.message.title}\n{one.message.body}"
    lock = whole.replace("\n", " ")[:LOCK_SCREEN]
    return f"[lock screen] {lock}\n\n{whole}"


def telling_of(url: str) -> Telling:
    """Return how a keeper with one push service is told."""
    return Telling(urls=(SecretStr(url),))


def spoken(
    name: str,
    one: Advice,
    others: Mapping[str, str] | None = None,
    *,
    folder: Path = Path("/nonexistent"),
    **given: Any,
) -> Situation:
    """Return an advice as told. ``others``: trees that stand beside those of the advice, with
    their spots."""
    spots = {job.tree: job.spot for job in one.jobs} | dict(others or {})
    settings = SimpleNamespace(
        garden=SimpleNamespace(timezone=ZONE, name="Reed End"),
        units="metric",
        spots=dict.fromkeys(WALK),
        page=SimpleNamespace(address=None),
        telling=telling_of(LONG),
        stand_in_urls={},
        store_path=folder / "garden.db",
        hands_on=HandsOn(**ALWAYS),
    )
    for key, value in given.items():
        setattr(settings, key, value)
    trees = [
        SimpleNamespace(tree=SimpleNamespace(name=tree), spot=spot, lost=False)
        for tree, spot in spots.items()
    ]
    nothing: dict[str, Any] = dict.fromkeys(Outlook.__slots__)
    outlook = Outlook(
        **nothing
        | {
            "now": given.get("now", NOW),
            "settings": settings,
            "standing": tuple(trees),
            "course": SimpleNamespace(times=np.array([])),  # no hours: no chart
            "supplied": SimpleNamespace(
                changed_at=given.get("now", NOW) - HOUR,
                attribution="Weather data by Open-Meteo.com, CC BY 4.0",
                doubt="",
            ),
        }
    )
    benches: dict[str, list[str]] = {}
    for tree, spot in spots.items():
        benches.setdefault(spot, []).append(tree)
    return Situation(name, one, benches, Speaker(outlook).advice(one))


NAMES = (
    *("Ember", "Plume", "Lane", "Rook", "Wren", "Spark", "Heath", "Thorn", "Ash", "Elm", "Yew"),
    *("Box", "Plum", "Larch", "Hazel", "Rowan", "Alder", "Holly", "Birch", "Oak", "Beech"),
    *("Juniper", "Cedar", "Pine", "Maple", "Quince", "Apple", "Olive", "Fig", "Myrtle", "Sloe"),
    *("Willow", "Argo"),
)


def winter(tree: str, **given: Any) -> Finding:
    """Frost in the root ball in a hard night."""
    return finding(
        tree,
        **{"hazard": ROOT_FROST, "on": MeasuredOn.SHELL, "worst": -11.7, "limit": (-3.0, -7.0)}
        | DEADLY
        | given,
    )


def thirty_three() -> Situation:
    """Thirty-three trees on four benches, one heavy, in a night of −12 °C."""
    jobs = []
    for n, tree in enumerate(NAMES):
        spot = WALK[min(n // 9, 3)]
        helps = choice() if n % 9 < 6 else choice(GROUND_FLEECE_2, suffices=n % 2 == 0, chance=0.34)
        if tree == "Argo":
            helps = choice(two_people=True)
        jobs.append(job(winter(tree), helps, spot))
    return spoken("33 trees on four benches, one heavy", advice(*jobs, **DEADLY_BY))


DEADLY_BY: dict[str, Any] = {"do_by": datetime(2024, 4, 23, 17, 58, tzinfo=UTC)}


def spell() -> Situation:
    """Five cold nights, and room for only six."""
    jobs: list[Job] = []
    for n, tree in enumerate(NAMES[:12]):
        first = finding(tree, worst=-3.0 - n / 10, **DEADLY)
        nights = tuple(
            replace(
                first,
                span=Stretch(first.span.start + k * DAY, first.span.end + k * DAY),
                first_at=first.first_at + k * DAY,
                until_at=first.until_at + k * DAY,
                worst_at=first.worst_at + k * DAY,
                worst=first.worst - k,
            )
            for k in (3, 0, 1, 2, 4)
        )
        helps = choice() if n < 6 else choice(FLEECE_2, suffices=False, chance=0.62)
        jobs.append(Job(tree, WALK[n // 6], nights, helps))
    back = {"back_at": datetime(2024, 4, 28, 7, tzinfo=UTC), "open_ended": True}
    one = advice(*jobs, **back)
    return spoken("a spell of five nights, the shed too small", one, {"Sloe": "top bench"})


def bag_and_frost() -> Situation:
    """A bag that gets too hot on Friday, a day that begins with frost."""
    friday = datetime(2024, 4, 26, tzinfo=UTC)
    hot = finding(
        "Rook",
        hazard=HOT_BAG,
        on=MeasuredOn.BAG,
        worst=38.0,
        limit=(28, 35),
        first_at=friday + 10 * HOUR,
        worst_at=friday + 12 * HOUR,
        until_at=friday + 14 * HOUR,
        span=Stretch(friday, friday + 7 * DAY),
    )
    opened = choice(OPEN_BAG, measured_on=MeasuredOn.BAG, not_before=friday + 8 * HOUR)
    one = advice(job(hot, opened), do_by=friday + 6 * HOUR, back_at=None)
    return spoken("a bag, and frost that morning", one)


def bag_in_frost_all_day() -> Situation:
    """The same where the frost does not end before the bag is too hot: shade alone."""
    friday = datetime(2024, 4, 26, tzinfo=UTC)
    hot = finding(
        "Rook",
        hazard=HOT_BAG,
        on=MeasuredOn.BAG,
        worst=38.0,
        limit=(28, 35),
        first_at=friday + 10 * HOUR,
        worst_at=friday + 12 * HOUR,
        until_at=friday + 14 * HOUR,
    )
    shaded = choice(FULL_SHADE, measured_on=MeasuredOn.BAG)
    one = advice(job(hot, shaded), do_by=friday + 7.5 * HOUR, back_at=None)
    return spoken("a bag, and frost all day", one)


def gale_and_frost() -> Situation:
    """A gale, and a frost behind it: fleece would blow off."""
    gale = {"hazard": GALE, "on": MeasuredOn.GUST, "worst": 18.2, "limit": (10.0, 16.7)}
    jobs = [
        job(finding("Ember", **DEADLY), choice()),
        job(finding("Plume"), choice()),
        job(finding("Heath", **gale), choice(LEE), "back row"),
        job(finding("Lane", **gale), choice(LEE), "back row"),
    ]
    return spoken("a gale and a frost", advice(*jobs))


def stand_in() -> Situation:
    """Danger while the keeper is away."""
    away = Away(first=date(2024, 4, 20), last=date(2024, 4, 30))
    ilse = StandIn(name="Ilse", days=(away,), **ALWAYS)
    work = Work(tree="Ember", at=NOW - 21 * DAY, work=WorkKind.REPOT)
    jobs = [
        job(finding("Ember", **DEADLY), choice(), work=work),
        job(finding("Plume"), choice(FLEECE_2), "back row"),
    ]
    return spoken(
        "an absence with a stand-in",
        advice(*jobs),
        {"Box": "back row"},
        hands_on=HandsOn(stand_ins=(ilse,), **ALWAYS),
        page=SimpleNamespace(address="http://garden.example:8080"),
    )


def in_three() -> Situation:
    """Sixty trees with long names, told by a service that takes 1,024 characters."""
    jobs = [
        job(
            finding(f"Old Weatherbeaten {n}", **DEADLY),
            choice() if n % 3 else choice(GROUND, two_people=n % 10 == 0),
            WALK[n // 15],
        )
        for n in range(60)
    ]
    return spoken(
        "sixty trees, in parts of 1,024 characters", advice(*jobs), telling=telling_of(SHORT)
    )


def fahrenheit() -> Situation:
    """Degrees Fahrenheit, miles an hour, a clock of twelve hours."""
    gale = {"hazard": GALE, "on": MeasuredOn.GUST, "worst": 18.2, "limit": (10.0, 16.7)}
    jobs = [job(finding("Ember", **DEADLY), choice()), job(finding("Heath", **gale), choice(LEE))]
    return spoken("°F and mph", advice(*jobs), units="us")


def long_name() -> Situation:
    """A name of sixty characters."""
    return spoken("a name of 60 characters", advice(job(finding(LONG_NAME, **DEADLY), choice())))


def two_gardens(folder: Path) -> Situation:
    """A garden whose keeper has another one. ``folder`` has the databases of both."""
    one = advice(job(finding("Ember"), choice()), job(finding("Plume"), choice()))
    return spoken("two gardens on one phone", one, folder=folder)


def three_in_the_morning() -> Situation:
    """Danger that nobody foresaw, at three in the morning."""
    now = datetime(2024, 4, 24, 1, 5, tzinfo=UTC)
    deadly = finding("Ember", **DEADLY, first_at=now + HOUR)
    one = advice(job(deadly, choice()), do_by=now, in_hand=False)
    return spoken("danger at 3 a.m.", one, now=now)


def all_ten(folder: Path) -> list[Situation]:
    """Return all, ``folder`` being one with the databases of two gardens."""
    return [
        thirty_three(),
        spell(),
        bag_and_frost(),
        bag_in_frost_all_day(),
        gale_and_frost(),
        stand_in(),
        in_three(),
        fahrenheit(),
        long_name(),
        two_gardens(folder),
        three_in_the_morning(),
    ]


def neighbours(folder: Path) -> Path:
    """Make in ``folder`` the databases of two gardens, and return the folder."""
    for name in ("garden.db", "other-0123abcd.db"):
        (folder / name).touch()
    return folder


if __name__ == "__main__":
    from tempfile import TemporaryDirectory

    with TemporaryDirectory() as made:
        texts = [one.text for one in all_ten(neighbours(Path(made)))]
    WRITTEN.write_text("\n\n\n".join(texts) + "\n", encoding="utf-8")
