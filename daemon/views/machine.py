"""What a check-up looks at on the machine: its clock, its disk, and who can read the secrets."""

from __future__ import annotations

import platform
import shutil
import sqlite3
import stat
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from zoneinfo import ZoneInfo

from underbench.daemon.config.environment import SECRET_FILES, secrets_folder
from underbench.daemon.config.tomlfile import read_toml
from underbench.daemon.faults import Fault
from underbench.daemon.store.store import Store

MANAGED = Path("/run")
LEAST_FREE_MB = 200  # years of growth, and room for a copy
# Underbench did not exist before this.
BEFORE_THIS_NO_CLOCK_IS_RIGHT = datetime(2024, 1, 1, tzinfo=UTC)
NOT_SET = "the clock says {:%Y-%m-%d %H:%M} UTC: nothing is judged before it is set (timedatectl)"
SET_BACK = timedelta(minutes=10)
OTHERS = stat.S_IRGRP | stat.S_IROTH


def versions() -> str:
    """Return what runs here: Underbench, Python, SQLite."""
    try:
        own = version("underbench")
    except PackageNotFoundError:
        own = "not installed"
    return f"Underbench {own}, Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}"


def is_set(now: datetime) -> bool:
    """Return whether the clock may be right. A board without a battery starts in 1970, until the
    network sets its clock."""
    return now >= BEFORE_THIS_NO_CLOCK_IS_RIGHT


def clock(store: Store, timezone: str, now: datetime) -> str:
    """Return what the clock shows in the garden. Raises Fault if it cannot be right."""
    if not is_set(now):
        raise Fault(NOT_SET.format(now))
    local = now.astimezone(ZoneInfo(timezone))
    last = store.messages.last_queued()
    if last and last > now + SET_BACK:
        here, then = (f"{moment:%Y-%m-%d %H:%M} UTC" for moment in (now, last))
        raise Fault(f"it is {here} here, but a message was written {then}: set it (timedatectl)")
    return f"{local:%A} {local.day} {local:%B %Y %H:%M} in {timezone}"


def disk(database: Path) -> str:
    """Return how much room the disk with the database has left. Raises Fault if that is too
    little."""
    free_mb = shutil.disk_usage(database.parent).free / 1e6
    if free_mb < LEAST_FREE_MB:
        raise Fault(f"{free_mb:.0f} MB left for the database: make room")
    size_mb = database.stat().st_size / 1e6
    return f"{free_mb / 1000:.1f} GB left; the database has {size_mb:.1f} MB"


def exposed(config: Path, env: Mapping[str, str]) -> Iterator[str]:
    """Yield what to do for each file with secrets that other users of the machine can read."""
    folder = secrets_folder(config, env)
    # Below /run whoever starts services or containers decides who sees what.
    own = folder and MANAGED not in folder.parents
    files = sorted(folder.iterdir()) if folder and own else []
    if _holds_secrets(config):
        files.append(config)
    for path in files:
        if path.is_file() and path.stat().st_mode & OTHERS:
            yield f"{path}: others on this machine can read it: chmod 600 {path.name}"


def _holds_secrets(config: Path) -> bool:
    """Whether a garden's file holds addresses or keys. The file has been read without fault."""
    raw, _ = read_toml(config)
    own = [one for one in raw.get("stand_in", []) if one.get("urls")]
    secrets = SECRET_FILES.values()
    return bool(own) or any(raw.get(str(part), {}).get(str(key)) for part, key in secrets)
