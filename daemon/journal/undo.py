"""``underbench undo``: takes back what was noted last, and says what that was.

Nothing is lost: entries taken back stay in the database, marked, and are ignored.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from itertools import groupby

from underbench.daemon.config.settings import Settings
from underbench.daemon.journal.noting import day_words, in_a_sentence, move_words
from underbench.daemon.journal.parting import take_back
from underbench.daemon.store.store import Store
from underbench.daemon.store.undo_log import Note
from underbench.rules.garden.journal import (
    Entry,
    FlowersSeen,
    Handled,
    Move,
    Outcome,
    Sighting,
    Watering,
    Work,
)

AN_HOUR = timedelta(hours=1)


def undo(store: Store, settings: Settings, now: datetime, number: int | None = None) -> Note | None:
    """Take back the last note not taken back yet; return it, or None if nothing is left. A note
    given by its ``number`` is taken back if nothing else was noted of its trees since.

    What was reckoned since for its trees is forgotten. Jobs that it answered are open again, unless
    something else was said about them since. Raises StoreError, and Fault as `parting.take_back`.
    """
    with store.transaction():
        note = store.notes.last() if number is None else _free(store, number)
        if note is not None and note.parted:
            take_back(store, settings, note, now)
        elif note is not None:
            store.notes.take_back(note, now)
            for entry in note.entries:
                store.checkpoints.forget(entry.tree, entry.at - AN_HOUR)
    return note


def _free(store: Store, number: int) -> Note | None:
    """The note of that number, unless a later one is about any of its trees."""
    since: set[str] = set()
    for note in store.notes.latest():
        if note.undone_at is not None:
            continue
        if note.id == number:
            return None if since & note.trees else note
        since |= note.trees
    return None


def undone_text(note: Note | None, settings: Settings) -> str:
    """Return what a keeper reads when ``note`` was taken back, or (None) when none was left."""
    if note is None:
        return "Nothing that was noted is left to take back."
    lines = [f"Taken back: {note_words(note, settings)}."]
    if note.reopened and not note.parted:
        lines.append(f"What was told for {in_a_sentence(note.reopened)} counts as not done.")
    return "\n".join(lines)


def notes_text(notes: Iterable[Note], settings: Settings) -> str:
    """Return notes as a list, latest first, by the day of noting."""
    lines = []
    for day, group in groupby(notes, key=lambda note: day_words(note.noted_at, settings)):
        lines.append(day)
        for note in group:
            back = " (taken back)" if note.undone_at else ""
            lines.append(f"  {note_words(note, settings)}{back}")
    return "\n".join(lines) or "Nothing was noted yet."


def note_words(note: Note, settings: Settings) -> str:
    """Return what a note holds, in words; each thing once for all its trees."""
    if parted := note.parted:
        return f"{parted.was} {'out of the garden' if parted.out else f'called {parted.name}'}"
    parts: dict[str, list[str]] = {}
    for entry in note.entries:
        parts.setdefault(_entry_words(entry, settings), []).append(entry.tree)
    known = {entry.tree for entry in note.entries}
    if rest := [tree for tree in note.reopened if tree not in known]:
        parts["{trees} seen to as told"] = rest
    if note.put_off:
        parts["{trees} not tonight"] = list(note.put_off)
    return "; ".join(
        words.replace("{trees}", in_a_sentence(list(dict.fromkeys(trees))), 1)
        for words, trees in parts.items()
    )


def _entry_words(entry: Entry, settings: Settings) -> str:
    on = f"on {day_words(entry.at, settings)}"
    match entry:
        case Work():
            made = f", which made {entry.makes.name}" if entry.makes else ""
            return f"{entry.work} of {{trees}} {on}{made}"
        case Sighting() | FlowersSeen():
            return f"{{trees}} seen {entry.stage} {on}"
        case Move():
            return f"{{trees}} {move_words(entry)} {on}"
        case Watering():
            return f"{'moss on ' if entry.moss else ''}{{trees}} watered {on}"
        case Handled():
            return f"{{trees}} seen to as told {on}"
        case Outcome():
            return f"{{trees}} {entry.fate} after {entry.night.day} {entry.night:%B %Y}"
