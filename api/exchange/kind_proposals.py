"""Which kind a file or a sheet is: proposed from its name and its headings, for a person to correct."""

import re
from collections.abc import Collection, Mapping

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
    given = {plain(heading) for heading in headings}
    known = {plain(column.name) for column in table.every_column}
    needed = {plain(column.name) for column in table.every_column if column.required} | set(
        map(plain, table.key)
    )
    if not given:
        return 0.0
    share = len(given & known) / len(given)
    return share * (0.5 + 0.5 * len(given & needed) / len(needed)) if needed else share
