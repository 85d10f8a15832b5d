"""Every command that looks ahead runs on as many members as an ensemble has."""

from __future__ import annotations

from datetime import timedelta

import pytest
from commanding import EVENING, Garden, stamp

HOUR = timedelta(hours=1)
LOOKS_AHEAD = (
    ("today",),
    ("ahead",),
    ("why", "Ember"),
    ("feels", "Ember"),
    ("windows", "repot"),
    ("whatif", "did", "repot", "Ember"),
    ("winter",),
    ("follow-ups",),
)


@pytest.mark.parametrize("count", [1, 21, 51, 91])
def test_a_command_runs_on_any_number_of_members(garden: Garden, count: int) -> None:
    """Recorded services send 21 (GEFS in part), 40, 51 (ECMWF) and 91 (two models). A single run is
    no ensemble, so twenty members are made from the forecast."""
    garden.service.members = count
    assert garden.do("once", "--at", stamp(EVENING - HOUR)).exit_code == 0  # the rest starts there
    seen = garden.seen_at()["chance_from"]
    assert seen["weathers"] == (20 if count == 1 else count)
    for words in LOOKS_AHEAD:
        done = garden.do(*words, "--at", stamp(EVENING))
        assert done.exit_code == 0, (words, done.output)
    assert garden.service.asked_members
