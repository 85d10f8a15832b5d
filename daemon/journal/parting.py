"""A tree gets another name, or leaves the garden: in the file and in all that is kept of it."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from underbench.daemon.config.limits_table import name_fault
from underbench.daemon.config.settings import Settings
from underbench.daemon.config.tomlfile import Key
from underbench.daemon.faults import Fault
from underbench.daemon.journal import garden_edit
from underbench.daemon.journal.noting import keep
from underbench.daemon.journal.outcomes import close_all
from underbench.daemon.store.photographs import Photographs
from underbench.daemon.store.store import Store
from underbench.daemon.store.undo_log import Note, Parted
from underbench.rules.garden.journal import Fate, Outcome, Work
from underbench.rules.garden.local_time import local_day

TOPICS: Key = ("readings", "mqtt", "topics")


def rename(
    store: Store, settings: Settings, old: str, new: str, as_seen: str, now: datetime
) -> None:
    """Give a tree another name; ``settings`` hold the trees that works made too.

    Raises Fault for a name that cannot be, or that another tree has or had: its notes would become
    this one's. Raises as `garden_edit.write` does, and StoreError; then nothing is changed.
    """
    if fault := name_fault(new) if new else "Give it a name.":
        raise Fault(fault)
    if new.casefold() != old.casefold():
        if _is_there(settings, new):
            raise Fault("there is a tree of that name already")
        if store.names.known(new):
            raise Fault("an earlier tree had that name, and its notes are kept under it")
    with store.transaction():
        with store.notes.noting(now) as noted:
            _rename_in_file(settings.file, old, new, as_seen)
            noted.parted = Parted(old, new, False, as_seen, garden_edit.seen(settings.file))
        _named_anew(store, settings, old, new)


def _is_there(settings: Settings, name: str) -> bool:
    return name.casefold() in {tree.name.casefold() for tree in settings.trees}


def _named_anew(store: Store, settings: Settings, old: str, new: str) -> None:
    store.names.rename(old, new)
    Photographs(settings.store_path).rename(old, new)


def _rename_in_file(path: Path, old: str, new: str, as_seen: str) -> None:
    """Change the tree's name, and that of the topics that measure it. A tree that a work made is
    not in the file."""
    if garden_edit.seen(path) != as_seen:
        raise garden_edit.changed(path)
    topics = garden_edit.written_at(path, TOPICS[:2]).get("topics", [])
    for n, topic in enumerate(topics):
        if str(topic.get("tree", "")).casefold() == old.casefold():
            garden_edit.write(path, (*TOPICS, n), {"tree": new}, garden_edit.seen(path))
    if (place := in_file(path, old)) is not None:
        garden_edit.write(path, place, {"name": new}, garden_edit.seen(path))


def take_out(
    store: Store, settings: Settings, name: str, *, dead: bool, as_seen: str, now: datetime
) -> str:
    """Take a tree out of the garden; return what is said of it.

    What was noted of it and its photograph stay, under a name that says when it left, so that
    another tree may have its name. Raises as `rename` does.
    """
    day = local_day(now, settings.garden.timezone)
    left = f"{name} (out {day:%Y-%m-%d})"
    place = in_file(settings.file, name)
    with store.transaction():
        with store.notes.noting(now) as noted:
            close_all(store, [name], now)
            if dead or _made_by_work(store, name):  # else the journal would make it again
                keep(store, [Outcome(tree=name, at=now, fate=Fate.LOST, night=day)])
            if place is not None:
                garden_edit.remove(settings.file, place, as_seen)
            noted.parted = Parted(name, left, True, as_seen, garden_edit.seen(settings.file))
        _named_anew(store, settings, name, left)
    return f"{name} has left the garden. What was noted of it is kept under {left!r}."


def take_back(store: Store, settings: Settings, note: Note, now: datetime) -> None:
    """Take back a note that renamed a tree or took it out: in the file, which goes back to what it
    was, and in all that is kept of the tree.

    Raises Fault if the file was changed since, or another tree has the name; then nothing is done.
    """
    parted = note.parted
    assert parted is not None
    with store.transaction():
        store.notes.take_back(note, now)
        again = _is_there(settings, parted.was) or store.names.known(parted.was)
        if parted.was.casefold() != parted.name.casefold() and again:
            raise Fault(f"another tree is called {parted.was} now: nothing was taken back")
        _named_anew(store, settings, parted.name, parted.was)
        if parted.before != parted.after:
            garden_edit.put_back(settings.file, parted.before, parted.after)


def _made_by_work(store: Store, tree: str) -> bool:
    works = (entry for entry in store.journal.entries() if isinstance(entry, Work))
    names = (work.makes.name for work in works if work.makes)
    return any(name.casefold() == tree.casefold() for name in names)


def in_file(path: Path, tree: str) -> Key | None:
    """Return where the file has a tree; None if only the journal knows it."""
    try:
        return garden_edit.place_of(path, "tree", tree)
    except Fault:
        return None
