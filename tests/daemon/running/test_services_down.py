"""A push service is down for more than a day. A message sent once a season is sent afterwards."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from receiving import Receiver, receiving
from ticking import GARDEN, Sky

from underbench.daemon.config.settings import load
from underbench.daemon.delivery.outbox import Services
from underbench.daemon.running.scheduler import tick
from underbench.daemon.store.store import Store
from underbench.daemon.weather.supply import Supply

NOW = datetime(2024, 9, 20, 12, 5, tzinfo=UTC)
HOUR = timedelta(hours=1)
FIG = """
[[tree]]
name = "Fig"
species = "Ficus microcarpa"
litres = 3
spot = "top bench"
"""


@pytest.fixture
def phone() -> Iterator[Receiver]:
    with receiving() as server:
        yield server


def test_too_cold_for_tropicals_is_said_after_26_hours_without_a_service(
    tmp_path: Path, make: Any, phone: Receiver
) -> None:
    config = tmp_path / "garden.toml"
    config.write_text(GARDEN + FIG, encoding="utf-8")
    settings = load(config, {"UNDERBENCH_STORE__PATH": "underbench.db"})
    mean_c = np.array([16.0] * 9 + [10.5] * 20).repeat(24)  # it turns cool on the 19th, for good
    midnight = NOW.replace(hour=0, minute=0)
    weather = make.weather(midnight - 240 * HOUR, 24 * 29, mean_c=mean_c, swing_k=2.0)
    services = Services([phone.url("/phone")])
    with Store.open(settings.store_path) as store:
        supply = Supply(Sky(weather), settings.garden, store.answers)

        def ticks(first: int, last: int) -> None:
            for hours in range(first, last, 5):
                tick(settings, store, supply, services, NOW + hours * HOUR)

        phone.refusing = {"/phone"}
        ticks(0, 26)
        (row,) = [row for row in store.episodes.since(NOW) if row.tree == "Fig"]
        assert row.told_at is not None
        assert row.told_at > NOW + 20 * HOUR  # again, and anew
        tried = len(phone.got)
        phone.refusing = set()
        ticks(26, 32)
    heard = [(body["title"], body["message"]) for _, body in phone.got[tried:]]
    advice = [title for title, body in heard if "Too cold for tropicals" in body]
    missed = [(title, body) for title, body in heard if title.startswith("MISSED")]
    assert len(advice) == 1
    ((title, body),) = missed
    assert title == "MISSED: 1 message reached no phone"
    assert body.splitlines()[1].startswith("Fri 14:05: BRING Fig indoors for the season by")
    assert body.splitlines()[1].endswith(": Fig")
    assert len(heard) == 2
