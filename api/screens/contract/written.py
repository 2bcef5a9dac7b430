"""Texts of the contract as pages. They are our own files; HTML in them is shown and not taken."""

from functools import cache
from pathlib import Path

from django.utils.safestring import SafeString

from api.screens.guides.written import MARKDOWN, anchor_of

FOLDER = Path(__file__).resolve().parents[2] / "edge"


def as_html(text: str) -> SafeString:
    """A block that scrolls is reached by the keyboard, and a part by its anchor."""
    tokens = MARKDOWN.parse(text)
    for place, one in enumerate(tokens):
        if one.type == "heading_open" and one.tag == "h2":
            one.attrSet("id", anchor_of(tokens[place + 1].content))
    html = str(MARKDOWN.renderer.render(tokens, MARKDOWN.options, {}))
    return SafeString(html.replace("<pre>", '<pre tabindex="0">'))


@cache
def page_of(name: str) -> SafeString:
    return as_html((FOLDER / f"{name}.md").read_text(encoding="utf-8"))
