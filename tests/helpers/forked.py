"""The command as a program of its own, without waiting for its imports each time.

A server that has imported it once forks each program. A fork ends, is killed and is refused what it
asks for like any other program.
"""

from __future__ import annotations

import multiprocessing
import os
import sys
from multiprocessing.process import BaseProcess
from pathlib import Path
from subprocess import CompletedProcess

LONG_S = 60.0  # more than anything that works needs
_SERVER = multiprocessing.get_context("forkserver")
_SERVER.set_forkserver_preload(
    [
        "underbench.daemon.commands.cli",
        "underbench.daemon.commands.open_garden",
        "underbench.daemon.rehearsal.pass_report",
        "underbench.daemon.running.scheduler",
    ]
)


class Forked:
    """``program`` (Python) run with ``words`` as its arguments, in ``folder``."""

    def __init__(self, program: str, words: list[str], folder: Path) -> None:
        self._said = folder / "said.txt", folder / "complained.txt"
        given = program, words, folder, self._said
        self._process: BaseProcess = _SERVER.Process(target=_run, args=given)
        self._process.start()

    def ask_to_stop(self) -> None:
        """Send SIGTERM."""
        self._process.terminate()

    def kill(self) -> None:
        """Send SIGKILL and wait for the end."""
        self._process.kill()
        self.done()

    def done(self) -> CompletedProcess[str]:
        """Wait for the end. A code below zero is the signal that ended it."""
        self._process.join(LONG_S)
        code = self._process.exitcode
        assert code is not None, "it does not end"
        out, err = (path.read_text(encoding="utf-8") for path in self._said)
        return CompletedProcess([], code, out, err)


def _run(program: str, words: list[str], folder: Path, said: tuple[Path, Path]) -> None:
    for number, path in enumerate(said, 1):
        os.dup2(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), number)
    for name in [name for name in os.environ if "UNDERBENCH" in name]:
        del os.environ[name]
    os.chdir(folder)
    sys.argv = ["-c", *words]
    exec(program, {"__name__": "__main__"})
