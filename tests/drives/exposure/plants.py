"""A small plant laid out by hand, without a database."""

from dataclasses import dataclass
from decimal import Decimal

from drives.exposure.risk_inputs import Outlook, Pile, Place
from inventory.stocking.lead_time_demand import from_pmf


@dataclass(frozen=True)
class Asks:
    """Asks for a piece with this chance, however long one looks."""

    chance: float

    def over(self, days):
        return from_pmf([1 - self.chance, self.chance])


def place(position, **more):
    facts = {"tag": f"KILN-P{position}", "drive": f"KILN-D{position}", "plant": "WEIR", "storeroom": "MAIN"}
    facts |= {"storeroom_id": 1, "criticality": "essential", "cost_per_hour": Decimal("400")}
    return Place(position_id=position, **(facts | more))


def outlook(serves, free, asks, *, days=None, places=None, hours=None, room="MAIN"):
    """`serves`: items by position; every item comes within 20 days unless `days` says otherwise."""
    items = sorted({item for found in serves.values() for item in found})
    days = dict.fromkeys(items, 20.0) if days is None else days
    return Outlook(
        places={position: (places or {}).get(position) or place(position) for position in serves},
        grades={position: dict.fromkeys(found, "drop_in") for position, found in serves.items()},
        piles={item: (Pile(room, pieces),) for item, pieces in free.items() if pieces},
        days_to_item={(item, 1): found for item, found in days.items()},
        asks={position: Asks(chance) for position, chance in asks.items()},
        stock_numbers={item: f"SPR-{item}" for item in items},
        hours_to_expedite=hours,
    )
