"""Reasons that the service records by itself, in the words of whoever reads them.

They stand in columns of text beside what people type: as a code, or in the fixed words that were written before there were
codes. Both are recognised; any other text is somebody's own, and stays as it is.
"""

import re

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

UNDONE_AT_COUNTER, UNDONE_ON_PAGE = "undone_at_counter", "undone_on_page"
AS_WRITTEN: dict[str, str | Promise] = {
    UNDONE_AT_COUNTER: _("Undone at the counter"),
    UNDONE_ON_PAGE: _("Undone on the page"),
    "Undone at the counter": _("Undone at the counter"),
    "Undone on the page": _("Undone on the page"),
    "opening balance": _("opening balance"),
    "import undone": _("import undone"),
    "The shelf was empty.": _("The shelf was empty."),
}
ALLOWED_BY = "{why} (allowed by {name})"
"""Written so whatever the language of the writer is."""
WITH_VALUES: tuple[tuple[re.Pattern[str], str | Promise], ...] = (
    (re.compile(r"Merge (?P<merge>\d+) undone: (?P<why>.*)", re.S), _("Merge {merge} undone: {why}")),
    (
        re.compile(r"(?P<item>\S{1,60}) merged into (?P<into>\S{1,60}): (?P<why>.*)", re.S),
        _("{item} merged into {into}: {why}"),
    ),
    (re.compile(r"(?P<why>.+) \(allowed by (?P<name>[^()]+)\)", re.S), _("{why} (allowed by {name})")),
    (re.compile(r"no longer in work order (?P<order>\S+)"), _("no longer in work order {order}")),
)


def recorded_reason(text: str) -> str:
    if text in AS_WRITTEN:
        return str(AS_WRITTEN[text])
    for pattern, words in WITH_VALUES:
        if found := pattern.fullmatch(text):
            said = found.groupdict()
            if "why" in said:
                said["why"] = recorded_reason(said["why"])
            return str(words).format(**said)
    return text
