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
from selenium.webdriver.common.by import By
from selenium.webdriver.remote.webelement import WebElement
from selenium.webdriver.support.wait import WebDriverWait

PHONE = (390, 844)
NARROW, SCREEN = 360, 800  # CSS pixels, of a common small phone
LEAST_TEXT_PX = 16
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
    """The browser as a phone by day, with no page open and no cookie left; ``scripts`` says whether
    those of a page run."""
    one.get("about:blank")
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


class Finger:
    """Counts its taps."""

    def __init__(self, phone: Chrome) -> None:
        self._phone, self.taps = phone, 0

    def tap(self, css: str, words: str = "") -> None:
        """Tap the first thing of that kind with these words in it, once it is there."""
        wait = WebDriverWait(self._phone, 20, 0.05, [WebDriverException])
        found = wait.until(lambda one: next(iter(self._all(one, css, words)), None))
        self._phone.execute_script("arguments[0].scrollIntoView({block: 'center'})", found)
        found.click()
        self.taps += 1

    @staticmethod
    def _all(phone: Chrome, css: str, words: str) -> list[WebElement]:
        return [one for one in phone.find_elements(By.CSS_SELECTOR, css) if words in one.text]


def tap(one: Chrome, by: str, what: str) -> None:
    """Tap on what is there, brought to the middle of the screen: a bar may lie over its end."""
    found = one.find_element(by, what)
    one.execute_script("arguments[0].scrollIntoView({block: 'center'})", found)
    found.click()


def shows(one: Chrome, text: str) -> bool:
    """Wait until the page shows a text: the answer to a form may take a moment."""
    wait = WebDriverWait(one, 20, 0.05, ignored_exceptions=[WebDriverException])
    body = (By.TAG_NAME, "body")
    return bool(wait.until(lambda page: text in page.find_element(*body).text, f"no {text}"))
