"""The commands of the page: serving it alone, and its password."""

from __future__ import annotations

import logging
import os
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from threading import Event
from typing import TYPE_CHECKING

import click

from underbench.daemon.commands.open_garden import (
    CONFIG_VARIABLE,
    config_path,
    open_store,
    services_of,
    settings_of,
    supply_of,
)
from underbench.daemon.faults import Fault

if TYPE_CHECKING:
    from underbench.daemon.config.reloading import Reloading
    from underbench.daemon.store.message_queue import Message

_log = logging.getLogger("underbench")
USUAL = "127.0.0.1:8640"
LISTEN_VARIABLE = "UNDERBENCH_PAGE__LISTEN"
MISSING = "the page needs more packages: pip install '.[page]'"


@contextmanager
def page_beside(garden: Reloading, listen: str | None) -> Iterator[None]:
    """Serve the page for the block if ``listen`` is set. Raises Fault if it cannot be served."""
    if listen is None:
        yield
        return
    try:
        from underbench.daemon.page.serve import deps_of, serving
    except ImportError:
        raise Fault(MISSING) from None
    with serving(deps_of(garden, open_store, supply_of, services_of), listen):
        yield


@contextmanager
def page_if_it_can_be(garden: Reloading, now: datetime) -> Iterator[None]:
    """Serve the page beside the daemon. If it cannot be served, the daemon watches without it. The
    fault is then logged, and the keeper is told once a day."""
    settings = garden.settings()
    with ExitStack() as served:
        try:
            served.enter_context(page_beside(garden, settings.page.listen))
        except Fault as fault:
            _log.error("no page: %s", fault)
            with open_store(settings) as store:
                store.messages.queue(_no_page(str(fault), now))
        yield


def file_or_asked(config: Path | None, needs_phone: bool) -> Path:
    """Return the path of the garden's file. Where none is named and none is there, its questions
    are asked on the page first: on this machine alone, or where the environment says that the page
    listens. Raises Fault."""
    path = config_path(config)
    if path.exists() or config is not None or os.environ.get(CONFIG_VARIABLE):
        return path
    try:
        from underbench.daemon.page.first import First, ask_first, new_word
    except ImportError:
        raise Fault(f"{path}: no such file; underbench init asks for it") from None
    listen, word = _listen_first(), new_word()
    begun = (
        f"No garden has a file here yet ({path}).\n"
        f"Its questions are at http://{listen}/?word={word}\n"
        f"They ask for this word: {word}"
    )
    ask_first(First(path, listen, word, needs_phone, open_store), lambda: click.echo(begun))
    click.echo(f"Written: {path}")
    return path


def _listen_first() -> str:
    """Where the page listens while there is no file. Raises Fault."""
    from underbench.daemon.config.page_table import PageTable

    try:
        return PageTable(listen=os.environ.get(LISTEN_VARIABLE) or USUAL).listen or USUAL
    except ValueError:
        raise Fault(f"{LISTEN_VARIABLE}: expected an address and a port such as {USUAL}") from None


def _no_page(why: str, now: datetime) -> Message:
    from underbench.daemon.store.message_queue import Message
    from underbench.rules.hazards.findings import Strength

    return Message(
        key=f"no page {now:%Y-%m-%d}",
        title="NO PAGE: the garden is watched without it",
        body=f"{why[:600]}. Put that right and start Underbench again.",
        strength=Strength.ACT,
        queued_at=now,
    )


@click.command()
@click.pass_obj
def page(config: Path | None) -> None:
    """Serve the page alone, without the daemon.

    Without a garden's file it asks a few questions first, as init does."""
    from underbench.daemon.config.reloading import Reloading

    garden = Reloading(file_or_asked(config, needs_phone=False))
    listen = garden.settings().page.listen or USUAL
    with page_beside(garden, listen):
        click.echo(f"The page is at http://{listen} (stop it with Ctrl-C)")
        Event().wait()


@click.command("page-password")
@click.pass_obj
def page_password(config: Path | None) -> None:
    """Set the page's password.

    Everybody who was in has to enter the new one."""
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
