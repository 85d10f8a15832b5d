"""Draws the README's two pictures, a message and the page on a phone, and the page's icons.

    .venv/bin/pip install '.[charts,page]'      # and Debian's chromium and fonts-dejavu-core
    .venv/bin/python deploy/make_pictures.py    # into deploy/pictures/

The garden is the invented one of config_examples/first_garden.toml, the weather is invented too.
What stands in the pictures is what the daemon tells and serves. Nothing leaves this machine.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from base64 import b64encode
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from textwrap import wrap
from xml.sax.saxutils import escape

import numpy as np
from resvg_py import svg_to_bytes

from underbench.daemon.alerts.hourly_pass import run_pass
from underbench.daemon.charts.png import png
from underbench.daemon.commands.open_garden import open_store, services_of, supply_of
from underbench.daemon.config.reloading import Reloading
from underbench.daemon.page.context import Deps
from underbench.daemon.page.last_pass import keep_ahead
from underbench.daemon.page.serve import deps_of, serving
from underbench.daemon.store.store import Message
from underbench.rules.garden.inventory import Garden
from underbench.rules.garden.journal import Sighting, Stage, Work, WorkKind
from underbench.rules.weather.fill_gaps import complete
from underbench.rules.weather.hourly import HOUR_S, Weather, from_columns

HERE = Path(__file__).resolve().parent
# The weather service on the loopback is one that the tests share.
sys.path.insert(0, str(HERE.parent / "tests" / "helpers"))
from openmeteo_service import StandIn  # noqa: E402
from openmeteo_service import serving as forecasts  # noqa: E402

EXAMPLE = HERE.parent / "config_examples" / "first_garden.toml"
NOW = datetime(2027, 4, 20, 16, 5, tzinfo=UTC)  # a Tuesday, five past five by the garden's clock
DAY = timedelta(days=1)
NOTED = (
    Work(tree="Ember", at=NOW - 30 * DAY, work=WorkKind.REPOT, roots_pct=30),
    Work(tree="Thorn", at=NOW - 43 * DAY, work=WorkKind.CHOP),
    Sighting(tree="Ember", at=NOW - 6 * DAY, stage=Stage.LEAFING_OUT),
    Sighting(tree="Lane", at=NOW - 4 * DAY, stage=Stage.LEAFING_OUT),
)

# The message is drawn in pixels of a phone's screen.
SCREEN, EDGE, LINE = 720, 28, 34
CHARACTERS, IN_TITLE = 47, 32  # as many as fit on a line in DejaVu Sans
PHONE_PAGE = "500,620"  # Chromium makes no window narrower than 500


def weather(garden: Garden) -> Weather:
    """A mild spring, and one clear night of frost after ``NOW``."""
    first = int((NOW - 100 * DAY).replace(hour=0, minute=0).timestamp())
    times = first + HOUR_S * np.arange(1, 110 * 24 + 1)
    clock = times % (24 * HOUR_S) / HOUR_S
    frost_k = 3.0 * np.exp(-(((times - NOW.timestamp()) / HOUR_S - 12.0) ** 2) / 40.0)
    air_c = 9.0 - 5.0 * np.cos((clock - 4) / 12 * np.pi) - frost_k
    calm = np.full(len(times), 0.8)
    return complete(
        from_columns(times, {"air_c": air_c, "dew_c": air_c - 5.0, "wind_ms": calm}), garden
    )[0]


@contextmanager
def evening(folder: Path) -> Iterator[tuple[Reloading, Message]]:
    """The garden after the pass of ``NOW``, and the first message of that pass."""
    config = folder / "garden.toml"
    text = EXAMPLE.read_text(encoding="utf-8")
    config.write_text(f'{text}\n[store]\npath = "garden.db"\n', encoding="utf-8")
    made = weather(Reloading(config).settings().garden)
    with StandIn(forecasts(made, lambda: NOW)) as service:
        config.write_text(
            f'{text}\n[store]\npath = "garden.db"\n[weather]\nbase_url = "{service.url}"\n',
            encoding="utf-8",
        )
        garden = Reloading(config)
        settings = garden.settings()
        with open_store(settings) as store:
            store.journal.add(list(NOTED))
            done = run_pass(settings, store, supply_of(settings, store), NOW)
            keep_ahead(store, done)
        yield garden, done.messages[0]


def then(garden: Reloading) -> Deps:
    """What the page works with, its clock stopped at ``NOW``."""
    return replace(deps_of(garden, open_store, supply_of, services_of), now=lambda: NOW)


def on_a_phone(message: Message) -> str:
    """A message as a dark screen shows it, as SVG: title, words, chart."""
    body = message.body.replace(" °C", "\u00a0°C")  # a number stays with its unit
    lines = [
        part
        for line in body.split("\n")
        for part in [*wrap(line, CHARACTERS, break_on_hyphens=False), ""]
    ]
    title = wrap(message.title, IN_TITLE)
    top = EDGE * 2
    words = [_text(line, top + LINE * n, 30, bold=True) for n, line in enumerate(title, 1)]
    top += LINE * len(title) + EDGE // 2
    y = float(top)
    for line in lines:
        y += LINE if line else LINE / 3
        words.append(_text(line, y, 25))
    chart, height = _chart(message.picture, y + EDGE)
    bottom = y + EDGE + height
    card = f'<rect x="{EDGE}" y="{EDGE}" width="{SCREEN - 2 * EDGE}" height="{bottom:.0f}" '
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{SCREEN}" height="{bottom + 2 * EDGE:.0f}"'
        ' font-family="DejaVu Sans">'
        f'<rect width="{SCREEN}" height="100%" rx="36" fill="#10140f"/>'
        f'{card}rx="24" fill="#262c24"/>{"".join(words)}{chart}</svg>'
    )


def _text(words: str, y: float, size: int, *, bold: bool = False) -> str:
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{2 * EDGE}" y="{y:.0f}" font-size="{size}"{weight} fill="#eef1e8">'
        f"{escape(words)}</text>"
    )


def _chart(svg: str, top: float) -> tuple[str, float]:
    """The message's own chart as it is sent, and how high it is drawn."""
    drawn = png(svg)
    if drawn is None:
        sys.exit("the chart cannot be drawn: pip install '.[charts]'")
    across, down = (int.from_bytes(drawn[at : at + 4]) for at in (16, 20))  # PNG, IHDR
    width = SCREEN - 4 * EDGE
    height = width * down / across
    return (
        f'<image x="{2 * EDGE}" y="{top:.0f}" width="{width}" height="{height:.0f}" '
        f'href="data:image/png;base64,{b64encode(drawn).decode()}"/>'
    ), height


def photograph(url: str, picture: Path, folder: Path) -> None:
    """Have Chromium draw a page into ``picture``."""
    browser = shutil.which("chromium")
    if browser is None:
        sys.exit("no chromium here (Debian: apt install chromium)")
    words = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"]
    words += ["--disable-background-networking", "--disable-component-update", "--disable-sync"]
    words += [f"--user-data-dir={folder / 'browser'}", f"--window-size={PHONE_PAGE}"]
    words += [
        "--hide-scrollbars",
        "--blink-settings=scriptEnabled=false",
        f"--screenshot={picture}",
        url,
    ]
    subprocess.run([browser, *words], check=True, capture_output=True, timeout=120)


def draw_icons(folder: Path) -> None:
    """Draw the page's icon in the sizes that home screens ask for. The one that they may cut to a
    shape of their own has its picture within the middle four fifths (W3C, maskable icons)."""
    svg = (folder / "icon.svg").read_text(encoding="utf-8").strip()
    ground = re.search(r'<rect [^>]*fill="([^"]+)"/>', svg)
    picture = svg[svg.index("/>") + 2 :].removesuffix("</svg>")
    cut = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 64 64"><rect width="64" height="64" '
        f'fill="{ground[1] if ground else "#fff"}"/>'
        f'<g transform="translate(8 8) scale(.75)">{picture}</g></svg>'
    )
    for name, drawn, size in (("192", svg, 192), ("512", svg, 512), ("maskable", cut, 512)):
        (folder / f"icon-{name}.png").write_bytes(svg_to_bytes(svg_string=drawn, width=size))


def main() -> None:
    """Draw all."""
    draw_icons(HERE.parent / "daemon" / "page" / "static")
    pictures = HERE / "pictures"
    pictures.mkdir(exist_ok=True)
    with TemporaryDirectory(prefix="underbench-pictures-") as name:
        folder = Path(name)
        with evening(folder) as (garden, message):
            (pictures / "message.png").write_bytes(png(on_a_phone(message)) or b"")
            with serving(then(garden), "127.0.0.1:0") as server:
                url = f"http://127.0.0.1:{server.effective_port}/"
                photograph(url, pictures / "page.png", folder)
    sys.stdout.write(f"Drawn: {pictures}/message.png and page.png\n")


if __name__ == "__main__":
    main()
