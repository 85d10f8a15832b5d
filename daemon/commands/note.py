"""The commands that write the journal: did, moved, seen, watered, handled, outcome, undo."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from underbench.daemon.commands.open_garden import garden_of
from underbench.daemon.commands.options import json_option
from underbench.daemon.config.slips import number_hint

if TYPE_CHECKING:
    from underbench.daemon.config.settings import Settings
    from underbench.daemon.journal.works import Told
    from underbench.daemon.store.store import Store
    from underbench.rules.garden.journal import Entry


NOTES_LISTED = 20


class Percent(click.ParamType[float]):
    """A share in percent, with or without its sign."""

    name = "percent"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Return the number. Fails unless it is from 0 to 100."""
        try:
            percent = float(str(value).rstrip().removesuffix("%"))
        except ValueError:
            percent = -1.0
        if not 0.0 <= percent <= 100.0:
            self.fail(f"{value!r}: expected 0 to 100, such as 40%", param, ctx)
        return percent


class _Volume(click.ParamType[float]):
    """A volume up to ``most``. The ranges of click let NaN through."""

    name = "volume"

    def __init__(self, most: float) -> None:
        self._most = most

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Return the number. Fails unless it is above 0 and at most ``most``."""
        try:
            volume = float(value)
        except ValueError:
            volume = -1.0
        if not 0.0 < volume <= self._most:
            hint = number_hint(str(param.name if param else ""), str(value))
            expected = hint or f"expected more than 0, up to {self._most:g}"
            self.fail(f"{value!r}: {expected}", param, ctx)
        return volume


day_option = click.option(
    "--on", "day", metavar="DAY", help="The day it was, such as 2027-04-20. Without it: today."
)


def note_and_answer(
    config: Path | None, as_json: bool, note: Callable[[Settings, Store], str]
) -> None:
    """Have ``note`` write the journal, and print its answer. JSON has the entries too."""
    from underbench.daemon.wording.json_form import document

    with garden_of(config) as (settings, store):
        before = store.journal.last_number()
        with store.notes.noting(datetime.now(UTC)):  # all of it can be taken back together
            answer = note(settings, store)
        noted = [_entry(one) for one in store.journal.after(before)]
    body = {"answer": answer.splitlines(), "noted": noted}
    click.echo(document(body) if as_json else answer)


def _entry(entry: Entry) -> dict[str, Any]:
    """An entry for programs. A tree that it makes is given by name."""
    made = getattr(entry, "makes", None)
    return dict(entry) | ({"makes": made.name} if made else {})


@click.command()
@click.argument("work")
@click.argument("names", metavar="TREE...", nargs=-1, required=True)
@click.option("--roots", "roots_pct", type=Percent(), help="The share of roots cut, such as 40%.")
@click.option("--into", metavar="CONTAINER", help="The new container: pot, pond-basket, bed …")
@click.option("--litres", type=_Volume(5000), help="Litres of mix in it.")
@click.option("--gallons", type=_Volume(1320), help="US gallons of mix in it.")
@click.option(
    "--as",
    "new_name",
    metavar="NAME",
    help="Name the tree that a layer or division became.",
)
@click.option("--film", type=click.Choice(["dark", "clear"]), help="What the bag is made of.")
@day_option
@json_option
@click.pass_obj
def did(
    config: Path | None,
    /,
    work: str,
    names: Sequence[str],
    day: str | None,
    as_json: bool,
    **details: Any,
) -> None:
    """Note WORK that you did to trees.

    \b
    WORK is one of:
      repot, slip-pot, root-prune, divide, collect
      chop, hard-prune, defoliate, wire, unwire, support-limb, feed
      start-layer, sever-layer, bag, slit-bag, open-bag, unbag
      check-bag, check-wire, check-moss (you looked there)
      check (you looked at all that is open)
    """
    from underbench.daemon.journal import noting, works

    kind, trees = works.work_first((work, *names))
    told = _told(**details)

    def note(settings: Settings, store: Store) -> str:
        trees_ = noting.trees_named(settings, trees)
        at = noting.moment_of(day, settings)
        return works.note_work(store, settings, trees_, kind, at, told)

    note_and_answer(config, as_json, note)


def _told(
    roots_pct: float | None,
    into: str | None,
    litres: float | None,
    gallons: float | None,
    new_name: str | None,
    film: str | None,
) -> Told:
    from underbench.daemon.config.defaults import either
    from underbench.daemon.journal.works import Told, container_named
    from underbench.daemon.wording.units import LITRES_PER_GALLON
    from underbench.rules.garden.journal import Film

    if litres is not None and gallons is not None:
        raise click.UsageError("give --litres or --gallons, only one of them")
    return Told(
        roots_pct=roots_pct,
        film=Film(film) if film else None,
        into=container_named(into) if into else None,
        litres=either(litres, gallons, LITRES_PER_GALLON),
        new_name=new_name,
    )


@click.command()
@click.argument("names", metavar="TREE... SPOT", nargs=-1, required=True)
@day_option
@json_option
@click.pass_obj
def moved(config: Path | None, names: Sequence[str], day: str | None, as_json: bool) -> None:
    """Note that you carried trees to SPOT.

    With "home" as SPOT each went to where it belongs."""
    from underbench.daemon.journal import noting

    def note(settings: Settings, store: Store) -> str:
        trees, spot = noting.spot_at_the_end(settings, names)
        if not trees:
            raise click.UsageError("name one tree or more, and then the spot")
        trees_ = noting.trees_named(settings, trees)
        at = noting.moment_of(day, settings)
        return noting.note_move(store, settings, trees_, spot, at)

    note_and_answer(config, as_json, note)


@click.command()
@click.argument("stage")
@click.argument("names", metavar="TREE...|SPOT|SPECIES", nargs=-1, required=True)
@day_option
@json_option
@click.pass_obj
def seen(
    config: Path | None, stage: str, names: Sequence[str], day: str | None, as_json: bool
) -> None:
    """Note the STAGE at which you saw trees.

    STAGE is one of: dormant, bud-swell, leafing-out, extending, hardened, colouring; of flowers:
    flower-bud, flowering, petal-fall, young-fruit, flowers-over. A spot or a species stands for all
    of its trees. What you saw replaces the estimate, and sets the pace of
    the years after."""
    from underbench.daemon.journal import noting

    seen_, trees = noting.stage_first((stage, *names))

    def note(settings: Settings, store: Store) -> str:
        at = noting.moment_of(day, settings)
        trees_ = noting.trees_meant(store, settings, trees, at)
        return noting.note_stage(store, settings, trees_, seen_, at)

    note_and_answer(config, as_json, note)


@click.command()
@click.argument("names", metavar="TREE...", nargs=-1, required=True)
@click.option("--moss", is_flag=True, help="You watered the moss of its layer, not the pot.")
@day_option
@json_option
@click.pass_obj
def watered(
    config: Path | None, names: Sequence[str], moss: bool, day: str | None, as_json: bool
) -> None:
    """Note a watering beside the routine."""
    from underbench.daemon.journal import noting

    def note(settings: Settings, store: Store) -> str:
        trees_ = noting.trees_named(settings, names)
        at = noting.moment_of(day, settings)
        return noting.note_watering(store, settings, trees_, at, moss=moss)

    note_and_answer(config, as_json, note)


@click.command()
@click.argument("names", metavar="[TREE...|SPOT|SPECIES]", nargs=-1)
@day_option
@json_option
@click.pass_obj
def handled(config: Path | None, names: Sequence[str], day: str | None, as_json: bool) -> None:
    """Note that you did what a message asked for.

    Trees then count as carried to the spot that was named, pots as watered, bags as opened. A spot
    or a species stands for all of its trees. Without a name every job told counts as done."""
    from underbench.daemon.journal import noting
    from underbench.daemon.journal.mark_done import note_handled

    def note(settings: Settings, store: Store) -> str:
        return note_handled(store, settings, names, noting.moment_of(day, settings))

    note_and_answer(config, as_json, note)


@click.command()
@click.argument("words", metavar="TREE... fine|damaged|lost", nargs=-1, required=True)
@click.option(
    "--night",
    "day",
    metavar="DAY",
    help="The day on which the night began, such as 2027-04-20. Without it: the last danger told.",
)
@json_option
@click.pass_obj
def outcome(config: Path | None, words: Sequence[str], day: str | None, as_json: bool) -> None:
    """Note how trees came through a night.

    The answer is kept with the forecast of the night and with what the trees felt."""
    from underbench.daemon.journal import outcomes

    def note(settings: Settings, store: Store) -> str:
        return outcomes.note_outcome(store, settings, words, day, datetime.now(UTC))

    note_and_answer(config, as_json, note)


@click.command()
@click.argument("names", metavar="[TREE...]", nargs=-1)
@json_option
@click.pass_obj
def accept(config: Path | None, names: Sequence[str], as_json: bool) -> None:
    """Take on the limits that your noted nights ask for.

    With TREE they are written into the garden's file. Without it they are only shown."""
    from underbench.daemon.journal import borne, noting
    from underbench.daemon.wording.json_form import document, part
    from underbench.daemon.wording.units import Units

    with garden_of(config) as (settings, store):
        units = Units(settings.units)
        trees = noting.trees_named(settings, names) if names else settings.trees
        found = (borne.accept if names else borne.proposals)(store, settings, trees)
        lines = [one.words(units) for one in found]
        if names:
            lines = [f"Written into {settings.file}: {borne.written(one, units)}" for one in found]
    if as_json:
        asked = [part(one, "tree", "key", "now_c", "to_c") for one in found]
        click.echo(document({"written": bool(names), "proposed": asked}))
    else:
        click.echo("\n".join(lines) or "Your noted nights ask for no other limit.")


@click.command()
@click.option(
    "--list", "listing", is_flag=True, help="Show what you noted lately, and change nothing."
)
@click.pass_obj
def undo(config: Path | None, listing: bool) -> None:
    """Take back all that you noted last.

    A second undo takes back what you noted before that."""
    from underbench.daemon.journal import undo as undoing
    from underbench.daemon.page.last_pass import back_in_ahead

    with garden_of(config) as (settings, store):
        if listing:
            click.echo(undoing.notes_text(store.notes.latest(NOTES_LISTED), settings))
        else:
            note = undoing.undo(store, settings, datetime.now(UTC))
            back_in_ahead(store, note)
            click.echo(undoing.undone_text(note, settings))
