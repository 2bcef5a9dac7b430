"""A value that is stored as JSON, as a table of words: labels instead of names, sentences instead of codes, days by language."""

import re
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from typing import Any

from django.utils.functional import Promise
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from api.screens.admin_words import field_words
from api.screens.lists.cells import shown_value
from api.wording.labels import label
from api.wording.sentences import SENTENCES, sentence
from api.wording.separators import localized
from inventory.facts import fact_from_json

NOTHING = "–"
MOST_ROWS, MOST_LETTERS = 50, 200
WORD = re.compile(r"[a-z][a-z_]*")
UNIT = re.compile(r"_(mm|kg|kw|rpm|percent|minutes|hours|days|months|years)$")
NAMES: dict[str, Promise] = {
    "covers": gettext_lazy("Substitutes"),
    "cover": gettext_lazy("Substitutes"),
    "created": gettext_lazy("New"),
    "earlier_events": gettext_lazy("Earlier demand"),
    "estimates_until": gettext_lazy("Estimates until"),
    "events": gettext_lazy("Demand history"),
    "facts": gettext_lazy("Finding"),
    "figures": gettext_lazy("Figures"),
    "inputs": gettext_lazy("What it was calculated from"),
    "inspections": gettext_lazy("Inspections"),
    "jobs": gettext_lazy("Jobs"),
    "lead_time": gettext_lazy("Lead time"),
    "lives": gettext_lazy("Lives of units"),
    "margin": gettext_lazy("Margin"),
    "members": gettext_lazy("Items"),
    "offered": gettext_lazy("Offered"),
    "pool": gettext_lazy("Items counted together"),
    "reason": gettext_lazy("Reason"),
    "reasons": gettext_lazy("Reasons"),
    "record_from": gettext_lazy("Record from"),
    "record_reason": gettext_lazy("Why from then"),
    "record_until": gettext_lazy("Record until"),
    "required": gettext_lazy("Required"),
    "target": gettext_lazy("Target"),
}
"""What is called so in stored values only."""
UNIT_WORDS: dict[str, Callable[[], str]] = {
    "kw": lambda: "kW",
    "rpm": lambda: "rpm",
    "percent": lambda: "%",
    "minutes": lambda: "min",
    "hours": lambda: "h",
    "days": lambda: _("days"),
    "months": lambda: _("months"),
    "years": lambda: _("years"),
}


def plain_number(value: float | Decimal) -> str:
    """As it was entered, with the decimal sign of the language: 12.700000 is 12.7, 120.00 is 120."""
    text = f"{value:.6g}" if isinstance(value, float) and abs(value) < 100_000 else f"{value:f}"
    return localized(text.rstrip("0").rstrip(".") if "." in text and "e" not in text else text)


def label_of(name: str) -> str:
    """What the lists and forms call it; else its words, with the unit after them."""
    if words := NAMES.get(name) or field_words(name):
        return str(words)
    unit = UNIT.search(name)
    if not unit:
        return capfirst(label(name))
    return f"{capfirst(label(name[: unit.start()]))}, {UNIT_WORDS.get(unit[1], lambda: unit[1])()}"


def stored_value(value: Any) -> SafeString | str:
    """Nested values are tables in tables."""
    if value in (None, "", [], {}):
        return NOTHING
    if isinstance(value, Mapping):
        return _fact(value) if is_fact(value) else _rows(value)
    if isinstance(value, list | tuple):
        return _list(value)
    return _single(value)


def is_fact(value: Any) -> bool:
    return isinstance(value, Mapping) and isinstance(value.get("values"), Mapping) and "code" in value


def _single(value: Any) -> str:
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, int | float | Decimal):
        return plain_number(value)
    text = str(value)
    shown = label(text) if WORD.fullmatch(text) else shown_value(text)
    return shown if len(shown) <= MOST_LETTERS else shown[:MOST_LETTERS] + "…"


def _fact(value: Mapping[str, Any]) -> str:
    """One whose code is not known any more keeps its words."""
    return sentence(fact_from_json(value)) if value["code"] in SENTENCES else label(value["code"])


def _rows(value: Mapping[str, Any]) -> SafeString:
    rows = ((label_of(str(name)), stored_value(one)) for name, one in value.items())
    return format_html(
        '<table class="stored">{}</table>',
        format_html_join("", '<tr><th scope="row">{}</th><td>{}</td></tr>', rows),
    )


def _list(values: Iterable[Any]) -> SafeString | str:
    kept = list(values)
    more = len(kept) - MOST_ROWS
    rest = _("and {n} more").format(n=more) if more > 0 else ""
    kept = kept[:MOST_ROWS]
    if not any(isinstance(one, Mapping | list | tuple) for one in kept):
        return ", ".join(
            [*(_single(one) if one is not None else NOTHING for one in kept), *filter(None, [rest])]
        )
    if is_table(kept):
        return format_html("{}{}", _table(kept), rest)
    items = format_html_join("", "<li>{}</li>", ((stored_value(one),) for one in kept))
    return format_html('<ul class="stored">{}</ul>{}', items, rest)


def is_table(values: list[Any]) -> bool:
    """Several rows of the same few names."""
    if len(values) < 2 or not all(isinstance(one, Mapping) and not is_fact(one) for one in values):
        return False
    return len(values[0]) <= 8 and all(one.keys() == values[0].keys() for one in values)


def _table(values: list[Mapping[str, Any]]) -> SafeString:
    heads = format_html_join("", '<th scope="col">{}</th>', ((label_of(str(name)),) for name in values[0]))
    rows = (
        (format_html_join("", "<td>{}</td>", ((stored_value(one),) for one in row.values())),)
        for row in values
    )
    return format_html(
        '<table class="stored"><thead><tr>{}</tr></thead><tbody>{}</tbody></table>',
        heads,
        format_html_join("", "<tr>{}</tr>", rows),
    )
