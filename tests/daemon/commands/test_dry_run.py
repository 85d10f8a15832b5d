"""Looking keeps nothing: neither a forecast nor a service's "ask again later"."""

from __future__ import annotations

from datetime import timedelta

from commanding import EVENING, Garden, stamp
from openmeteo_service import Query, Reply

from underbench.daemon.store.store import Store
from underbench.daemon.weather.openmeteo import NAME

DAY, HOUR = timedelta(days=1), timedelta(hours=1)
SPENT = Reply(
    b'{"error":true,"reason":"Daily API request limit exceeded. Please try again tomorrow."}', 429
)


def refusing(_query: Query) -> Reply:
    return SPENT


def rows(garden: Garden) -> dict[str, list[object]]:
    with Store.open(garden.database) as store:
        tables = sorted(store.db.table_names())
        return {table: list(store.db.query(f"SELECT * FROM {table}")) for table in tables}


def test_a_dry_run_keeps_nothing_at_all(garden: Garden) -> None:
    garden.note()
    before = rows(garden)
    garden.seen_at()
    assert rows(garden) == before
    garden.service.answer = refusing
    assert garden.do("once", "--dry-run", "--at", stamp(EVENING)).exit_code == 2
    assert rows(garden) == before


def test_a_dry_run_makes_no_database_either(garden: Garden) -> None:
    seen = garden.seen_at()
    assert seen["told"]
    assert not garden.database.exists()


def test_a_service_that_refuses_a_later_moment_is_asked_at_its_time(garden: Garden) -> None:
    """Otherwise "ask again tomorrow" would be kept, and block asking on that later day."""
    garden.note()
    assert garden.do("once", "--at", stamp(EVENING - DAY)).exit_code == 0
    for command in (["once", "--dry-run"], ["ahead"], ["why", "Ember"]):
        garden.service.answer = refusing
        garden.do(*command, "--at", stamp(EVENING))
        with Store.open(garden.database) as store:
            assert store.answers.standing(NAME).ask_at is None
    garden.service.answer = garden.service.good
    garden.service.asked.clear()
    assert garden.do("once", "--at", stamp(EVENING + HOUR)).exit_code == 0
    assert garden.service.asked
