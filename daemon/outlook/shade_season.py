"""Which trees heat would harm without the shade cloth over them."""

from __future__ import annotations

from collections.abc import Collection

from underbench.daemon.outlook.outlook import Outlook, act_from, run_rows
from underbench.rules.course.inputs import Row
from underbench.rules.garden.local_time import days
from underbench.rules.hazards import HAZARDS
from underbench.rules.hazards.hazard import Action
from underbench.rules.hazards.judge import judged_in


def want_shade(outlook: Outlook, trees: Collection[str]) -> set[str]:
    """Return those of ``trees`` that heat or first sun is to harm in the days ahead if no cloth is
    over them, as likely as their keeper acts on it."""
    rows = [row for row, at in enumerate(outlook.standing) if at.tree.name in trees]
    if not rows:
        return set()
    settings, own = outlook.settings, [outlook.settings.trees[row] for row in rows]
    places = [outlook.place(row, outlook.standing[row].spot) for row in rows]
    bare = [Row(tree, place) for tree, place in zip(own, places, strict=True)]
    course = run_rows(outlook, bare, rows)
    asked = (one for one in HAZARDS.values() if one.asked(outlook.setting))
    heat = [one for one in asked if one.action in (Action.SHADE, Action.VENT)]
    found = set[str]()
    for span in days(outlook.now, outlook.reaches, settings.garden.timezone):
        for hazard in heat:
            _, judged = judged_in(outlook.setting, course, outlook.site, span, hazard)
            if judged is None:
                continue
            chances = (judged.harm | judged.kill).any(axis=2).mean(axis=1).tolist()
            found |= {
                t.name for t, c in zip(own, chances, strict=True) if c >= act_from(settings, t)
            }
    return found
