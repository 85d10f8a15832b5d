"""The command that notes the keeper's own readings: reading."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from underbench.daemon.commands.note import day_option
from underbench.daemon.commands.open_garden import garden_of
from underbench.daemon.commands.options import json_option


# A value below zero begins with a dash, like an option.
@click.command(context_settings={"ignore_unknown_options": True})
@click.argument("value")
@click.argument("quantity")
@click.argument("names", metavar="[SPOT|TREE]", nargs=-1)
@day_option
@click.option(
    "--at", "clock", metavar="TIME", help="The time of day, such as 06:30. Without it: now."
)
@json_option
@click.pass_obj
def reading(
    config: Path | None,
    value: str,
    quantity: str,
    names: Sequence[str],
    day: str | None,
    clock: str | None,
    as_json: bool,
) -> None:
    """Note what your own thermometer or gauge showed.

    QUANTITY is one of: air, air-min (the lowest of the night), bench-surface, root-ball, bag,
    frame, rain, wind. VALUE is in your units, or names its own: 31F, -2.5C, 0.4in, 12km/h."""
    from underbench.daemon.readings import answers as reading_notes
    from underbench.daemon.wording.json_form import document

    with garden_of(config) as (settings, store):
        said = reading_notes.Said(value, quantity, " ".join(names), day, clock)
        answer = reading_notes.note_reading(store, settings, said)
    click.echo(document({"answer": answer.splitlines()}) if as_json else answer)
