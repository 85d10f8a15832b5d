"""One browser for all tests of the page on one worker: to start one takes longer than a test."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from browsing import browser, forgetful, needed
from page_garden import PageGarden, left_as_found, served, written
from selenium.webdriver import Chrome
from ticking import Sky

from underbench.daemon.config.reloading import Reloading
from underbench.daemon.page.context import EXTENSION
from underbench.rules.weather.hourly import Weather


@pytest.fixture(scope="session")
def chrome(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Chrome]:
    needed()
    with browser(tmp_path_factory.mktemp("profile")) as one:
        yield one


@pytest.fixture
def phone(chrome: Chrome) -> Chrome:
    """A phone that runs no scripts of a page, of a new visitor. A test's own still run."""
    return forgetful(chrome, scripts=False)


@pytest.fixture
def scripted(chrome: Chrome) -> Chrome:
    """A phone that runs scripts, of a new visitor."""
    return forgetful(chrome, scripts=True)


@pytest.fixture(scope="session")
def made_once(tmp_path_factory: pytest.TempPathFactory, spring: Weather) -> PageGarden:
    """A garden whose page reads its file anew, for all tests that change the file."""
    one = PageGarden(tmp_path_factory.mktemp("garden"), Sky(spring), written())
    one.app.extensions[EXTENSION] = replace(one.deps(), settings=Reloading(one.config).settings)
    return one


@pytest.fixture
def own(made_once: PageGarden) -> Iterator[PageGarden]:
    """That garden in its first state."""
    with left_as_found(made_once):
        yield made_once


@pytest.fixture(scope="session")
def garden_url(made_once: PageGarden) -> Iterator[str]:
    """Where that garden's page is."""
    with served(made_once.app) as address:
        yield address
