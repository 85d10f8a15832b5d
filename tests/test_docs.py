"""The README is true: every command it names exists, every command is named, paths are there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from underbench.daemon.cli import main

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_every_command_is_in_the_readme_and_every_one_named_exists() -> None:
    named = set(re.findall(r"`?underbench ([a-z]+)", README))
    assert set(main.commands) <= named
    assert named <= set(main.commands)


@pytest.mark.parametrize("name", sorted(main.commands))
def test_every_command_has_help(name: str) -> None:
    assert main.commands[name].help


def test_every_module_of_the_guide_exists() -> None:
    for folder in ("rules", "daemon"):
        block = GUIDE.split(f"\n{folder}/\n", 1)[1].split("```", 1)[0].split("\ndaemon/\n", 1)[0]
        for name in re.findall(r"\b([a-z0-9_]+\.(?:py|toml))\b", block):
            assert list((ROOT / folder).rglob(name)), f"{folder}/{name}"


def test_both_commands_of_the_readme_are_scripts() -> None:
    for name in re.findall(r"^sh (deploy/\w+)$", README, re.MULTILINE):
        assert (ROOT / name).is_file()
    assert re.findall(r"^sh (deploy/\w+)$", README, re.MULTILINE) == ["deploy/start", "deploy/test"]
