"""What the whole reorder list of each storeroom comes to."""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from inventory.planning.reorder_list import ORDER, TRANSFER, WAIT, ReorderLine


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedCost:
    currency: str
    amount: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class ReorderSum:
    """Of one storeroom; `costs` are those of the lines to order that have a price."""

    storeroom: str
    to_order: int
    without_price: int
    to_transfer: int
    waiting: int
    costs: tuple[ExpectedCost, ...]


def reorder_sums(lines: Iterable[ReorderLine]) -> tuple[ReorderSum, ...]:
    """By storeroom, in the order of the lines; holds no line."""
    actions: dict[str, Counter[str]] = defaultdict(Counter)
    costs: dict[str, dict[str, Decimal]] = defaultdict(lambda: defaultdict(Decimal))
    for line in lines:
        code = line.storeroom.code
        actions[code][line.action] += 1
        if line.action != ORDER:
            continue
        if line.expected_cost is None:
            actions[code][""] += 1
        else:
            costs[code][line.item.currency] += line.expected_cost
    return tuple(
        ReorderSum(
            storeroom=code,
            to_order=found[ORDER],
            without_price=found[""],
            to_transfer=found[TRANSFER],
            waiting=found[WAIT],
            costs=tuple(
                ExpectedCost(currency=currency, amount=amount)
                for currency, amount in sorted(costs[code].items())
                if amount
            ),
        )
        for code, found in actions.items()
    )
