"""The plan of a tree as a table: place by place, night by night, what each would cost."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from zoneinfo import ZoneInfo

from underbench.daemon.outlook.plans import TreePlan
from underbench.daemon.wording.tables import table
from underbench.daemon.wording.vocabulary import at_spot
from underbench.rules.planning.plan import moving

HERE = "*"
KEY = "Costs in trips: 1 is carrying it in and out again. * marks where it is to be."


def plan_text(planned: TreePlan, zone: ZoneInfo) -> list[str]:
    """Return the plan in words, and the table of what each place would cost."""
    starts = [night.start.astimezone(zone) for night in planned.of.nights]
    heads = ["The plan, by night:", *(f"{at:%a %d}" for at in starts), "later", "in all"]
    rows = [[f"  {name}", *cells] for name, cells in table_rows(planned)]
    return [table(heads, rows), KEY]


def table_rows(planned: TreePlan) -> Iterator[tuple[str, list[str]]]:
    """Yield each place in words, with its costs by night, later and in all."""
    path = planned.plan.path
    for row in plan_rows(planned):
        marks = (HERE if place == row["place"] else "" for place in path)
        nights = [f"{cost:.1f}{mark}" for cost, mark in zip(row["nights"], marks, strict=True)]
        yield row["words"], [*nights, f"{row['later']:.1f}", f"{row['in_all']:.1f}"]


def plan_rows(planned: TreePlan) -> list[dict[str, Any]]:
    """Return for each place what each night there costs (with the day after it), what the weeks
    beyond the forecast cost from there, and what it costs to bring the tree there and leave it."""
    weights, places = planned.of.weights, planned.of.places
    start = next(one for one in places if one.key == planned.start)
    found = []
    for one in places:
        nights = [one.cost(night, weights) for night in range(len(planned.of.nights))]
        there = moving(start, one, weights) + sum(nights) + one.after
        words = _words(planned, one.key)
        row = {"place": one.key, "words": words, "nights": nights, "later": one.after}
        found.append(row | {"in_all": there})
    return found


def _words(planned: TreePlan, key: str) -> str:
    way = planned.of.ways.get(key)
    if way is not None:
        return way.words[0].lower() + way.words[1:]
    if key == planned.here:
        return f"left {at_spot(key)}"
    return f"home {at_spot(key)}"
