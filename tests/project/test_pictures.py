"""The README's pictures: deploy/make_pictures.py draws what is really told and served."""

from __future__ import annotations

import runpy
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from underbench.daemon.charts.png import png
from underbench.daemon.page.app import create_app

ROOT = Path(__file__).parents[2]
DEPLOY = ROOT / "deploy"
PNG = b"\x89PNG\r\n\x1a\n"


@pytest.fixture(scope="module")
def drawing() -> dict[str, Any]:
    return runpy.run_path(str(DEPLOY / "make_pictures.py"))


@pytest.fixture(scope="module")
def evening(drawing: dict[str, Any], tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    with drawing["evening"](tmp_path_factory.mktemp("garden")) as found:
        yield found


def test_the_message_is_drawn_word_for_word_with_its_chart(
    drawing: dict[str, Any], evening: Any
) -> None:
    _, message = evening
    svg = drawing["on_a_phone"](message)
    assert f"A message: {message.title}," in (ROOT / "README.md").read_text(encoding="utf-8")
    for word in f"{message.title} {message.body}".split():
        assert word in svg.replace("\u00a0", " ")
    assert "data:image/png;base64," in svg
    assert (png(svg) or b"").startswith(PNG)


def test_the_page_is_served_as_it_was_that_evening(drawing: dict[str, Any], evening: Any) -> None:
    garden, _ = evening
    shown = create_app(drawing["then"](garden)).test_client().get("/").text
    assert "into the shelter" in shown
    assert "by 20:13" in " ".join(shown.split())


@pytest.mark.parametrize("name", ["message.png", "page.png"])
def test_both_pictures_are_there(name: str) -> None:
    assert (DEPLOY / "pictures" / name).read_bytes().startswith(PNG)
