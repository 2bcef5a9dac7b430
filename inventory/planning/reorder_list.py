"""The reorder list: what has fallen to its reorder point, how many to order, and which returns to wait for."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from math import ceil

from inventory.facts import Fact, fact
from inventory.models import Item, Recommendation, StockPolicy, Storeroom
from inventory.models.access_scope import in_storerooms
from inventory.planning.chain_jobs import ChainJobs
from inventory.planning.policy_inputs import ItemStoreroom
from inventory.planning.stock_position import StockPosition, StockPositions, load_stock_positions
from inventory.stocking.chain_pieces import jobs_served, pieces_left, remnants

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
    links_per_job: int | None
    """Of chain: the length in which it is counted and ordered."""
    members: tuple[str, ...]
    """Other stock numbers of the same part whose pieces count here."""
    expected_cost: Decimal | None
    notes: tuple[Fact, ...]


@dataclass(frozen=True, slots=True)
class _Pool:
    """The policies of one part in one storeroom; the first is the one that orders."""

    policies: tuple[StockPolicy, ...]
    member_ids: tuple[int, ...]
    chain: ChainJobs | None


def reorder_list(*, today: date, storeroom: Storeroom | None = None) -> list[ReorderLine]:
    """By storeroom and stock number; nine queries, however long it is."""
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
    known = _parts()
    found: dict[tuple[int, tuple[int, ...]], list[StockPolicy]] = defaultdict(list)
    for policy in policies:
        part = known.get((policy.item_id, policy.storeroom_id))
        found[policy.storeroom_id, part.member_ids if part else (policy.item_id,)].append(policy)
    return [_pool(rows, ids, known) for (_, ids), rows in found.items()]


@dataclass(frozen=True, slots=True)
class _Part:
    """What the current recommendation of an item in a storeroom says about the part."""

    member_ids: tuple[int, ...]
    is_kept: bool
    """Under its own number."""
    chain: ChainJobs | None


def _pool(policies: list[StockPolicy], ids: tuple[int, ...], known: Mapping[ItemStoreroom, _Part]) -> _Pool:
    def part(policy: StockPolicy) -> _Part | None:
        return known.get((policy.item_id, policy.storeroom_id))

    ordered = sorted(policies, key=lambda policy: not getattr(part(policy), "is_kept", False))
    first = part(ordered[0])
    return _Pool(tuple(ordered), ids, first.chain if first else None)


def _parts() -> dict[ItemStoreroom, _Part]:
    rows = Recommendation.objects.current().order_by()
    columns = ("item_id", "storeroom_id", "evidence__member_ids", "evidence__kept_as_id", "evidence__chain")
    return {
        (item, room): _Part(
            tuple(sorted({*(ids or ()), item})), kept_as is None, ChainJobs(**chain) if chain else None
        )
        for item, room, ids, kept_as, chain in rows.values_list(*columns)
    }


def _stock_numbers(pools: Iterable[_Pool]) -> dict[int, str]:
    wanted = {item_id for pool in pools if len(pool.member_ids) > 1 for item_id in pool.member_ids}
    return dict(Item.objects.filter(pk__in=wanted).values_list("pk", "stock_number")) if wanted else {}


def _line(pool: _Pool, positions: StockPositions, numbers: dict[int, str]) -> ReorderLine | None:
    """None while there is enough."""
    policy, *others = pool.policies
    links = pool.chain.links_per_job if pool.chain else 1
    stock = positions.of(pool.member_ids, policy.storeroom_id, links_per_job=links)
    if stock.inventory_position > policy.reorder_point:
        return None
    with_lent = stock.inventory_position + stock.due_back
    waits = with_lent > policy.reorder_point
    quantity = 0 if waits else ceil((policy.order_up_to - with_lent) / links) * links
    cost = policy.item.unit_cost
    return ReorderLine(
        item=policy.item,
        storeroom=policy.storeroom,
        action=WAIT if waits else ORDER,
        quantity=quantity,
        reorder_point=policy.reorder_point,
        order_up_to=policy.order_up_to,
        stock=stock,
        links_per_job=pool.chain.links_per_job if pool.chain else None,
        members=tuple(sorted(numbers[one] for one in pool.member_ids if one != policy.item_id)),
        expected_cost=None if cost is None else cost * quantity,
        notes=(*_notes(policy, others, stock, waits), *_chain_notes(pool, positions, stock)),
    )


def _chain_notes(pool: _Pool, positions: StockPositions, stock: StockPosition) -> Iterable[Fact]:
    """How many jobs the pieces serve, and the remnants that serve none: these are to be used up or scrapped first."""
    if pool.chain is None:
        return
    links, pieces = pool.chain.links_per_job, positions.pieces(pool.member_ids, pool.policies[0].storeroom_id)
    jobs = jobs_served(pieces_left(pieces, stock.reserved), links, joints=positions.chain_joints)
    yield fact(
        "chain_pieces_serve_jobs", links=sum(pieces), pieces=len(pieces), jobs=jobs, links_per_job=links
    )
    short = remnants(pieces, pool.chain.shortest_links)
    if short:
        values = {"pieces": len(short), "links": sum(short), "longest_links": short[0]}
        yield fact("chain_remnants", **values, shortest_job_links=pool.chain.shortest_links)


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
