"""Two browsers for all tests of the page on one worker: to start one takes longer than a test."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from browsing import browser, forgetful, needed
from selenium.webdriver import Chrome


@pytest.fixture(scope="session")
def plain_browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Chrome]:
    """A browser that runs no script of a page, but still runs a test's own."""
    needed()
    with browser(tmp_path_factory.mktemp("profile"), scripts=False) as one:
        yield one


@pytest.fixture(scope="session")
def scripted_browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Chrome]:
    """A browser that runs a page's scripts."""
    needed()
    with browser(tmp_path_factory.mktemp("profile")) as one:
        yield one


@pytest.fixture(scope="module")
def phone(plain_browser: Chrome) -> Chrome:
    """A phone that runs no scripts, of a new visitor."""
    return forgetful(plain_browser)


@pytest.fixture(scope="module")
def scripted(scripted_browser: Chrome) -> Chrome:
    """A phone that runs scripts, of a new visitor."""
    return forgetful(scripted_browser)
