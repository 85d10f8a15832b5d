"""Options that several commands share: --at, --from and --to, --json."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import click

REALLY_NOW = timedelta(minutes=10)
FIRST_YEAR, LAST_YEAR = 1970, 2200  # beyond these no weather is known and clocks overflow


def _moment(_ctx: click.Context, _param: click.Parameter, value: str | None) -> datetime:
    """Read --at as ISO 8601. Without an offset it is UTC."""
    return datetime.now(UTC) if value is None else _read_moment(value)


def bound(_ctx: click.Context, _param: click.Parameter, value: str | None) -> datetime | None:
    """Read --from or --to like --at; None if not given. Raises click.BadParameter."""
    return None if value is None else _read_moment(value)


def _read_moment(value: str) -> datetime:
    try:
        moment = datetime.fromisoformat(value)
        moment = moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
        if not FIRST_YEAR <= moment.year <= LAST_YEAR:
            raise ValueError
    except (ValueError, OverflowError):
        raise click.BadParameter(
            f"{value!r}: expected a moment like 2027-04-20T17:00 (UTC) or 2027-04-20T17:00+02:00"
        ) from None
    return moment


def is_pretended(now: datetime) -> bool:
    """Return whether ``now`` is another time than the clock's."""
    return abs(now - datetime.now(UTC)) > REALLY_NOW


at_option = click.option(
    "--at", "now", metavar="MOMENT", callback=_moment, help="Answer as if it were then (UTC)."
)

json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print it as JSON, for programs."
)
