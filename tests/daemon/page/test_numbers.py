"""Numbers typed on a phone, with a comma or a point. None is read as a thousandth of what was
meant."""

from __future__ import annotations

import pytest

from underbench.daemon.page.context import with_point


@pytest.mark.parametrize(
    ("typed", "read"),
    [("2,5", 2.5), ("2.5", 2.5), ("12", 12.0), ("0,75", 0.75), ("1200,5", 1200.5), ("-1,5", -1.5)],
)
def test_a_decimal_comma_is_a_point(typed: str, read: float) -> None:
    assert float(with_point(typed)) == read


@pytest.mark.parametrize("typed", ["1,200", "12,000", "1,200,000", "1,200.5"])
def test_what_may_be_thousands_is_no_number(typed: str) -> None:
    with pytest.raises(ValueError, match=typed):
        float(with_point(typed))
