"""The browser, and pages in it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import pytest
from playwright.sync_api import Browser, BrowserContext, sync_playwright

from browser.needs import needed_browser
from browser.opened import Opened, Opener, open_in
from browser.sheets import Sheets
from splitwright.commands.sheet.printing import OFFLINE

SWITCHES: Final = ("--headless", "--no-sandbox", "--disable-gpu", *OFFLINE)


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    """One browser for all tests of this folder. It ends with them, since playwright keeps an event loop in this thread
    for as long as it runs, which would be in the way of any other test that needs one."""
    path = needed_browser()
    with sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=path, args=list(SWITCHES))
        yield started
        started.close()


@pytest.fixture
def open_page(browser: Browser) -> Iterator[Opener]:
    """Opens files in the browser until the test is over."""
    contexts: list[BrowserContext] = []

    def opening(path: Path, **how: Any) -> Opened:
        context, opened = open_in(browser, path, **how)
        contexts.append(context)
        return opened

    yield opening
    for context in contexts:
        context.close()


@pytest.fixture(scope="session")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> Sheets:
    """Sheets, each made once by each process that runs tests."""
    return Sheets(tmp_path_factory.mktemp("sheets"))
