"""The command as a keeper types it, for the tests: a garden's folder and the weather service."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from click.testing import CliRunner, Result
from ensemble_service import body_from
from forked import Forked
from garden_toml import BENCH, EMBER, HANDS_ON, HEATH, MEANS, PLACE, SHED
from openmeteo_service import Query, Reply, StandIn, serving
from runs import run_of

from underbench.daemon.commands.cli import main
from underbench.daemon.store.store import Store
from underbench.rules.garden.journal import Watering
from underbench.rules.weather.hourly import Weather

# A failing weather service is asked again, and urllib3 would pause before.
NO_PAUSES = "import urllib3 as u; u.Retry.sleep = lambda self, response=None: None; "
COMMAND = "from underbench.daemon.commands.cli import main; main(prog_name='underbench')"
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
FIRST_DAY = datetime(2024, 3, 5, tzinfo=UTC)  # seven weeks of spring before the frost
FROST_DAY = datetime(2024, 4, 24, tzinfo=UTC)
EVENING = datetime(2024, 4, 23, 15, 10, tzinfo=UTC)  # 17:10 in the garden, a Tuesday
NOTED = Watering(tree="Heath", at=EVENING - 9 * DAY)


HEAD = PLACE + HANDS_ON + MEANS + BENCH + SHED + "room = 1\nmax_litres = 20\n"


class Service:
    """The weather service on the loopback, and that of its ensemble. ``answer``, how many
    ``members`` there are, and ``ensemble``, which answers instead of them, may be changed while it
    runs; ``asked`` and ``asked_members`` are what each was asked."""

    def __init__(self, weather: Weather) -> None:
        self.weather, self.now = weather, EVENING
        self.answer: Callable[[Query], bytes | Reply] = self.good
        self.members = 51  # as the keeper's default has
        self.ensemble: bytes | Reply | None = None
        self.asked: list[Query] = []
        self.asked_members: list[Query] = []

    def good(self, query: Query) -> bytes | Reply:
        return serving(run_of(self.weather, self.now), lambda: self.now)(query)

    def __call__(self, query: Query) -> bytes | Reply:
        if "models" in query:
            self.asked_members.append(query)
            return self.ensemble or body_from(self.weather, self.now, self.members)
        self.asked.append(query)
        return self.answer(query)


class Garden:
    """A garden's folder, and the command run for it."""

    def __init__(self, folder: Path, service: Service, server: StandIn) -> None:
        self.folder, self.service, self.server = folder, service, server
        self.config, self.database = folder / "garden.toml", folder / "underbench.db"
        self.write(HEAD + EMBER + HEATH)

    def write(self, toml: str, url: str | None = None) -> None:
        where = url or self.server.url
        source = f'\n[weather]\nbase_url = "{where}"\nensemble_url = "{where}"\ntimeout_s = 5\n'
        source += '[store]\npath = "underbench.db"\n'
        self.config.write_text(toml + source, encoding="utf-8")

    def go_offline(self) -> None:
        """Point the file to a port on which nothing listens any more."""
        with StandIn(lambda _query: b"") as gone:
            url = gone.url
        text = self.config.read_text(encoding="utf-8")
        self.config.write_text(text.replace(self.server.url, url), encoding="utf-8")

    def do(self, *words: str, typed: str | None = None) -> Result:
        """Run the command in this process; ``typed`` is what the keeper answers."""
        return CliRunner().invoke(main, ["--config", str(self.config), *words], input=typed)

    def started(self, *words: str, program: str = COMMAND) -> Forked:
        """Start the command as a program of its own."""
        return Forked(program, ["--config", str(self.config), *words], self.folder)

    def command(self, *words: str, program: str = COMMAND) -> subprocess.CompletedProcess[str]:
        """Run the command as a program of its own."""
        return self.started(*words, program=program).done()

    def command_anew(self, *words: str, program: str) -> subprocess.CompletedProcess[str]:
        """Run the command as a program that has imported nothing yet."""
        env = {key: value for key, value in os.environ.items() if "UNDERBENCH" not in key}
        return subprocess.run(
            [sys.executable, "-c", program, "--config", str(self.config), *words],
            env={**env, "PYTHONPATH": os.pathsep.join(sys.path)},
            cwd=self.folder,
            capture_output=True,
            encoding="utf-8",
            timeout=120,
            check=False,
        )

    def seen_at(self, *words: str, at: datetime = EVENING) -> dict[str, Any]:
        """What ``once --json`` prints; nothing is kept."""
        done = self.do("once", "--json", "--dry-run", "--at", stamp(at), *words)
        assert done.exit_code == 0, done.output
        return strict_json(done.stdout)

    def note(self) -> None:
        with Store.open(self.database) as store:
            store.journal.add([NOTED])

    def intact(self) -> bool:
        """Whether the journal is as ``note`` left it, and the database sound."""
        with Store.open(self.database) as store:
            sound = list(store.db.query("PRAGMA integrity_check"))
            return store.journal.entries() == [NOTED] and sound == [{"integrity_check": "ok"}]


def stamp(moment: datetime) -> str:
    return moment.isoformat()


def strict_json(text: str) -> dict[str, Any]:
    """Read JSON by RFC 8259, which has no NaN and no Infinity."""

    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is not JSON")

    read = json.loads(text, parse_constant=refuse)
    assert isinstance(read, dict)
    return read


def fails(done: Result | subprocess.CompletedProcess[str], *words: str) -> str:
    """Assert exit code 2 and one line for the keeper on stderr with ``words``; return the line."""
    code = done.exit_code if isinstance(done, Result) else done.returncode
    assert code == 2, done
    assert "Traceback" not in done.stdout + done.stderr
    (line,) = done.stderr.splitlines()
    for word in words:
        assert word in line, line
    return line


@contextmanager
def not_root() -> Iterator[None]:
    """Run the block without the rights of root, to whom nothing is denied."""
    root = os.geteuid() == 0
    if root:
        os.seteuid(65534)
    try:
        yield
    finally:
        if root:
            os.seteuid(0)
