"""Other values for a limit, tried on demand in past weather.

A trial takes minutes. So it runs beside the page in a process of its own, at the lowest priority,
one after another. Its answer is kept, and what it said before stays on the page until then.
"""

from __future__ import annotations

import subprocess
import sys
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from threading import Lock, Thread

from flask import current_app

from underbench.daemon.faults import Fault
from underbench.daemon.page.context import Deps, deps, now, store
from underbench.daemon.rehearsal.tune import LIMITS, Tuning
from underbench.daemon.rehearsal.tuning_report import changes, fewest, said_value, tuning_of

EXTENSION = "trials"
LONGEST_S = 3 * 3600
COMMAND = (
    "import os; os.nice(19);"
    " from underbench.daemon.commands.cli import main; main(prog_name='underbench')"
)


def tuned_apart(config: Path, name: str, limit: str) -> str:
    """Return what ``tune --json`` prints of a limit (empty: the one that makes most difference),
    worked out in a process of its own. Raises Fault with what it says is wrong."""
    words = ["--config", str(config), "tune", "--json", "--", name, *([limit] if limit else [])]
    try:
        done = subprocess.run(
            [sys.executable, "-c", COMMAND, *words],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            encoding="utf-8",
            timeout=LONGEST_S,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        raise Fault("it took too long, or could not be started") from None
    if done.returncode:
        raise Fault(done.stderr.strip()[-300:] or "it ended without an answer")
    return done.stdout


@dataclass(slots=True)
class Trials:
    """The trials that run or wait, since when, and why the last one of a name failed."""

    begun: dict[str, datetime] = field(default_factory=dict)
    failed: dict[str, str] = field(default_factory=dict)
    turn: Lock = field(default_factory=Lock)

    def run(self, of: Deps, name: str, limit: str) -> None:
        """Wait for the turn, try, and keep the answer."""
        with self.turn:
            try:
                printed = of.trial(name, limit)
                tried = tuning_of(printed).tuning.limit
                with of.open_store() as kept:
                    kept.pages.keep(_kept_as(name, tried), printed, of.now())
            except (Fault, ValueError, LookupError) as fault:
                self.failed[name] = str(fault)
            finally:
                self.begun.pop(name, None)


def begin(name: str, limit: str) -> None:
    """Try other values of a limit beside the page, unless one of this name is being tried."""
    trials: Trials = current_app.extensions[EXTENSION]
    if name in trials.begun:
        return
    trials.begun[name] = now()
    trials.failed.pop(name, None)
    Thread(target=trials.run, args=(deps(), name, limit), name="trial", daemon=True).start()


def begun_at(name: str) -> datetime | None:
    """Return since when other values for a name are being tried; None if they are not."""
    trials: Trials = current_app.extensions[EXTENSION]
    return trials.begun.get(name)


def why_failed(name: str) -> str:
    """Return why the last trial of a name since the daemon began gave nothing; empty if it did."""
    trials: Trials = current_app.extensions[EXTENSION]
    return trials.failed.get(name, "")


@dataclass(frozen=True, slots=True)
class Trial:
    """What a trial said: when, in which weather, the value of that day, what each other value would
    have changed, and the one with the least harm for the fewest carries."""

    tuning: Tuning
    at: datetime
    weather: str
    begins: datetime
    ends: datetime
    today: str
    changes: list[tuple[str, str]]
    best: str


def kept_trials(name: str) -> list[Trial]:
    """Return the last trial of each limit of a name."""
    kept = (store().pages.kept(_kept_as(name, limit)) for limit in LIMITS)
    return [_read(*one) for one in kept if one]


def _read(printed: str, at: datetime) -> Trial:
    units, said = deps().settings().units, tuning_of(printed)
    tuning = said.tuning
    return Trial(
        tuning,
        at,
        said.weather,
        said.begins,
        said.ends,
        said_value(tuning.limit, tuning.today, units),
        changes(tuning, units),
        said_value(tuning.limit, fewest(tuning).value, units),
    )


def _kept_as(name: str, limit: str) -> str:
    return f"tried {name} {limit}"
