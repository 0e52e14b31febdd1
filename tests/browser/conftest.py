"""The server, the browser, and devices that look at it. Without a Chromium the whole folder is skipped."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

import pytest
from inside import shared_pages
from playwright.sync_api import expect, sync_playwright
from served import FLAGS, PATIENCE_S, Served, chromium
from survey import DESKTOP, PHONE, Survey, surveyed

from pages import Places, prepared

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page

REFUSED = re.compile(
    r"Failed to load resource: .*(status of 4\d\d|net::ERR_)|Response Status Error Code 4\d\d|htmx:(afterRequest|sendError)"
)
"""What the console says of an answer that a test has refused on purpose, or of a server that it has stopped."""


@pytest.fixture(scope="session", autouse=True)
def _chromium() -> str:
    found = chromium()
    if found is None:
        pytest.skip("no Chromium here: install one, or say where it is with FOIBLE_CHROMIUM")
    return found


@pytest.fixture(scope="session")
def browser(_chromium: str) -> Iterator[Browser]:
    expect.set_options(timeout=PATIENCE_S * 1000)
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=_chromium, args=[*FLAGS])
        try:
            yield opened
        finally:
            opened.close()


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory, _chromium: str) -> Iterator[Served]:
    """Start the server that most tests share, with the demo's cases in it."""
    with Served(tmp_path_factory.mktemp("server")) as served:
        served.start()
        yield served
        served.stop()
        assert "Traceback" not in served.log, served.log


@pytest.fixture(scope="session")
def places(server: Served, browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Places:
    """Open the cases that the pages of `pages` show."""
    shared = shared_pages(tmp_path_factory.mktemp("shared"))
    context = browser.new_context()
    made = prepared(context.request, server.url, shared)
    context.close()
    return made


@pytest.fixture(scope="session")
def look(browser: Browser, places: Places) -> Callable[[str], Survey]:
    """Look at a page by its name; each is looked at once."""
    return cache(lambda name: surveyed(browser, places, name, patience_ms=PATIENCE_S * 1000))


@pytest.fixture
def devices(browser: Browser) -> Iterator[Callable[..., BrowserContext]]:
    """Make devices, each with cookies of its own; at the end no page may have complained on its console."""
    complaints: list[str] = []
    opened: list[BrowserContext] = []

    def note(message: ConsoleMessage) -> None:
        if message.type in {"error", "warning"} and not REFUSED.search(message.text):
            complaints.append(message.text)

    def device(*, phone: bool = False, scripts: bool = True) -> BrowserContext:
        context = browser.new_context(
            viewport=PHONE if phone else DESKTOP, has_touch=phone, is_mobile=phone, java_script_enabled=scripts
        )
        context.set_default_timeout(PATIENCE_S * 1000)
        context.on("console", note)
        context.on("weberror", lambda error: complaints.append(str(error.error)))
        opened.append(context)
        return context

    yield device
    for context in opened:
        context.close()
    assert not complaints


@pytest.fixture
def desktop(devices: Callable[..., BrowserContext]) -> Page:
    return devices().new_page()


@pytest.fixture
def browser_without_scripts(devices: Callable[..., BrowserContext]) -> Page:
    return devices(scripts=False).new_page()


@pytest.fixture
def phone(devices: Callable[..., BrowserContext]) -> Page:
    return devices(phone=True).new_page()
