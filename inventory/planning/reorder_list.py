"""The reorder list: what has fallen to its reorder point, how many to order, and which returns to wait for."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from inventory.facts import Fact, fact
from inventory.models import Item, Recommendation, StockPolicy, Storeroom
from inventory.models.access_scope import in_storerooms
from inventory.planning.policy_inputs import ItemStoreroom
from inventory.planning.stock_position import StockPosition, StockPositions, load_stock_positions

ORDER = "order"
WAIT = "wait_for_return"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReorderLine:
    """One item of one storeroom; `stock` counts the pieces of all numbers of the same part."""

    item: Item
    storeroom: Storeroom
    action: str
    quantity: int
    """To order now; 0 while it waits for a return."""
    reorder_point: int
    order_up_to: int
    stock: StockPosition
    members: tuple[str, ...]
    """Other stock numbers of the same part whose pieces count here."""
    expected_cost: Decimal | None
    notes: tuple[Fact, ...]


@dataclass(frozen=True, slots=True)
class _Pool:
    """The policies of one part in one storeroom; the first is the one that orders."""

    policies: tuple[StockPolicy, ...]
    member_ids: tuple[int, ...]


def reorder_list(*, today: date, storeroom: Storeroom | None = None) -> list[ReorderLine]:
    """By storeroom and stock number; seven queries, however long it is."""
    policies = in_storerooms(StockPolicy.objects.filter(stocked=True)).select_related("item", "storeroom")
    if storeroom is not None:
        policies = policies.filter(storeroom=storeroom)
    pools = _pools(list(policies.order_by("storeroom__code", "item__stock_number")))
    positions = load_stock_positions(today)
    numbers = _stock_numbers(pools)
    lines = (_line(pool, positions, numbers) for pool in pools)
    return [line for line in lines if line is not None]


def _pools(policies: Sequence[StockPolicy]) -> list[_Pool]:
    """Each part of each storeroom once, so that no piece counts twice."""
    members, kept = _members()
    found: dict[tuple[int, tuple[int, ...]], list[StockPolicy]] = defaultdict(list)
    for policy in policies:
        key = policy.item_id, policy.storeroom_id
        found[policy.storeroom_id, members.get(key, (policy.item_id,))].append(policy)
    return [
        _Pool(tuple(sorted(rows, key=lambda row: (row.item_id, row.storeroom_id) not in kept)), ids)
        for (_, ids), rows in found.items()
    ]


def _members() -> tuple[dict[ItemStoreroom, tuple[int, ...]], set[ItemStoreroom]]:
    """The items of the same part by item and storeroom, and those that are kept under their own number."""
    rows = Recommendation.objects.current().order_by()
    columns = ("item_id", "storeroom_id", "evidence__member_ids", "evidence__kept_as_id")
    members: dict[ItemStoreroom, tuple[int, ...]] = {}
    kept: set[ItemStoreroom] = set()
    for item, room, ids, kept_as in rows.values_list(*columns):
        members[item, room] = tuple(sorted({*(ids or ()), item}))
        if kept_as is None:
            kept.add((item, room))
    return members, kept


def _stock_numbers(pools: Iterable[_Pool]) -> dict[int, str]:
    wanted = {item_id for pool in pools if len(pool.member_ids) > 1 for item_id in pool.member_ids}
    return dict(Item.objects.filter(pk__in=wanted).values_list("pk", "stock_number")) if wanted else {}


def _line(pool: _Pool, positions: StockPositions, numbers: dict[int, str]) -> ReorderLine | None:
    """None while there is enough."""
    policy, *others = pool.policies
    stock = positions.of(pool.member_ids, policy.storeroom_id)
    if stock.inventory_position > policy.reorder_point:
        return None
    with_lent = stock.inventory_position + stock.due_back
    waits = with_lent > policy.reorder_point
    quantity = 0 if waits else policy.order_up_to - with_lent
    cost = policy.item.unit_cost
    return ReorderLine(
        item=policy.item,
        storeroom=policy.storeroom,
        action=WAIT if waits else ORDER,
        quantity=quantity,
        reorder_point=policy.reorder_point,
        order_up_to=policy.order_up_to,
        stock=stock,
        members=tuple(sorted(numbers[one] for one in pool.member_ids if one != policy.item_id)),
        expected_cost=None if cost is None else cost * quantity,
        notes=tuple(_notes(policy, others, stock, waits)),
    )


def _notes(
    policy: StockPolicy, others: Sequence[StockPolicy], stock: StockPosition, waits: bool
) -> Iterable[Fact]:
    if stock.due_back:
        code = "ordered_after_return" if waits else "return_counted"
        yield fact(code, pieces=stock.due_back, back_on=str(stock.back_on))
    if stock.overdue_back:
        yield fact("return_overdue", pieces=stock.overdue_back)
    if policy.item.lifecycle != "active":
        yield fact("lifecycle_ends", stock_number=policy.item.stock_number, lifecycle=policy.item.lifecycle)
    for other in others:
        levels = {"reorder_point": other.reorder_point, "order_up_to": other.order_up_to}
        yield fact("counted_with_same_part", stock_number=other.item.stock_number, **levels)
