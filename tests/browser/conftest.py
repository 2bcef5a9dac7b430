"""A browser that forgives nothing: console errors, page errors, refused policies and failed requests fail the test.

What follows a click is waited for with Playwright's `expect`: the old page may still stand there.
"""

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from django.db import connection
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

# The browser's loop runs in this thread; the database is still only used from plain functions.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PHONE, DESK = (390, 844), (1280, 900)
IS_LONG = os.environ.get("PROOF") == "long"
IS_REQUIRED = any(os.environ.get(name, "").lower() == "true" for name in ("CI", "REQUIRE_EVERYTHING"))


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    if connection.vendor != "sqlite" and not IS_LONG:
        pytest.skip("PROOF=long drives the pages over PostgreSQL too")
    if not CHROMIUM.exists():
        if IS_REQUIRED:
            pytest.fail(f"{CHROMIUM} is missing, and here every test must run.")
        pytest.skip("needs chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
        yield browser
        browser.close()


@dataclass
class Watch:
    """Everything that a page complained about."""

    complaints: list[str] = field(default_factory=list)

    def over(self, page: Page) -> None:
        page.on("console", lambda said: self._note(said.type in ("error", "warning"), said.text))
        page.on("pageerror", lambda error: self._note(True, str(error)))
        # A request that the next page cut short is no failure.
        page.on(
            "requestfailed",
            lambda request: self._note(request.failure != "net::ERR_ABORTED", f"not loaded: {request.url}"),
        )

    def _note(self, is_bad: bool, text: str) -> None:
        if is_bad:
            self.complaints.append(text)


OpenPage = Callable[..., Page]


@pytest.fixture
def open_page(browser: Browser, live_server, transactional_db) -> Iterator[OpenPage]:
    """Open an address of the live server, as the user of the session."""
    watch, contexts = Watch(), list[BrowserContext]()

    def open_at(path: str, *, session: str = "", size=DESK, script: bool = True) -> Page:
        context = browser.new_context(
            base_url=live_server.url,
            viewport={"width": size[0], "height": size[1]},
            reduced_motion="reduce",
            java_script_enabled=script,
        )
        contexts.append(context)
        if session:
            context.add_cookies([{"name": "sessionid", "value": session, "url": live_server.url}])
        page = context.new_page()
        watch.over(page)
        page.goto(path)
        return page

    yield open_at
    for context in contexts:
        context.close()
    assert watch.complaints == []
