"""Debian's Chromium at a page on the loopback, for the tests: a phone's size, light or dark."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from selenium.common.exceptions import WebDriverException
from selenium.webdriver import Chrome, ChromeOptions, ChromeService
from selenium.webdriver.support.wait import WebDriverWait

PHONE = (390, 844)
NARROW, SCREEN = 360, 800  # CSS pixels, of a common small phone
LEAST_TEXT_PX = 16
LEAST_TARGET_PX = 44  # WCAG 2.2, 2.5.5 target size (enhanced); ours are meant to be 48
# Texts that are shown smaller than so many CSS pixels.
SMALL_TEXT = """
const small = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walk.nextNode()) {
  const e = walk.currentNode.parentElement, svg = e.closest('svg.hours');
  if (!walk.currentNode.textContent.trim() || !e.getClientRects().length) continue;
  if (e.closest('.hidden, .skip')) continue;
  const scale = svg ? svg.clientWidth / svg.viewBox.baseVal.width : 1;
  if (scale * parseFloat(getComputedStyle(e).fontSize) < arguments[0] - 0.01)
    small.push(e.outerHTML.slice(0, 80));
}
return small;
"""
SMALL_TARGETS = """
return [...document.querySelectorAll('a, button, select, summary, label:has(input)')]
  .filter(e => !e.closest('p:not(.bar, .whence), .skip, .hidden') && e.getClientRects().length)
  .filter(e => e.getBoundingClientRect().height < arguments[0]).map(e => e.outerHTML.slice(0, 80));
"""
STYLED = """
const done = arguments[0], sheets = [...document.querySelectorAll('link[rel=stylesheet]')];
const loaded = e => e.sheet || new Promise(then => e.addEventListener('load', then));
Promise.all(sheets.map(loaded)).then(() => done(sheets.length));
"""
# The first thing of a kind with these words, brought to the middle: a bar may lie over its end.
CENTRED = """
const found = [...document.querySelectorAll(arguments[0])]
  .find(e => e.innerText.includes(arguments[1]));
if (found) found.scrollIntoView({block: 'center'});
return found;
"""


def needed() -> tuple[str, str]:
    """The browser and its driver; the test is skipped if either is missing."""
    found = shutil.which("chromium"), shutil.which("chromedriver")
    if not all(found):
        pytest.skip("no chromium with chromedriver here (Debian: chromium, chromium-driver)")
    return str(found[0]), str(found[1])


@contextmanager
def browser(folder: Path) -> Iterator[Chrome]:
    """A new browser with nothing from before."""
    binary, driver = needed()
    options = ChromeOptions()
    options.binary_location = binary
    words = ["--headless=new", f"--user-data-dir={folder}", "--disable-gpu", "--no-first-run"]
    words += ["--disable-background-networking", "--disable-dev-shm-usage", "--hide-scrollbars"]
    words += ["--no-sandbox"] if os.geteuid() == 0 else []  # as root it starts only so
    for word in words:
        options.add_argument(word)
    one = Chrome(options=options, service=ChromeService(driver))
    try:
        yield one
    finally:
        one.quit()


def forgetful(one: Chrome, *, scripts: bool) -> Chrome:
    """The browser as a phone by day, with no cookie left; ``scripts`` says whether those of a page
    run."""
    one.execute_cdp_cmd("Network.clearBrowserCookies", {})
    one.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": not scripts})
    as_phone(one)
    return one


def as_phone(
    one: Chrome, *, dark: bool = False, width: int = PHONE[0], height: int = PHONE[1]
) -> None:
    """Make the window a phone's, by day or in the dark."""
    size = {"width": width, "height": height, "deviceScaleFactor": 2, "mobile": True}
    one.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
    one.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [scheme]})


def show(one: Chrome, page: str) -> None:
    """Show a page in place of the one that is open, with its address, as fast as it can be drawn:
    to ask for it takes longer."""
    frame = one.execute_cdp_cmd("Page.getFrameTree", {})["frameTree"]["frame"]["id"]
    one.execute_cdp_cmd("Page.setDocumentContent", {"frameId": frame, "html": page})
    assert one.execute_async_script(STYLED)


def misfits(one: Chrome, least_text_px: int = LEAST_TEXT_PX) -> list[str]:
    """What of the page does not fit a narrow phone: wider, hard to read, or hard to press."""
    wide = one.execute_script("return document.documentElement.scrollWidth")
    found = [f"{wide} px wide"] if wide > NARROW else []
    found += one.execute_script(SMALL_TEXT, least_text_px)
    return found + one.execute_script(SMALL_TARGETS, LEAST_TARGET_PX)


class Finger:
    """Counts its taps."""

    def __init__(self, phone: Chrome) -> None:
        self._phone, self.taps = phone, 0

    def tap(self, css: str, words: str = "") -> None:
        """Tap the first thing of that kind with these words in it, once it is there."""
        wait = WebDriverWait(self._phone, 20, 0.05, [WebDriverException])
        wait.until(lambda one: one.execute_script(CENTRED, css, words), words or css).click()
        self.taps += 1


def press(one: Chrome, label: str) -> None:
    """Press a button once it is there."""
    Finger(one).tap("button", label)


def words(one: Chrome) -> str:
    return str(one.execute_script("return document.body.innerText"))


def shows(one: Chrome, text: str) -> bool:
    """Wait until the page shows a text: the answer to a form may take a moment."""
    wait = WebDriverWait(one, 20, 0.05, ignored_exceptions=[WebDriverException])
    return bool(wait.until(lambda page: text in words(page), f"no {text}"))
