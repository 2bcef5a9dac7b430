"""One Chromium for all tests that need one, as its loop runs in the thread of the tests."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.db import connection
from playwright.sync_api import Browser, sync_playwright

from tests.examples import IS_LONG

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

IS_REQUIRED = any(os.environ.get(name, "").lower() == "true" for name in ("CI", "REQUIRE_EVERYTHING"))


@pytest.fixture(scope="session")
def chromium_here() -> None:
    """Skips what needs a browser where there is none, or where it says no more than elsewhere."""
    if connection.vendor != "sqlite" and not IS_LONG:
        pytest.skip("PROOF=long drives the pages over PostgreSQL too")
    if not CHROMIUM.exists():
        if IS_REQUIRED:
            pytest.fail(f"{CHROMIUM} is missing, and here every test must run.")
        pytest.skip("needs chromium")


@pytest.fixture(scope="session")
def browser(chromium_here: None) -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
        yield browser
        browser.close()
