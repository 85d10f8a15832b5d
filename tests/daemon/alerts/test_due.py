"""What is told at one moment, on real findings of the demo's cold Thursday evening."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from underbench.daemon.alerts.due import due_advice
from underbench.daemon.alerts.episodes import carry_on
from underbench.daemon.alerts.hourly_pass import run_pass
from underbench.daemon.demo.demo import demo_plan
from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.rehearsal.replay import Hindsight
from underbench.daemon.store.episodes import TOLD, EpisodeRow, Key, key_of
from underbench.daemon.store.store import Store
from underbench.rules.advice.advice import advise
from underbench.rules.advice.deadlines import do_by
from underbench.rules.garden.local_time import Stretch
from underbench.rules.hazards import DRY_POT, LEAF_FROST
from underbench.rules.hazards.findings import Finding, Strength

EVENING = datetime(2026, 4, 23, 16, tzinfo=UTC)  # 18:00 by the garden's clock
FRIDAY_NIGHT = datetime(2026, 4, 24, 10, tzinfo=UTC)


@pytest.fixture(scope="module")
def outlook(tmp_path_factory: pytest.TempPathFactory) -> Outlook:
    planned = demo_plan()
    with Store.open(tmp_path_factory.mktemp("due") / "due.db") as store:
        store.journal.add(planned.journal.entries)
        supply = Hindsight(planned.series)
        return run_pass(planned.settings, store, supply, EVENING, dry_run=True).outlook


@pytest.fixture(scope="module")
def frost(outlook: Outlook) -> list[Finding]:
    """Two nights of frost on three maples. The second night is made to ask for action too."""
    trees = ("Braise", "Plume", "Torrent")
    found = [f for f in outlook.findings if f.hazard is LEAF_FROST and f.tree in trees]
    assert len({f.span.start for f in found}) == 2
    return [replace(f, strength=Strength.ACT) for f in found]


def told_of(
    findings: Iterable[Finding], told: Iterable[Finding], do_by: datetime
) -> dict[Key, EpisodeRow]:
    findings = list(findings)
    rows = carry_on([], findings, {f.key: do_by for f in findings}, {}, EVENING)
    heard = {finding.key: finding for finding in told}
    both_nights = any(is_second_night(finding) for finding in heard.values())
    return {
        key_of(row): _told(row, heard.get(key_of(row)), both_nights=both_nights) for row in rows
    }


def _told(row: EpisodeRow, finding: Finding | None, *, both_nights: bool) -> EpisodeRow:
    if finding is None:
        return row
    return replace(
        row,
        state=TOLD,
        told_at=EVENING - timedelta(hours=1),
        told_strength=row.strength,
        told_do_by=row.do_by,
        back_at=FRIDAY_NIGHT + timedelta(hours=22) if both_nights else row.span_end,
    )


def due_trees(
    outlook: Outlook, frost: list[Finding], told: list[Finding], now: datetime
) -> set[str]:
    """The trees told at ``now`` if every deadline is then."""
    moment = replace(outlook, findings=tuple(frost), now=now)
    due = due_advice(moment, told_of(frost, told, now + timedelta(hours=2)), {})
    return {job.tree for advice in due for job in advice.jobs}


def is_second_night(finding: Finding) -> bool:
    return finding.span.start == FRIDAY_NIGHT


def test_a_tree_told_to_stay_in_for_the_run_is_not_told_again(
    outlook: Outlook, frost: list[Finding]
) -> None:
    late = [f for f in frost if is_second_night(f) and f.tree == "Plume"]
    assert due_trees(outlook, frost, [f for f in frost if f not in late], EVENING) == set()


def test_a_second_night_nobody_spoke_of_is_told(outlook: Outlook, frost: list[Finding]) -> None:
    first = [f for f in frost if not is_second_night(f)]
    assert "Plume" in due_trees(outlook, frost, first, EVENING)


def test_a_second_night_that_threatens_to_kill_is_told(
    outlook: Outlook, frost: list[Finding]
) -> None:
    late = [f for f in frost if is_second_night(f) and f.tree == "Plume"]
    others = [f for f in frost if f not in late]
    worse = [*others, *(replace(f, strength=Strength.DANGER) for f in late)]
    assert due_trees(outlook, worse, others, EVENING) == {"Plume"}


def test_what_only_asks_to_act_wakes_nobody(outlook: Outlook, frost: list[Finding]) -> None:
    night, morning = EVENING + timedelta(hours=9), EVENING + timedelta(hours=13)
    assert due_trees(outlook, frost, [], night) == set()
    assert due_trees(outlook, frost, [], morning) == {"Braise", "Plume", "Torrent"}
    deadly = [replace(f, strength=Strength.DANGER) for f in frost]
    assert due_trees(outlook, deadly, [], night) == {"Braise", "Plume", "Torrent"}


def dry_on_sunday(frost: list[Finding]) -> Finding:
    start = datetime(2026, 4, 25, 22, tzinfo=UTC)
    return replace(
        frost[0],
        hazard=DRY_POT,
        span=Stretch(start, start + timedelta(days=1)),
        first_at=start + timedelta(hours=17),
    )


def test_water_given_the_evening_before_does_not_save_a_pot_of_a_day_away(
    outlook: Outlook, frost: list[Finding]
) -> None:
    dry, settings = dry_on_sunday(frost), outlook.settings
    assert do_by(dry, settings.garden, settings.hands_on, EVENING) == (dry.first_at, False)
    at_home = settings.hands_on.model_copy(update={"away": ()})
    assert do_by(dry, settings.garden, at_home, EVENING)[1]


def test_a_run_of_nights_is_told_by_its_worst(outlook: Outlook, frost: list[Finding]) -> None:
    run = [replace(f, strength=Strength.DANGER) if is_second_night(f) else f for f in frost]
    spots = {finding.tree: "bench" for finding in run}
    settings = outlook.settings
    advice = advise(run, spots, {}, settings.garden, settings.hands_on, EVENING)
    assert advice.strength is Strength.DANGER
    assert is_second_night(advice.lead)
