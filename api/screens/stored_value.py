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
    "ages_hours": gettext_lazy("Hours run, h"),
    "averts": gettext_lazy("Stops averted"),
    "cautions": gettext_lazy("Cautions"),
    "chance": gettext_lazy("Chance"),
    "chances": gettext_lazy("Chances"),
    "counts_as": gettext_lazy("Counts as"),
    "cover": gettext_lazy("Substitutes"),
    "covers": gettext_lazy("Substitutes"),
    "created": gettext_lazy("New"),
    "demand": gettext_lazy("Demand"),
    "downtime": gettext_lazy("Downtime"),
    "downtime_per_hour": gettext_lazy("Cost of an hour's stop"),
    "earlier_events": gettext_lazy("Earlier demand"),
    "early_chance": gettext_lazy("Chance of an early limit"),
    "early_limit_on": gettext_lazy("Limit at the earliest"),
    "estimates_until": gettext_lazy("Estimates until"),
    "events": gettext_lazy("Demand history"),
    "facts": gettext_lazy("Finding"),
    "failures": gettext_lazy("Failures"),
    "fetching_cost": gettext_lazy("Cost of fetching"),
    "figures": gettext_lazy("Figures"),
    "fit": gettext_lazy("Fitted law"),
    "given": gettext_lazy("Issued"),
    "held": gettext_lazy("On hold"),
    "holding_cost": gettext_lazy("Holding cost"),
    "inputs": gettext_lazy("What it was calculated from"),
    "inspections": gettext_lazy("Inspections"),
    "is_set": gettext_lazy("Confirmed"),
    "jobs": gettext_lazy("Jobs"),
    "jump": gettext_lazy("Jump"),
    "keeps_for": gettext_lazy("Keeps it for"),
    "kept_as": gettext_lazy("Kept under number"),
    "kept_as_id": gettext_lazy("Kept under number, id"),
    "kept_in": gettext_lazy("Kept in"),
    "lead_time": gettext_lazy("Lead time"),
    "lead_time_law": gettext_lazy("Chance of each demand in a lead time"),
    "limit_on": gettext_lazy("Limit reached on"),
    "links_per_job": gettext_lazy("Links a job"),
    "lives": gettext_lazy("Lives of units"),
    "longest_links": gettext_lazy("Longest chain, links"),
    "margin": gettext_lazy("Margin"),
    "mean_life_hours": gettext_lazy("Mean life, h"),
    "mean_links": gettext_lazy("Mean chain, links"),
    "mean_on_hand": gettext_lazy("Average on hand"),
    "member_ids": gettext_lazy("Items, id"),
    "members": gettext_lazy("Items"),
    "message": gettext_lazy("Message"),
    "method": gettext_lazy("Method"),
    "notice": gettext_lazy("Notice given by wear"),
    "of": gettext_lazy("Of"),
    "of_all": gettext_lazy("Of all"),
    "of_storeroom": gettext_lazy("Of the storeroom"),
    "of_the_item": gettext_lazy("Of the item"),
    "offered": gettext_lazy("Offered"),
    "order_by": gettext_lazy("Order by"),
    "orders": gettext_lazy("Orders"),
    "overall_width_mm": gettext_lazy("Overall width, mm"),
    "periods_per_year": gettext_lazy("Periods a year"),
    "pieces_per_job": gettext_lazy("Pieces a job"),
    "pieces_planned": gettext_lazy("Planned pieces"),
    "pieces_unplanned": gettext_lazy("Unplanned pieces"),
    "policy": gettext_lazy("Stock policy"),
    "pool": gettext_lazy("Items counted together"),
    "pools": gettext_lazy("Items counted together"),
    "prior": gettext_lazy("Estimate from the family"),
    "proposals": gettext_lazy("Proposals"),
    "rates": gettext_lazy("Rates"),
    "reason": gettext_lazy("Reason"),
    "reasons": gettext_lazy("Reasons"),
    "record_from": gettext_lazy("Record from"),
    "record_reason": gettext_lazy("Why from then"),
    "record_until": gettext_lazy("Record until"),
    "required": gettext_lazy("Required"),
    "scale_hours": gettext_lazy("Scale of the lives, h"),
    "scale_interval_hours": gettext_lazy("Scale of the lives, likely range, h"),
    "sent_back": gettext_lazy("Sent back"),
    "series": gettext_lazy("Series"),
    "settings": gettext_lazy("Settings"),
    "shape": gettext_lazy("Shape of the lives"),
    "shape_interval": gettext_lazy("Shape of the lives, likely range"),
    "shortest_links": gettext_lazy("Shortest chain, links"),
    "since": gettext_lazy("Since"),
    "span": gettext_lazy("Time span"),
    "stops": gettext_lazy("Stops"),
    "stops_per_year": gettext_lazy("Stops a year"),
    "storeroom_id": gettext_lazy("Storeroom, id"),
    "sudden": gettext_lazy("Sudden failures"),
    "sudden_demand": gettext_lazy("Demand of sudden failures"),
    "sudden_pieces": gettext_lazy("Pieces for sudden failures"),
    "suspensions": gettext_lazy("Still running or taken off whole"),
    "target": gettext_lazy("Target"),
    "terms": gettext_lazy("Terms of stocking"),
    "tied_up": gettext_lazy("Stock value"),
    "to_or_from": gettext_lazy("To or from"),
    "units": gettext_lazy("Units"),
    "unlike": gettext_lazy("Unlike the family"),
    "wear_share": gettext_lazy("Share of wear"),
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
