"""The quiet line of a round-up: a window for work opens, or is about to close; said once each."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from underbench.daemon.normals import usual_of
from underbench.daemon.outlook import Outlook
from underbench.daemon.planning import Planner, Window
from underbench.daemon.store import Store
from underbench.daemon.telling import joined
from underbench.rules.journal import Stage, TreeAt, WorkKind
from underbench.rules.timing import ON_ROOTS

# A window comes once a year; spring and autumn ones of a conifer are half a year apart.
ONE_WINDOW = timedelta(days=120)
# A tree repotted last spring is left alone: every second or third year is common practice.
REPOTTED_FOR = timedelta(days=540)
MOST_LINES, NAMED = 2, 4


@dataclass(frozen=True, slots=True)
class WindowLine:
    """One line, the duties that are done once it is said, and the day ``by`` which it has to be
    done (None: it can wait for another round-up)."""

    words: str
    duties: tuple[str, ...]
    by: date | None = None


@dataclass(frozen=True, slots=True)
class _Event:
    """One tree's window that opens, or (``last``) of which that is the last day."""

    window: Window
    stage: Stage
    last: date | None

    @property
    def duty(self) -> str:
        return f"window {self.window.work} {'closes' if self.last else 'opens'} {self.window.tree}"


def window_lines(
    outlook: Outlook, store: Store, now: datetime, rooted: Collection[str]
) -> list[WindowLine]:
    """Return what is to be said of windows now; ``rooted``: trees whose layer may have by now.
    Raises StoreError."""
    events = [event for event in _events(outlook, store, rooted) if _fresh(event, store, now)]
    groups: dict[tuple[WorkKind | str, Stage, date | None], list[_Event]] = {}
    for event in events:
        groups.setdefault((event.window.work, event.stage, event.last), []).append(event)
    # What closes is said first: it cannot wait for tomorrow's round-up.
    ordered = sorted(groups.values(), key=lambda group: group[0].last or date.max)
    return [_line(group) for group in ordered[:MOST_LINES]]


def _events(outlook: Outlook, store: Store, rooted: Collection[str]) -> Iterator[_Event]:
    layers = [row for row, at in enumerate(outlook.standing) if at.tree.name in rooted]
    due = [row for row, at in enumerate(outlook.standing) if _due_for_repotting(at)]
    usual = usual_of(store, outlook.settings.garden) if layers else None
    planner = Planner(outlook, usual)
    yield from _of(planner.windows([WorkKind.REPOT], due))
    yield from _of(planner.windows([WorkKind.SEVER_LAYER], layers))


def _of(windows: Iterable[Window]) -> Iterator[_Event]:
    for window in windows:
        if window.good_days:
            first = next(day for day in window.days if day in window.offered)
            yield _Event(window, first.stage, window.closing)


def _due_for_repotting(at: TreeAt) -> bool:
    last = at.last(*ON_ROOTS, WorkKind.SLIP_POT)
    return last is None or at.at - last.at >= REPOTTED_FOR


def _fresh(event: _Event, store: Store, now: datetime) -> bool:
    said = store.last_done(event.duty)
    return said is None or not timedelta(0) <= now - said < ONE_WINDOW


def _line(group: Sequence[_Event]) -> WindowLine:
    first, names = group[0], [event.window.tree for event in group]
    trees = joined(names) if len(names) <= NAMED else f"{len(names)} trees, {names[0]} first"
    work = first.window.work
    if first.last:
        words = f"Last good days to {work} {trees}: its season ends on {first.last:%A}."
    else:
        good = min(event.window.good_days for event in group)
        days = f"{good} good {'day' if good == 1 else 'days'} ahead"
        words = f"{_sign(first, trees)}; {days}: {work} this week."
    return WindowLine(words, tuple(event.duty for event in group), first.last)


def _sign(event: _Event, trees: str) -> str:
    if event.window.work is WorkKind.SEVER_LAYER:
        return f"The layer on {trees} may have rooted"
    if event.stage is Stage.BUD_SWELL:
        return f"Buds swelling on {trees}"
    return f"Root work suits {trees} now"
