"""The container's two files agree with the project, as far as can be seen without a container."""

from __future__ import annotations

import re
from pathlib import Path

import yaml

ROOT = Path(__file__).parents[2]
CONTAINERFILE = (ROOT / "deploy" / "Containerfile").read_text("utf-8")
COMPOSE = yaml.safe_load((ROOT / "deploy" / "compose.yaml").read_text("utf-8"))


def test_the_image_holds_what_is_locked_by_hash_and_the_build_can_see_that() -> None:
    (lock,) = re.findall(r"--require-hashes \\\s+-r /src/(\S+)", CONTAINERFILE)
    assert (ROOT / lock).is_file()
    assert f"!{lock}" in (ROOT / ".dockerignore").read_text("utf-8").splitlines()


def test_the_garden_comes_in_as_a_folder_so_that_a_changed_file_is_seen() -> None:
    """A bind mount follows the inode: mounted alone, a file would stay the one renamed away."""
    (config,) = re.findall(r"UNDERBENCH_CONFIG=(\S+)", CONTAINERFILE)
    (mount,) = [one for one in COMPOSE["services"]["underbench"]["volumes"] if "garden" in one]
    assert mount.split(":")[1:] == [str(Path(config).parent), "ro"]


def test_it_is_given_as_long_to_stop_as_systemd_gives() -> None:
    unit = (ROOT / "deploy" / "underbench.service").read_text("utf-8")
    (minutes,) = re.findall(r"^TimeoutStopSec=(\d+)min$", unit, re.MULTILINE)
    assert COMPOSE["services"]["underbench"]["stop_grace_period"] == f"{minutes}m"
