"""What the container installs is locked by hash, and its licences are listed."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[2]
LOCK = (ROOT / "deploy" / "requirements.lock").read_text(encoding="utf-8")


def plain(name: str) -> str:
    """A package's name, normalized by PyPA's specification "Names and normalization"."""
    return re.sub(r"[-_.]+", "-", name).lower()


def locked() -> dict[str, str]:
    """Each package of the lock file, with the lines below it."""
    found = re.split(r"^([\w.-]+)==", LOCK, flags=re.M)[1:]
    return {plain(name): rest for name, rest in zip(found[::2], found[1::2], strict=True)}


def test_all_that_is_wanted_is_locked_with_every_extra_as_none_can_be_added_to_an_image() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"].items()
    wanted = [*project["dependencies"], *(one for x, ones in extras if x != "test" for one in ones)]
    names = {plain(re.match(r"[\w.-]+", one)[0]) for one in wanted}  # type: ignore[index]
    assert names <= locked().keys()


def test_each_has_hashes_and_no_address() -> None:
    assert all("--hash=sha256:" in below for below in locked().values())
    assert "://" not in LOCK


def test_each_has_its_licence_listed() -> None:
    listed = (ROOT / "deploy" / "LICENCES.md").read_text(encoding="utf-8")
    rows = {plain(name) for name in re.findall(r"^\| ([\w.-]+) \| \d", listed, re.M)}
    assert rows == set(locked())
