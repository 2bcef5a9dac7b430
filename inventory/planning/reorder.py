"""The reorder list: what has fallen to its reorder point, how many to order, and what to wait for first."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from inventory.models import Item, Recommendation, StockPolicy, Storeroom
from inventory.models.access_scope import in_storerooms
from inventory.planning.facts import Place
from inventory.planning.standing import Standing, Standings, load_standings

ORDER = "order"
WAIT = "wait_for_return"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReorderLine:
    """One item of one storeroom; `standing` counts the pieces of all numbers of the same part."""

    item: Item
    storeroom: Storeroom
    action: str
    quantity: int
    """To order now; 0 while it waits for a return."""
    reorder_point: int
    order_up_to: int
    standing: Standing
    members: tuple[str, ...]
    """Other stock numbers of the same part whose pieces count here."""
    expected_cost: Decimal | None
    notes: tuple[str, ...]


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
    standings = load_standings(today)
    numbers = _stock_numbers(pools)
    lines = (_line(pool, standings, numbers) for pool in pools)
    return [line for line in lines if line is not None]


def _pools(policies: Sequence[StockPolicy]) -> list[_Pool]:
    """Each part of each storeroom once, so that no piece counts twice."""
    members, kept = _members()
    found: dict[tuple[int, tuple[int, ...]], list[StockPolicy]] = defaultdict(list)
    for policy in policies:
        place = policy.item_id, policy.storeroom_id
        found[policy.storeroom_id, members.get(place, (policy.item_id,))].append(policy)
    return [
        _Pool(tuple(sorted(rows, key=lambda row: (row.item_id, row.storeroom_id) not in kept)), ids)
        for (_, ids), rows in found.items()
    ]


def _members() -> tuple[dict[Place, tuple[int, ...]], set[Place]]:
    """The numbers of the same part by place, and the places whose number is the one kept."""
    rows = Recommendation.objects.current().order_by()
    columns = ("item_id", "storeroom_id", "evidence__member_ids", "evidence__kept_as_id")
    members: dict[Place, tuple[int, ...]] = {}
    kept: set[Place] = set()
    for item, room, ids, kept_as in rows.values_list(*columns):
        members[item, room] = tuple(sorted({*(ids or ()), item}))
        if kept_as is None:
            kept.add((item, room))
    return members, kept


def _stock_numbers(pools: Iterable[_Pool]) -> dict[int, str]:
    wanted = {item_id for pool in pools if len(pool.member_ids) > 1 for item_id in pool.member_ids}
    return dict(Item.objects.filter(pk__in=wanted).values_list("pk", "stock_number")) if wanted else {}


def _line(pool: _Pool, standings: Standings, numbers: dict[int, str]) -> ReorderLine | None:
    """None while there is enough."""
    policy, *others = pool.policies
    standing = standings.of(pool.member_ids, policy.storeroom_id)
    if standing.position > policy.reorder_point:
        return None
    with_lent = standing.position + standing.due_back
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
        standing=standing,
        members=tuple(sorted(numbers[one] for one in pool.member_ids if one != policy.item_id)),
        expected_cost=None if cost is None else cost * quantity,
        notes=tuple(_notes(policy, others, standing, waits)),
    )


def _notes(
    policy: StockPolicy, others: Sequence[StockPolicy], standing: Standing, waits: bool
) -> Iterable[str]:
    if standing.due_back:
        until = "nothing is ordered until then" if waits else "that is counted"
        yield f"{standing.due_back} lent out are expected back by {standing.back_on}; {until}."
    if standing.overdue_back:
        yield f"{standing.overdue_back} lent out should be back already: ask for them before ordering."
    if standing.position < 0:
        yield f"{-standing.position} more are reserved than are there or coming."
    if policy.item.lifecycle != "active":
        words = policy.item.get_lifecycle_display()
        yield f"{policy.item} is {words}: see its recommendation before buying."
    for other in others:
        yield (
            f"{other.item} is the same part, its pieces count here: its own policy"
            f" ({other.reorder_point}/{other.order_up_to}) waits for a decision."
        )
