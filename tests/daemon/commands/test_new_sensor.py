"""``underbench reading --new-sensor``: what a thermometer taught is forgotten, and only that."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from commanding import Garden, fails

from underbench.daemon.outlook.members import learned_of
from underbench.daemon.store.store import Store
from underbench.rules.weather.learned import Learned, Pair, learn, to_text

NOW = datetime.now(UTC).replace(microsecond=0)


@pytest.fixture
def taught(garden: Garden) -> Garden:
    """A garden whose screen and top bench have taught for five nights."""
    learned = Learned()
    for night in range(5):
        at_s = int((NOW - timedelta(days=9 - night)).timestamp())
        pairs = [Pair(at_s, spot, 24.0, 2.0, 0.0) for spot in (None, "top bench")]
        learned = learn(learned, pairs)
    with Store.open(garden.database) as store:
        store.learning.keep(to_text(learned), NOW - timedelta(days=3))
    return garden


@pytest.mark.parametrize(
    ("place", "left", "words"),
    [
        ("Top bench", [None], "at top bench"),
        ("garden", ["top bench"], "of the garden"),
    ],
)
def test_what_it_taught_is_forgotten(
    taught: Garden, place: str, left: list[str | None], words: str
) -> None:
    done = taught.do("reading", "--new-sensor", place)
    assert done.exit_code == 0, done.output
    assert f"Forgotten: what the thermometer {words} taught in 5 nights." in done.stdout
    with Store.open(taught.database) as store:
        assert list(learned_of(store).places) == left
        kept = store.learning.learned()
    # The running night may hold readings of both thermometers.
    assert kept is not None
    assert kept[1] >= NOW


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--new-sensor", "top bensch"), "did you mean"),
        (("--new-sensor", "garden"), "nothing was learned yet"),
        (("--new-sensor", "garden", "3", "air"), "stands alone"),
        (("--new-sensor", "garden", "--on", "2024-04-20"), "stands alone"),
        (("3",), "expected VALUE and QUANTITY"),
    ],
)
def test_what_cannot_be_meant_is_one_line(
    garden: Garden, words: tuple[str, ...], said: str
) -> None:
    fails(garden.do("reading", *words), said)
