"""What is to be done for each tree on each of the coming days, in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime

from underbench.daemon.outlook.outlook import Outlook, remedies
from underbench.daemon.outlook.plans import TreePlan
from underbench.daemon.outlook.prospects import planned_hazard
from underbench.rules.advice.advice import Job, by_risk
from underbench.rules.advice.deadlines import do_by
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.hazard import Action

Key = tuple[str, str, datetime]
BEST_THERE_IS = " (the best there is)"
NOTHING_HELPS = "Nothing here helps"
STAYS = "Leave it where it is"


def help_by_finding(outlook: Outlook, plans: Mapping[str, TreePlan]) -> dict[Key, str]:
    """Return what is to be done about each finding that asks to act, by its key.

    Cold and wind are answered by the plan of each night, all else by the least remedy.
    """
    acting = [f for f in outlook.findings if f.strength is not Strength.NOTICE]
    planned = [f for f in acting if f.tree in plans and planned_hazard(f.hazard)]
    known = {f.key: _planned(f, plans[f.tree]) for f in planned}
    by_action: dict[Action, list[Finding]] = {}
    for finding in sorted(acting, key=by_risk):
        if finding.key not in known:
            by_action.setdefault(finding.action, []).append(finding)
    for several in by_action.values():
        known.update(_least(outlook, several))
    return known


def _planned(finding: Finding, plan: TreePlan) -> str:
    key, night = plan.place_on(finding), plan.of.night_of(finding.first_at)
    short = plan.of.trials[key].harm[night] >= plan.of.weights.act_from
    if way := plan.of.ways.get(key):
        return way.words + (BEST_THERE_IS if short else "")
    return NOTHING_HELPS if short else STAYS


def _least(outlook: Outlook, findings: list[Finding]) -> Iterator[tuple[Key, str]]:
    settings = outlook.settings
    deadline, _ = do_by(findings[0], settings.garden, settings.hands_on, outlook.now)
    choices = remedies(outlook, findings, deadline)
    for finding in findings:
        job = Job(finding.tree, "", (finding,), choices.get(finding.tree))
        yield finding.key, job.words + (BEST_THERE_IS if job.short else "")
