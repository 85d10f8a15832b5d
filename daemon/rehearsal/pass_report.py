"""A pass as text for a terminal, and as JSON for programs."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

from underbench.daemon.alerts.compose import Said, Told
from underbench.daemon.alerts.hourly_pass import Pass
from underbench.daemon.store.store import Message
from underbench.daemon.weather.supply import Supplied
from underbench.daemon.wording.json_form import document, part
from underbench.rules.advice.advice import Job
from underbench.rules.hazards.findings import Strength

# What is worth saying when it was estimated; air pressure and lying snow hardly matter.
SPOKEN = {
    "air_c": "air temperature",
    "dew_c": "dew point",
    "wind_ms": "wind",
    "gust_ms": "gusts",
    "cloud": "cloud",
    "global_wm2": "sunshine",
    "rain_mm": "rain",
}


def pass_text(done: Pass) -> str:
    """What is told now, what will be told later and when, and what is only worth knowing."""
    lines = [_message_text(one) for one in done.messages] or ["Nothing to tell now."]
    lines += _later(done)
    lines += _notices(done)
    lines.append(_source(done))
    return "\n\n".join(lines)


def _message_text(message: Message) -> str:
    return f"{message.title}\n{message.body}"


def _later(done: Pass) -> list[str]:
    settings = done.outlook.settings
    zone = ZoneInfo(settings.garden.timezone)
    lines = []
    for told, opens in done.later:
        advice = told.advice
        trees = ", ".join(job.tree for job in advice.jobs)
        lines.append(
            f"Foreseen, to be told {opens.astimezone(zone):%a %d %b %H:%M}: "
            f"{told.message.title} ({trees})"
        )
    return ["\n".join(lines)] if lines else []


def _notices(done: Pass) -> list[str]:
    trees: dict[str, set[str]] = {}
    findings = done.outlook.findings
    acting = {(f.tree, f.hazard.key) for f in findings if f.strength is not Strength.NOTICE}
    for found in findings:
        if (found.tree, found.hazard.key) not in acting:
            trees.setdefault(found.hazard.words, set()).add(found.tree)
    if not trees:
        return []
    told = ", ".join(f"{words.lower()} ({len(names)})" for words, names in trees.items())
    return [f"Unlikely, worth knowing: {told}. See underbench ahead."]


def _source(done: Pass) -> str:
    supplied = done.outlook.supplied
    zone = ZoneInfo(done.outlook.settings.garden.timezone)
    made = supplied.changed_at.astimezone(zone)
    lines = [f"Forecast of {made:%A %d %B %H:%M}. {supplied.attribution}.", _weathers(done)]
    known = [supplied.problem] if supplied.problem else []
    lines[:0] = [f"Weather: {line}." for line in (*known, *supplied.notes)]
    guessed = [word for name, word in SPOKEN.items() if name in done.outlook.estimated]
    if guessed:
        lines.append(f"Estimated, as the source lacks it at times: {', '.join(guessed)}.")
    return "\n".join(lines)


def _weathers(done: Pass) -> str:
    """What the chances are counted over."""
    outlook = done.outlook
    chances = f"Chances are of {outlook.weather.members} weathers"
    if outlook.ensemble is None:
        return f"{chances} made of this one forecast."
    zone = ZoneInfo(outlook.settings.garden.timezone)
    made = outlook.ensemble.fetched_at.astimezone(zone)
    return f"{chances} from the ensemble {outlook.ensemble.models} of {made:%A %d %B %H:%M}."


def pass_json(done: Pass) -> str:
    """The same for programs: moments in UTC, values in SI units and °C."""
    outlook, ensemble = done.outlook, done.outlook.ensemble
    chance_from = part(ensemble, "models", "members", "fetched_at") if ensemble else {}
    body = {
        "now": outlook.now,
        "garden": outlook.settings.garden.name,
        "forecast": forecast_json(outlook.supplied),
        "chance_from": {
            "weathers": outlook.weather.members,
            "ensemble": chance_from.get("models"),
            "members": chance_from.get("members"),
            "fetched_at": chance_from.get("fetched_at"),
        },
        "estimated": sorted(outlook.estimated),
        "told": [told_json(told) for told in done.told],
        "said": [said_json(said) for said in done.said],
        "later": [told_json(told) | {"tell_from": at} for told, at in done.later],
        "findings": outlook.findings,
    }
    return document(body)


def forecast_json(supplied: Supplied) -> dict[str, Any]:
    """Return where the weather is from, and when."""
    known = ("fetched_at", "changed_at", "source", "attribution", "problem", "notes", "doubt")
    return part(supplied, *known)


def told_json(told: Told) -> dict[str, Any]:
    """Return one message and the advice it was made of."""
    return (
        part(told.message, "title", "body")
        | part(told.advice, "action", "strength", "do_by", "back_at")
        | {"in_hands_on_hours": told.advice.in_hand, "trees": [_job(j) for j in told.advice.jobs]}
    )


def said_json(said: Said) -> dict[str, Any]:
    """Return one message beside the advice."""
    trees = [{"tree": tree} for tree in said.trees]
    return {"kind": said.kind, **part(said.message, "title", "body"), "trees": trees}


def _job(job: Job) -> dict[str, Any]:
    choice = job.choice
    tried = part(choice, "suffices", "chance", "left", "two_people") if choice else {}
    remedy = {"key": job.remedy.key, "words": job.words, **tried}
    return {"tree": job.tree, "spot": job.spot, "remedy": remedy}
