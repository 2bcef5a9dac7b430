"""A code to scan, drawn into the page."""

import segno
from django.utils.safestring import SafeString, mark_safe


def scan_code(text: str) -> SafeString:
    """With the quiet zone of four modules that a scanner needs."""
    drawn = segno.make(text, error="m", micro=False, encoding="utf-8")
    return mark_safe(drawn.svg_inline(omitsize=True, svgclass=None, lineclass=None))
