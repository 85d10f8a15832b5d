"""Messages other than advice: a reminder, a stand-down, and what follows a job."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from underbench.rules.hazards.hazard import Action, Hazard


class Kind(StrEnum):
    """What a message is about."""

    ADVICE = "advice"
    REMINDER = "reminder"
    STAND_DOWN = "stand down"
    BACK = "back"
    OUTCOME = "outcome"
    ROUND_UP = "round-up"
    WATCHING = "still watching"
    BLIND = "no forecast"
    MISSED = "missed"


@dataclass(frozen=True, slots=True)
class Placed:
    """A tree, where it stands, where it belongs, whether it is under fleece, and whether it is down
    on the ground."""

    tree: str
    spot: str
    home: str
    covered: bool = False
    down: bool = False


@dataclass(frozen=True, slots=True)
class StandDown:
    """A job told, not begun and no longer needed, because the forecast has turned milder.

    ``first_at`` is when the first of the hazards called off was to begin.
    """

    action: Action
    hazard: Hazard
    trees: tuple[Placed, ...]
    first_at: datetime


@dataclass(frozen=True, slots=True)
class Back:
    """Trees under cover that may go back where they belong.

    Until ``quiet_until`` nothing threatens them at home, those in ``tie`` tied down. Leaves of
    trees in ``shade_first`` have been in the dark for days. The keeper is asked how the trees in
    ``asked`` came through.
    """

    trees: tuple[Placed, ...]
    quiet_until: datetime
    shade_first: frozenset[str]
    asked: tuple[str, ...] = ()
    tie: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ClothOff:
    """Trees over which shade cloth may come off. No heat threatens them until ``quiet_until``."""

    trees: tuple[Placed, ...]
    quiet_until: datetime


@dataclass(frozen=True, slots=True)
class Asking:
    """Trees that were in danger. The keeper is asked once how they came through."""

    hazard: Hazard
    trees: tuple[str, ...]
    night: date
