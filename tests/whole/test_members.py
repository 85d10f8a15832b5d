"""Every command that looks ahead runs on as many members as an ensemble has."""

from __future__ import annotations

import pytest
from commanding import DAY, EVENING, Garden, stamp
from ensemble_service import WithEnsemble, hours_of

from underbench.rules.weather.hourly import Weather

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
def test_a_command_runs_on_any_number_of_members(
    garden: Garden, spring: Weather, count: int
) -> None:
    """Recorded services send 21 (GEFS in part), 40, 51 (ECMWF) and 91 (two models); a single run
    is no ensemble, and twenty members are made of the forecast."""
    text = garden.config.read_text(encoding="utf-8")
    url = f'base_url = "{garden.server.url}"\n'
    garden.config.write_text(text.replace(url, f'{url}ensemble_url = "{garden.server.url}"\n'))
    week = hours_of(spring, EVENING.replace(hour=0, minute=0) - DAY, 8 * 24)
    service = WithEnsemble(garden.service, week, count)
    seen = garden.seen_at()["chance_from"]
    assert seen["weathers"] == (20 if count == 1 else count)
    for words in LOOKS_AHEAD:
        done = garden.do(*words, "--at", stamp(EVENING))
        assert done.exit_code == 0, (words, done.output)
    assert service.asked
