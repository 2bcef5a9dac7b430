"""Markdown to HTML. The texts are our own files; HTML in them is shown and not taken."""

import re
from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe
from django.utils.text import slugify
from markdown_it import MarkdownIt
from markdown_it.token import Token

MARKDOWN = MarkdownIt("commonmark", {"html": False}).enable("table")
ASKED = re.compile(r'\n\[asked\]: # "(.*)"\n')
"""The line below a heading with the words of readers. For Markdown it is a reference to nowhere, of which nothing is shown."""
SCROLLS = ' class="scroll" tabindex="0"'


@dataclass(frozen=True)
class GuidePart:
    """What stands under one heading of the second rank; `words` are what is searched, `asked` what readers call it."""

    anchor: str
    title: str
    html: SafeString
    words: str
    asked: str


@dataclass(frozen=True)
class GuideText:
    title: str
    introduction: SafeString
    parts: tuple[GuidePart, ...]


def read_text(source: str) -> GuideText:
    """A title, an introduction, and parts."""
    tokens = MARKDOWN.parse(source)
    starts = [n for n, one in enumerate(tokens) if one.type == "heading_open" and one.tag == "h2"]
    bounds = zip(starts, [*starts[1:], len(tokens)], strict=True)
    return GuideText(
        title=tokens[1].content,
        introduction=as_html(tokens[3 : starts[0]]),
        parts=tuple(part_of(tokens[start:end], source) for start, end in bounds),
    )


def part_of(tokens: list[Token], source: str) -> GuidePart:
    title = tokens[1].content
    asked = ASKED.match(source.partition(f"\n## {title}\n")[2])
    body = tokens[3:]
    words = " ".join(plain(one) for one in body if one.type in ("inline", "fence"))
    return GuidePart(anchor_of(title), title, as_html(body), words, asked[1] if asked else "")


def anchor_of(title: str) -> str:
    return slugify(title, allow_unicode=True)


def plain(token: Token) -> str:
    """Without the marks of Markdown."""
    children = token.children or [token]
    return "".join(" " if one.type == "softbreak" else one.content for one in children)


def as_html(tokens: list[Token]) -> SafeString:
    """What is wider than a phone scrolls by itself, with the keyboard too."""
    html = str(MARKDOWN.renderer.render(tokens, MARKDOWN.options, {}))
    html = html.replace("<pre>", f"<pre{SCROLLS}>")
    html = html.replace("<table>", f"<div{SCROLLS}><table>").replace("</table>", "</table></div>")
    return mark_safe(html)
