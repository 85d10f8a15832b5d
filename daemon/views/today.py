"""Today in the garden: what to do now, what stands away from home, what comes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from textwrap import wrap
from typing import Any
from zoneinfo import ZoneInfo

from underbench.daemon.alerts.hourly_pass import Pass
from underbench.daemon.alerts.message_kinds import Kind
from underbench.daemon.alerts.other_texts import day_line, made_of
from underbench.daemon.alerts.to_do import ToDo, to_do
from underbench.daemon.journal.works import typed
from underbench.daemon.outlook.day_by_day import days_shown
from underbench.daemon.planning.follow_ups import ask_json, of_work
from underbench.daemon.rehearsal.pass_report import forecast_json, said_json
from underbench.daemon.store.episodes import key_of
from underbench.daemon.views.ahead import air_on
from underbench.daemon.wording.json_form import document, iso
from underbench.daemon.wording.units import Units
from underbench.daemon.wording.vocabulary import Teller
from underbench.rules.garden.journal import TreeAt
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards.findings import Strength
from underbench.rules.planning.follow_up import Expected, FollowUp

WIDTH = 80


class Today:
    """One look at the garden, made from a pass that kept nothing. ``after_works``: follow-ups that
    are due."""

    def __init__(self, done: Pass, after_works: Sequence[Expected]) -> None:
        self._done, self._outlook = done, done.outlook
        self._after_works = after_works
        garden, now = done.outlook.settings.garden, done.outlook.now
        self._teller = Teller(garden.timezone, Units(done.outlook.settings.units))
        new = {f.key for told in done.told for job in told.advice.jobs for f in job.findings}
        rows = done.episodes.values()
        self._told = to_do((r for r in rows if key_of(r) not in new), now, garden.timezone)
        self._untold = to_do((r for r in rows if key_of(r) in new), now, garden.timezone)
        # A reminder repeats a job that is told and open.
        self._beside = [one for one in done.said if one.kind is not Kind.REMINDER]
        standing = (at for at in done.outlook.standing if not at.lost)
        self._away = [at for at in standing if at.cloth or not at.at_home]

    def text(self) -> str:
        """The look as a page for a terminal."""
        outlook = self._outlook
        local = outlook.now.astimezone(ZoneInfo(outlook.settings.garden.timezone))
        clock = self._teller.units.clock(local)
        made = made_of(outlook)
        problem = outlook.supplied.problem
        return "\n".join(
            [
                f"{outlook.settings.garden.name}, {local:%A} {local.day} {local:%B}, {clock}",
                *_section("To do now", self._jobs(), "Nothing."),
                *_section("Away from home", self._standing(), "No tree."),
                *_section("What comes", self._coming()),
                *_section("After works", self._works(), "Nothing is due."),
                "",
                *([f"Weather: {problem}."] if problem else []),
                self._teller.credit(made, outlook.now),
            ]
        )

    def _jobs(self) -> Iterator[str]:
        yield from (self._job_line(job) for job in self._told)
        yield from (f"{self._job_line(job)} (Not told yet.)" for job in self._untold)
        for one in self._beside:
            yield f"{one.message.title}: {', '.join(one.trees)}. (Not told yet.)"

    def _job_line(self, job: ToDo) -> str:
        now = self._outlook.now
        by = "now" if job.do_by <= now else f"by {self._teller.when(job.do_by, now)}"
        danger = " (danger)" if job.danger else ""
        return f"{job.word} {by}{danger}: {', '.join(job.trees)}. {job.what}. {job.words}."

    def _standing(self) -> Iterator[str]:
        ways: dict[tuple[str, str, bool, bool], list[str]] = {}
        for at in self._away:
            ways.setdefault((at.spot, at.tree.spot, at.covered, at.cloth), []).append(at.tree.name)
        for (spot, home, covered, cloth), trees in ways.items():
            away = [f"home: {home}"] if spot != home else []
            told = "; ".join(["covered"] * covered + ["under shade cloth"] * cloth + away)
            yield f"{spot}: {', '.join(trees)} ({told})"

    def _coming(self) -> Iterator[str]:
        outlook, now = self._outlook, self._outlook.now
        days = (day_line(self._teller, outlook, day) for day in days_shown(outlook))
        yield from filter(None, days)
        for told, at in self._done.later:
            yield f"To be told {self._teller.when(at, now)}: {told.message.title}"

    def _works(self) -> Iterator[str]:
        asks: dict[tuple[FollowUp, WorkKind], list[str]] = {}
        for one in self._after_works:
            asks.setdefault((one.ask.what, one.ask.done_by), []).append(of_work(one.ask))
        for (what, done_by), trees in asks.items():
            words = f"{what[0].upper()}{what[1:]}: {', '.join(trees)}."
            yield f"{words} When done: underbench did {typed(done_by)} TREE"

    def as_json(self) -> str:
        """The look for programs: moments in UTC, air in °C."""
        outlook = self._outlook
        jobs = [(job, True) for job in self._told] + [(job, False) for job in self._untold]
        body = {
            "now": iso(outlook.now),
            "garden": outlook.settings.garden.name,
            "forecast": forecast_json(outlook.supplied),
            "to_do": [_job_json(job, told) for job, told in jobs],
            "said": [said_json(one) for one in self._beside],
            "away": [_place_json(at) for at in self._away if not at.at_home],
            "days": [self._day_json(day) for day in days_shown(outlook)],
            "follow_ups": [ask_json(one) for one in self._after_works],
        }
        return document(body)

    def _day_json(self, day: date) -> dict[str, Any]:
        low_c, high_c = air_on(self._outlook, day) or (None, None)
        words = day_line(self._teller, self._outlook, day)
        return {"day": day.isoformat(), "air_low_c": low_c, "air_high_c": high_c, "words": words}


def _section(heading: str, lines: Iterable[str], otherwise: str = "") -> list[str]:
    found = list(lines) or [otherwise]
    wrapped = [
        part
        for line in found
        for part in wrap(line, WIDTH, initial_indent="  ", subsequent_indent="    ")
    ]
    return ["", heading, *wrapped]


def _job_json(job: ToDo, told: bool) -> dict[str, Any]:
    return {
        "action": job.action,
        "strength": Strength.DANGER if job.danger else Strength.ACT,
        "hazards": list(job.hazards),
        "remedy": job.remedy.key,
        "words": job.words,
        "do_by": iso(job.do_by),
        "told": told,
        "trees": [{"tree": tree} for tree in job.trees],
    }


def _place_json(at: TreeAt) -> dict[str, Any]:
    return {"tree": at.tree.name, "spot": at.spot, "home": at.tree.spot}
