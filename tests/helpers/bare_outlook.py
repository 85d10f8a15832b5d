"""Findings and an outlook with nothing behind them: no weather, no physics, no database.

What is told of them is decided by their own values, so a rule can be tried in a table. Trees stand
in a bed and their keeper has no means: there is no remedy, and none is tried.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from types import SimpleNamespace
from typing import Any

import numpy as np
from told_rows import DAY, HOUR, NIGHT_ENDS, NOW

from underbench.daemon.outlook.outlook import Outlook
from underbench.rules.garden.inventory import Chance, Means
from underbench.rules.garden.journal import Entry, Stage, TreeAt
from underbench.rules.garden.local_time import Stretch
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.leaf_frost import LEAF_FROST
from underbench.rules.limits.aftercare import Aftercare
from underbench.rules.limits.limit import Layer, Limit, MeasuredOn

AHEAD_H = 120


def found(tree: str = "Ember", ends: datetime = NIGHT_ENDS, **given: Any) -> Finding:
    """A frost to act on in the night that ends at ``ends``, with the hours of `told_rows.told`."""
    values: dict[str, Any] = {
        "tree": tree,
        "hazard": LEAF_FROST,
        "span": Stretch(ends - DAY, ends),
        "first_at": ends - 9 * HOUR,
        "until_at": ends - 5 * HOUR,
        "worst_at": ends - 6 * HOUR,
        "worst": -3.0,
        "limit": Limit(MeasuredOn.LEAF, (Layer("invented", -2.5, -4.5, "invented"),)),
        "chance": 0.8,
        "kill_chance": 0.1,
        "strength": Strength.ACT,
    }
    return Finding(**{**values, **given})


def standing(make: Any, name: str = "Ember", spot: str = "", since: datetime | None = None) -> Any:
    """A tree in a bed at the top bench, or carried to a ``spot`` at ``since``."""
    tree = make.tree(name, kind="bed", wall="none", litres=60)
    return TreeAt(tree=tree, at=NOW, spot=spot or tree.spot, there_since=since)


def outlook_of(
    make: Any,
    findings: Iterable[Finding] = (),
    trees: Sequence[TreeAt] | None = None,
    *,
    now: datetime = NOW,
    at_home: Iterable[Finding] = (),
    journal: Iterable[Entry] = (),
    stage: Stage = Stage.LEAFING_OUT,
    hands_on: Any = None,
) -> Outlook:
    """An outlook of ``trees`` (None: one, at home) in which this was found."""
    trees = [standing(make)] if trees is None else trees
    hours = np.arange(1, AHEAD_H + 1)
    facts = [SimpleNamespace(tree=at.tree, stage=stage, aftercare=Aftercare()) for at in trees]
    course = SimpleNamespace(
        times=int(now.timestamp()) + 3600 * hours,
        exposure=SimpleNamespace(gust_ms=np.zeros((len(trees), 1, AHEAD_H))),
        conditions={now.date(): facts},
    )
    settings = SimpleNamespace(
        garden=make.garden,
        hands_on=hands_on or make.hands_on,
        spots=make.spots,
        trees=tuple(at.tree for at in trees),
        means=Means(fleece_layers=0),
        chance=Chance(),
    )
    nothing: dict[str, Any] = dict.fromkeys(Outlook.__slots__)
    return Outlook(
        **nothing
        | {
            "now": now,
            "settings": settings,
            "journal": tuple(journal),
            "standing": tuple(trees),
            "state": SimpleNamespace(ten_days_c=np.zeros((len(trees), 1))),
            "course": course,
            "findings": tuple(findings),
            "at_home": tuple(at_home),
        }
    )
