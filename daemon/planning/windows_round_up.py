"""The quiet line of a round-up: a window for work opens, or is about to close; said once each."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.outlook.past_years import usual_of
from underbench.daemon.planning.planner import Planner, Window
from underbench.daemon.store.store import Store
from underbench.daemon.wording.vocabulary import joined
from underbench.rules.garden.journal import Stage, TreeAt, WorkKind
from underbench.rules.planning.misgivings import ON_ROOTS

# A window comes once a year; spring and autumn ones of a conifer are half a year apart.
ONE_WINDOW = timedelta(days=120)
# A tree repotted last spring is left alone: every second or third year is common practice.
REPOTTED_FOR = timedelta(days=540)
MOST_LINES, NAMED, FEW_DAYS = 2, 4, 2


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
    species = outlook.setting.species
    leafless = [name for name, one in species.items() if one.limits.leafless]
    yield from _of(Planner(outlook, None).windows([WorkKind.REPOT], due), leafless)
    if layers:  # only severing asks for the years gone by
        planner = Planner(outlook, usual_of(store, outlook.settings.garden))
        yield from _of(planner.windows([WorkKind.SEVER_LAYER], layers), leafless)


def _of(windows: Iterable[Window], leafless: Collection[str]) -> Iterator[_Event]:
    for window in windows:
        today = window.days[0] if window.days else None
        if today is None or not today.in_season or not window.good_days:
            continue
        if window.closing or _opens(window, today.stage, leafless):
            yield _Event(window, today.stage, window.closing)


def _opens(window: Window, stage: Stage, leafless: Collection[str]) -> bool:
    """Whether a window is worth a line: more than a lucky day, and buds that move where a tree
    shows by them that its time has come."""
    resting = stage is Stage.DORMANT and window.tree in leafless
    return window.good_days >= FEW_DAYS and not resting


def _due_for_repotting(at: TreeAt) -> bool:
    last = at.last(*ON_ROOTS, WorkKind.SLIP_POT)
    return last is None or at.at - last.at >= REPOTTED_FOR


def _fresh(event: _Event, store: Store, now: datetime) -> bool:
    said = store.duties.last_done(event.duty)
    return said is None or not timedelta(0) <= now - said < ONE_WINDOW


def _line(group: Sequence[_Event]) -> WindowLine:
    first, names = group[0], [event.window.tree for event in group]
    trees, work = named_or_counted(names), first.window.work
    if first.last:
        its = "its" if len(names) == 1 else "their"
        words = f"Last good days to {_done_to(work, trees)}: {its} season ends on {first.last:%A}."
    else:
        good = min(event.window.good_days for event in group)
        days = f"{good} good {'day' if good == 1 else 'days'} ahead"
        what = "sever it" if work is WorkKind.SEVER_LAYER else work
        words = f"{_sign(first, trees)}; {days}: {what} this week."
    return WindowLine(words, tuple(event.duty for event in group), first.last)


def named_or_counted(names: Sequence[str]) -> str:
    """Return a few trees by name, more as a number."""
    return joined(names) if len(names) <= NAMED else f"{len(names)} trees, {names[0]} first"


def _done_to(work: WorkKind | str, trees: str) -> str:
    return f"sever the layer on {trees}" if work is WorkKind.SEVER_LAYER else f"{work} {trees}"


def _sign(event: _Event, trees: str) -> str:
    if event.window.work is WorkKind.SEVER_LAYER:
        return f"The layer on {trees} may have rooted"
    if event.stage is Stage.BUD_SWELL:
        return f"Buds swelling on {trees}"
    return f"Root work suits {trees} now"
