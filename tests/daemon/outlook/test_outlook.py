"""What an outlook holds of trees away from home."""

from __future__ import annotations

from dataclasses import replace

import pytest
from bare_outlook import found

from underbench.daemon.outlook.outlook import graver
from underbench.rules.hazards.findings import Finding, Strength

NOTICE, ACT, DANGER = (found(strength=one) for one in Strength)
OTHER = found("Heath")


@pytest.mark.parametrize(
    ("there", "home", "kept"),
    [
        ([NOTICE], [DANGER], ([], [DANGER])),  # a fleece that holds, and frost outside it
        ([NOTICE], [replace(NOTICE, chance=0.2)], ([NOTICE], [])),
        ([ACT], [DANGER], ([ACT], [])),  # the tree is in danger where it stands
        ([OTHER], [ACT], ([OTHER], [ACT])),
    ],
)
def test_a_notice_where_a_tree_stands_hides_no_danger_at_home(
    there: list[Finding], home: list[Finding], kept: tuple[list[Finding], list[Finding]]
) -> None:
    assert graver(there, home) == tuple(map(tuple, kept))
