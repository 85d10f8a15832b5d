"""A tree's own nights move its limit: slowly, not far, and only where they speak against it.

What is known without the code: with no nights the limit is the species'; a night fine below it, or
damaged above it, moves it that way and the other way never.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from underbench.rules.limits.borne import AGAINST, MOST_K, STEP_K, Noted, borne_c, proposed_c

FIGURE_C = -2.5
NIGHTS = st.lists(
    st.builds(Noted, st.floats(-12.0, 6.0, allow_nan=False), st.booleans()), max_size=20
)


def hurt(felt_c: float) -> Noted:
    return Noted(felt_c, damaged=True)


def fine(felt_c: float) -> Noted:
    return Noted(felt_c, damaged=False)


def test_without_nights_the_limit_is_the_species() -> None:
    assert borne_c(FIGURE_C, []) == pytest.approx(FIGURE_C)
    assert proposed_c(FIGURE_C, FIGURE_C, []) is None


@pytest.mark.parametrize(
    ("nights", "moved_k"),
    [
        ([hurt(-1.0)], None),  # one night alone moves nothing
        ([hurt(-1.0)] * 2, 0.5),
        ([hurt(0.0)] * 5, 0.5),  # no further at once
        ([fine(-4.0)] * 2, -0.5),
        ([fine(-6.0)] * 6, -0.5),
        ([fine(-1.0)] * 9, None),  # as it should be
        ([hurt(-4.0)] * 9, None),
        ([hurt(-2.0), fine(-3.0), hurt(-2.0), fine(-3.0)], None),  # it is about right
    ],
)
def test_nights_that_speak_against_a_limit_move_it(
    nights: list[Noted], moved_k: float | None
) -> None:
    to = proposed_c(FIGURE_C, FIGURE_C, nights)
    assert to == (None if moved_k is None else FIGURE_C + moved_k)


def test_a_limit_comes_as_far_as_its_nights_take_it_and_stays_there() -> None:
    nights, at = [hurt(-1.0)] * 12, FIGURE_C
    steps = []
    while (to := proposed_c(FIGURE_C, at, nights)) is not None:
        steps.append(to - at)
        at = to
    assert steps == [STEP_K] * len(steps)
    assert 1 < len(steps) <= MOST_K / STEP_K
    assert FIGURE_C < at <= FIGURE_C + MOST_K


@given(NIGHTS, st.floats(-4.5, -0.5))
def test_it_is_bounded_and_never_moves_without_cause(nights: list[Noted], now_c: float) -> None:
    assert abs(borne_c(FIGURE_C, nights) - FIGURE_C) <= MOST_K
    to = proposed_c(FIGURE_C, now_c, nights)
    if to is not None:
        assert abs(to - now_c) == pytest.approx(STEP_K)
        assert sum(night.against(now_c) for night in nights) >= AGAINST


@given(NIGHTS, st.floats(-6.0, 2.0))
def test_one_more_damage_never_makes_it_hardier_nor_one_more_fine_tenderer(
    nights: list[Noted], felt_c: float
) -> None:
    before = borne_c(FIGURE_C, nights)
    assert borne_c(FIGURE_C, [*nights, hurt(felt_c)]) >= before - 1e-9
    assert borne_c(FIGURE_C, [*nights, fine(felt_c)]) <= before + 1e-9
