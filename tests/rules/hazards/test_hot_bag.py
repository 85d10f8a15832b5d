"""When a bag may be opened: not in the frost of the morning."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from underbench.rules.hazards.hot_bag import frost_ends

MIDNIGHT = datetime(2027, 3, 5, tzinfo=UTC)
HOUR = timedelta(hours=1)
TIMES = int(MIDNIGHT.timestamp()) + 3600 * np.arange(1, 25)
MORNING = np.where(np.arange(1, 25) <= 9, -3.0, 6.0)  # °C; frost until nine


@pytest.mark.parametrize(
    ("members", "since", "until", "ends"),
    [
        ([MORNING] * 10, 8, 12, 9),
        ([MORNING] * 10, 10, 12, None),  # told later, when the frost is over
        ([MORNING + 12.0] * 10, 8, 12, None),
        ([MORNING - 12.0] * 10, 8, 12, 12),  # it lasts all day
        ([MORNING, *[MORNING + 12.0] * 9], 8, 12, 9),  # one weather in ten
        ([MORNING, *[MORNING + 12.0] * 19], 8, 12, None),  # one in twenty
    ],
)
def test_the_frost_of_the_morning_ends(
    members: list[np.ndarray], since: int, until: int, ends: int | None
) -> None:
    found = frost_ends(np.array(members), TIMES, MIDNIGHT + since * HOUR, MIDNIGHT + until * HOUR)
    assert found == (None if ends is None else MIDNIGHT + ends * HOUR)
