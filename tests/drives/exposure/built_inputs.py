"""Inputs put together by hand, without a database."""

from dataclasses import dataclass
from decimal import Decimal

from drives.exposure.risk_inputs import RiskInputs, RiskPosition, StoreroomStock
from inventory.stocking.lead_time_demand import from_pmf


@dataclass(frozen=True)
class ConstantDemand:
    """A piece is needed with this chance, over any time."""

    chance: float

    def over(self, days):
        return from_pmf([1 - self.chance, self.chance])


class ConstantInputs(RiskInputs):
    def prepare(self, positions, days):
        for one in positions:
            demand = self.demands.get(one)
            self._over[one, days] = from_pmf([1.0]) if demand is None else demand.over(days)


def risk_position(pk, **more):
    values = {"tag": f"KILN-P{pk}", "drive": f"KILN-D{pk}", "plant": "WEIR", "storeroom": "MAIN"}
    values |= {"storeroom_id": 1, "criticality": "essential", "downtime_cost_per_hour": Decimal("400")}
    return RiskPosition(pk, **(values | more))


ROOMS = {"MAIN": 1, "NORTH": 2}


def risk_inputs(serves, pieces, chances, *, days=None, positions=None, hours=None, room="MAIN", minutes=None):
    """`serves`: items by position; every item comes within 20 days unless `days` says otherwise."""
    items = sorted({item for found in serves.values() for item in found})
    days = dict.fromkeys(items, 20.0) if days is None else days
    return ConstantInputs(
        positions={pk: (positions or {}).get(pk) or risk_position(pk) for pk in serves},
        grades={pk: dict.fromkeys(found, "drop_in") for pk, found in serves.items()},
        stock={item: (StoreroomStock(room, count, ROOMS[room]),) for item, count in pieces.items() if count},
        days_to_item={(item, 1): found for item, found in days.items()},
        demands={pk: ConstantDemand(chance) for pk, chance in chances.items()},
        stock_numbers={item: f"SPR-{item}" for item in items},
        minutes={} if minutes is None else {(2, 1): minutes},
        hours_to_item={} if hours is None else {(item, 1): hours for item in items},
    )
