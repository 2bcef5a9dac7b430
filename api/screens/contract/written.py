"""Texts of the contract as pages. They are our own files; HTML in them is shown and not taken."""

from functools import cache
from pathlib import Path

from django.utils.safestring import SafeString

from api.screens.guides.written import MARKDOWN

GUIDE = Path(__file__).resolve().parents[2] / "edge" / "first_hour.md"


def as_html(text: str) -> SafeString:
    """A block that scrolls is reached by the keyboard."""
    return SafeString(MARKDOWN.render(text).replace("<pre>", '<pre tabindex="0">'))


@cache
def guide() -> SafeString:
    return as_html(GUIDE.read_text(encoding="utf-8"))
