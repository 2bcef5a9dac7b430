"""Of equal items the one to keep."""

from collections import Counter
from decimal import Decimal
from typing import Any

from drives.demand.pools import DemandPools, Pool, PoolItem
from inventory.models import Lifecycle


def item_to_keep(demand: DemandPools, pool: Pool) -> PoolItem:
    """Active, not outlasted by the others, requested most, cheapest, lowest stock number."""
    if len(pool.member_ids) == 1:
        return demand.items[pool.member_ids[0]]
    requested: Counter[int | None] = Counter()
    for event in pool.events:
        requested[event.item_id] += event.quantity

    def key(item: PoolItem) -> tuple[Any, ...]:
        cost = item.unit_cost
        return (
            item.lifecycle != Lifecycle.ACTIVE,
            item.pk in pool.outlasted,
            -requested[item.pk],
            cost is None,
            cost or Decimal(0),
            item.stock_number,
        )

    return min((demand.items[member] for member in pool.member_ids), key=key)
