"""What axe-core finds wrong with a page."""

from typing import Any

from axe_playwright_python.sync_playwright import Axe


def violations(page: Any, **options: Any) -> list[dict[str, Any]]:
    """Of what passes no element is listed, which makes two thirds of the work otherwise."""
    found: list[dict[str, Any]] = (
        Axe().run(page, options={**options, "resultTypes": ["violations"]}).response["violations"]
    )
    return found
