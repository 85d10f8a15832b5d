"""The commands of the page: serving it alone, and its password."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from threading import Event
from typing import TYPE_CHECKING

import click

from underbench.daemon.faults import Fault
from underbench.daemon.opening import config_path, open_store, settings_of, supply_of

if TYPE_CHECKING:
    from underbench.daemon.reloading import Reloading

USUAL = "127.0.0.1:8640"
MISSING = "the page needs more packages: pip install '.[page]'"


@contextmanager
def page_beside(garden: Reloading, listen: str | None) -> Iterator[None]:
    """Serve the page for the block where ``listen`` says so; raises Fault where it cannot."""
    if listen is None:
        yield
        return
    try:
        from underbench.daemon.page.serve import deps_of, serving
    except ImportError:
        raise Fault(MISSING) from None
    with serving(deps_of(garden, open_store, supply_of), listen):
        yield


@click.command()
@click.pass_obj
def page(config: Path | None) -> None:
    """Serve the page alone, for looking without the daemon."""
    from underbench.daemon.reloading import Reloading

    garden = Reloading(config_path(config))
    listen = garden.settings().page.listen or USUAL
    with page_beside(garden, listen):
        click.echo(f"The page is at http://{listen} (stop it with Ctrl-C)")
        Event().wait()


@click.command("page-password")
@click.pass_obj
def page_password(config: Path | None) -> None:
    """Set the page's password; whoever was in has to enter it anew."""
    try:
        from underbench.daemon.page.auth import LONGEST, SHORTEST, set_password
    except ImportError:
        raise Fault(MISSING) from None

    settings = settings_of(config)
    asked = f"Password for the page ({SHORTEST} to {LONGEST} characters)"
    password = click.prompt(asked, hide_input=True, confirmation_prompt="Once more")
    with open_store(settings) as store:
        try:
            set_password(store, password, datetime.now(UTC))
        except ValueError as error:
            raise Fault(str(error)) from None
    click.echo("Set. Only its hash is kept, in the database.")
