"""The container's two files hold to the rest of the project, so far as can be seen without one."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).parent.parent
CONTAINERFILE = (ROOT / "deploy" / "Containerfile").read_text("utf-8")


def test_the_image_holds_every_extra_as_none_can_be_added_to_it() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    (held,) = re.findall(r"'/src\[(.+)\]'", CONTAINERFILE)
    assert held.split(",") == sorted(project["optional-dependencies"].keys() - {"test"})
