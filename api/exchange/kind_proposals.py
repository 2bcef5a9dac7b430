"""Which kind a file or a sheet is: proposed from its name and its headings, for a person to correct."""

import re
from collections.abc import Collection, Mapping

from api.exchange.mapping.headings import is_heading_of, means
from api.exchange.mapping.sides import without_side
from api.exchange.message_tables import MESSAGE_TABLES
from api.exchange.tables import KINDS, TABLES, FileTable

OTHER_NAMES: Mapping[str, tuple[str, ...]] = {
    "machine-shops": ("workshops", "workshop"),
    "storerooms": ("stores", "warehouses", "lagerorte"),
    "bins": ("locations", "shelves", "lagerplaetze"),
    "plants": ("sites", "werke"),
    "areas": ("departments", "bereiche"),
    "equipment": ("machines", "assets", "maschinen", "anlagen"),
    "drives": ("chain drives", "antriebe", "kettentriebe"),
    "positions": ("places", "sprocket positions", "positionen"),
    "items": ("parts", "item master", "spares", "spare parts", "artikel", "teile", "ersatzteile"),
    "opening-balances": ("stock", "balances", "inventory", "on hand", "bestand", "bestaende"),
    "movements": ("transactions", "bewegungen"),
    "installations": ("fitted", "fitted units", "einbauten"),
    "supply-orders": ("purchase orders", "orders", "bestellungen"),
    "work-orders": ("jobs", "auftraege"),
}
"""What plants call their lists, beside the names of the kinds."""
BESIDE: Mapping[str, tuple[tuple[str, str], ...]] = {
    "equipment": (("areas", "code"),),
    "drives": (("areas", "code"), ("equipment", "tag")),
    "opening-balances": (("bins", "code"),),
}
"""Kinds that a list of another one names on its way, with the column that names them."""
NAMED = 2.0
"""What a name says, beside the share of headings: a file called items is one, whatever some of its headings are."""
LEAST = 0.5
UMLAUTS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss"})


def every_table() -> dict[str, FileTable]:
    return {kind: TABLES.get(kind) or MESSAGE_TABLES[kind] for kind in KINDS}


def plain(text: str) -> str:
    """Letters and digits in lower case: as headings and names are compared."""
    return re.sub(r"[^a-z0-9]+", "", text.lower().translate(UMLAUTS))


def proposed_kind(name: str, headings: Collection[str]) -> str:
    """The kind that fits best; empty where nothing fits."""
    scores = {
        kind: name_score(kind, name) + heading_score(table, headings) for kind, table in every_table().items()
    }
    best = max(scores, key=lambda kind: scores[kind])
    return best if scores[best] >= LEAST else ""


def is_ours(kind: str, headings: Collection[str]) -> bool:
    """Whether all headings are names of columns of the kind, as in a template."""
    return bool(kind) and set(headings) <= {column.name for column in every_table()[kind].every_column}


def kinds_beside(kind: str, headings: Collection[str]) -> tuple[str, ...]:
    """What a list with headings of its own names beside its records: a list of drives has the machines and areas too."""
    found = {
        other
        for other, column in BESIDE.get(kind, ())
        if any(means(other, heading, column) for heading in headings)
    }
    if kind == "drives" and sided(headings):
        found.add("positions")
    return tuple(one for one in KINDS if one in found)


def sided(headings: Collection[str]) -> bool:
    both = [without_side(heading) for heading in headings]
    sides = {side for bare, side in both if side and is_heading_of(TABLES["positions"], bare)}
    return len(sides) > 1


def is_heading(text: str) -> bool:
    """Of any kind."""
    return any(is_heading_of(table, text) for table in every_table().values())


def name_score(kind: str, name: str) -> float:
    """Whole for the name itself; less for a name that only begins or ends with it, the longest first."""
    written = plain(re.sub(r"\.[A-Za-z]{2,6}$", "", name))
    score = 0.0
    for known in (kind, *OTHER_NAMES.get(kind, ())):
        word = plain(known)
        if written.strip("0123456789") in (word, word.removesuffix("s")):
            return NAMED
        if len(word) > 3 and word in written:
            score = max(score, NAMED / 2 * len(word) / len(written))
    return score


def heading_score(table: FileTable, headings: Collection[str]) -> float:
    """The share of headings that the kind has; little where it has not what must be given."""
    if not headings:
        return 0.0
    share = sum(is_heading_of(table, heading) for heading in headings) / len(headings)
    needed = {column.name for column in table.every_column if column.required} | set(table.key)
    given = sum(any(means(table.kind, heading, name) for heading in headings) for name in needed)
    return share * (0.5 + 0.5 * given / len(needed)) if needed else share
