"""A browser that forgives nothing: console errors, page errors, refused policies and failed requests fail the test.

What follows a click is waited for with Playwright's `expect`: the old page may still stand there.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import pytest
from playwright.sync_api import Browser, BrowserContext, Page

PHONE, DESK = (390, 844), (1280, 900)


OF_EXAMINER = ("Applying inline style", "Couldn't load preload assets")
"""Without an address, so of no page: axe copies elements whose size a script has set, and misses sheets that sheets import."""
REFUSED = ("status of 400 (Bad Request)", "status of 409 (Conflict)")


@dataclass
class Watch:
    """Everything that a page complained about."""

    complaints: list[str] = field(default_factory=list)

    def over(self, page: Page) -> None:
        # A form that is refused answers 400 or 409 with the page that says why, of which the browser tells too.
        page.on(
            "console",
            lambda said: self._note(
                said.type in ("error", "warning")
                and not (said.text.endswith(REFUSED) and said.location["url"] == page.url)
                and not (said.text.startswith(OF_EXAMINER) and not said.location["url"]),
                said.text,
            ),
        )
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

    def open_at(
        path: str, *, session: str = "", size=DESK, script: bool = True, scheme="light", language="en"
    ) -> Page:
        context = browser.new_context(
            base_url=live_server.url,
            viewport={"width": size[0], "height": size[1]},
            reduced_motion="reduce",
            java_script_enabled=script,
            color_scheme=scheme,
            locale=language,
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
