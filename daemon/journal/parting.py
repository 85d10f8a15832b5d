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
from underbench.daemon.store.store import Store
from underbench.rules.garden.journal import Fate, Outcome, Work
from underbench.rules.garden.local_time import local_day

TOPICS: Key = ("readings", "mqtt", "topics")


def rename(store: Store, settings: Settings, old: str, new: str, as_seen: str) -> None:
    """Give a tree another name; ``settings`` hold the trees that works made too.

    Raises Fault for a name that cannot be, or that another tree has or had: its notes would become
    this one's. Raises as `garden_edit.write` does, and StoreError; then nothing is changed.
    """
    if fault := name_fault(new) if new else "Give it a name.":
        raise Fault(fault)
    if new.casefold() != old.casefold():
        if new.casefold() in {tree.name.casefold() for tree in settings.trees}:
            raise Fault("there is a tree of that name already")
        if store.names.known(new):
            raise Fault("an earlier tree had that name, and its notes are kept under it")
    with store.transaction():
        store.names.rename(old, new)
        _rename_in_file(settings.file, old, new, as_seen)


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

    What was noted of it stays in the database, under a name that says when it left, so that another
    tree may have its name. Raises as `rename` does.
    """
    day = local_day(now, settings.garden.timezone)
    left = f"{name} (out {day:%Y-%m-%d})"
    place = in_file(settings.file, name)
    with store.transaction():
        close_all(store, [name], now)
        if dead or _made_by_work(store, name):  # else the journal would make it again
            keep(store, [Outcome(tree=name, at=now, fate=Fate.LOST, night=day)])
        store.names.rename(name, left)
        if place is not None:
            garden_edit.remove(settings.file, place, as_seen)
    return f"{name} has left the garden. What was noted of it is kept under {left!r}."


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
