"""What tests of the page share on one worker: one browser, one garden, compiled templates."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from browsing import browser, forgetful, needed
from flask import Flask
from jinja2 import FileSystemBytecodeCache
from page_garden import PageGarden, left_as_found, served, written
from selenium.webdriver import Chrome
from ticking import Sky

from underbench.rules.weather.hourly import Weather


@pytest.fixture(scope="session", autouse=True)
def compiled_once(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Compile each template once, whichever garden shows it."""
    compiled = FileSystemBytecodeCache(str(tmp_path_factory.mktemp("templates")))
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(Flask.jinja_options, "bytecode_cache", compiled)
        yield


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
    """A garden for all tests that want no other."""
    return PageGarden(tmp_path_factory.mktemp("garden"), Sky(spring), written())


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
