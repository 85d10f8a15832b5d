"""The command that notes the keeper's own readings: reading."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from underbench.daemon.commands.note import day_option
from underbench.daemon.commands.open_garden import garden_of
from underbench.daemon.commands.options import json_option
from underbench.daemon.faults import Fault


# A value below zero begins with a dash, like an option.
@click.command(context_settings={"ignore_unknown_options": True})
@click.argument("value", required=False)
@click.argument("quantity", required=False)
@click.argument("names", metavar="[SPOT|TREE]", nargs=-1)
@day_option
@click.option(
    "--at", "clock", metavar="TIME", help="The time of day, such as 06:30. Without it: now."
)
@click.option(
    "--new-sensor",
    metavar="SPOT",
    help="Forget what the thermometer at SPOT taught ('garden': the garden's own screen).",
)
@json_option
@click.pass_obj
def reading(
    config: Path | None,
    value: str | None,
    quantity: str | None,
    names: Sequence[str],
    day: str | None,
    clock: str | None,
    new_sensor: str | None,
    as_json: bool,
) -> None:
    """Note what your own thermometer or gauge showed.

    QUANTITY is one of: air, air-min (the lowest of the night), bench-surface, root-ball, bag,
    frame, rain, wind. VALUE is in your units, or names its own: 31F, -2.5C, 0.4in, 12km/h.

    Use --new-sensor, and nothing else, after a thermometer was exchanged or moved."""
    from underbench.daemon.readings import answers as reading_notes
    from underbench.daemon.readings.new_sensor import forget_sensor
    from underbench.daemon.wording.json_form import document

    if new_sensor is not None and any((value, day, clock)):
        raise Fault("--new-sensor stands alone, without a value, a day or a time")
    with garden_of(config) as (settings, store):
        if new_sensor is not None:
            answer = forget_sensor(store, settings, new_sensor)
        elif value is None or quantity is None:
            raise Fault("reading: expected VALUE and QUANTITY, such as -2.5 air-min")
        else:
            said = reading_notes.Said(value, quantity, " ".join(names), day, clock)
            answer = reading_notes.note_reading(store, settings, said)
    click.echo(document({"answer": answer.splitlines()}) if as_json else answer)
