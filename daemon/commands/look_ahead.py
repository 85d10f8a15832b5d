"""Looking ahead for a command: nothing is told, and no finding is kept."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from underbench.daemon.commands.open_garden import open_copy, open_store, settings_of, supply_of
from underbench.daemon.commands.options import is_pretended
from underbench.daemon.faults import Fault

if TYPE_CHECKING:
    from underbench.daemon.alerts.hourly_pass import Pass
    from underbench.daemon.outlook.outlook import Outlook
    from underbench.daemon.store.store import Store


def row_of(outlook: Outlook, tree: str) -> int:
    """Return a tree's row. Raises Fault if a work makes the tree only after ``outlook.now``."""
    names = [one.name for one in outlook.settings.trees]
    if tree not in names:
        raise Fault(f"{tree}: there was no such tree yet on {outlook.now:%Y-%m-%d}")
    return names.index(tree)


def living(outlook: Outlook, row: int) -> None:
    """Raise Fault if the tree at ``row`` is noted as lost: no work can be planned on it."""
    if outlook.standing[row].lost:
        raise Fault(f"{outlook.standing[row].tree.name} is noted as lost")


def look_and_print(config: Path | None, now: datetime, read: Callable[[Pass, Store], str]) -> None:
    """Look ahead without telling anything, and print what ``read`` makes of it. The answers of the
    weather services are kept, unless ``now`` is not the real time."""
    from underbench.daemon.alerts.hourly_pass import run_pass

    settings = settings_of(config)
    opened = open_copy if is_pretended(now) else open_store
    with opened(settings) as store:
        done = run_pass(settings, store, supply_of(settings, store), now, dry_run=True)
        click.echo(read(done, store))
