"""The reorder list: what has fallen to its reorder point, how many to order, what to transfer, and which returns to wait for."""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from math import ceil

from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from inventory.facts import Fact, fact
from inventory.models import Item, Lifecycle, StockLevel, StockPolicy, Storeroom, Unit
from inventory.models.access_scope import current_scope
from inventory.planning.common_stock import CommonStock, PolicyGroup, load_common_stock, policy_groups
from inventory.planning.policy_inputs import ItemStoreroom
from inventory.planning.stock_position import StockPosition, StockPositions, load_stock_positions
from inventory.stocking.chain_pieces import jobs_served, pieces_left, remnants
from inventory.stores.reach import Way, transfer_minutes

CHUNK, LARGEST_CHUNK = 200, 3_200
"""So many policies are looked at together, twice as many each time: the database orders what is left for each chunk."""
Place = tuple[str, str]
"""Of a line: storeroom and stock number."""
ORDER = "order"
WAIT = "wait_for_return"
TRANSFER = "transfer"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReorderLine:
    """One item of one storeroom; `stock` counts the pieces of all numbers of the same part, in all storerooms that share them."""

    item: Item
    storeroom: Storeroom
    action: str
    quantity: int
    """To order now, or to transfer from the storerooms named; 0 while it waits for a return."""
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
class _Stock:
    """What the lines are made from."""

    positions: StockPositions
    numbers: Mapping[int, str]
    minutes: Mapping[Way, int]
    rooms: Mapping[int, str]
    """Codes of the storerooms that the caller may see: nothing else is counted."""

    def of(self, pool: PolicyGroup, storerooms: Iterable[int]) -> StockPosition:
        seen = [room for room in storerooms if room in self.rooms]
        return self.positions.of(pool.stock.member_ids, seen, links_per_job=pool.stock.links_per_job)


def reorder_lines(
    *,
    today: date,
    storeroom: Storeroom | None = None,
    after: Place | None = None,
    backward: bool = False,
) -> Iterator[ReorderLine]:
    """The lines behind a place of the list (before it, the last one first), as far as they are read.

    A few queries for each chunk of the policies whose own storeroom may lack pieces, and one for each storeroom with policies.
    """
    rooms = _visible_storerooms()
    wanted = _with_policies(after and after[0], backward=backward)
    if storeroom is not None:
        wanted = wanted.filter(pk=storeroom.pk)
    codes = {pk: code for pk, code in wanted.values_list("pk", "code") if pk in rooms}
    for policies in _chunks(codes, after, backward=backward):
        yield from _lines(policies, rooms, today)


def _with_policies(code: str | None, *, backward: bool) -> QuerySet[Storeroom]:
    """From a storeroom on."""
    policies = StockPolicy.objects.filter(stocked=True, storeroom=OuterRef("pk"))
    found = Storeroom.objects.filter(Exists(policies)).order_by("-code" if backward else "code")
    return found if code is None else found.filter(**{f"code__{'lte' if backward else 'gte'}": code})


def _chunks(rooms: Mapping[int, str], after: Place | None, *, backward: bool) -> Iterator[list[StockPolicy]]:
    """Storeroom by storeroom, so that the database orders no more than the policies of one for the first lines."""
    found, size = list[StockPolicy](), CHUNK
    for pk, code in rooms.items():
        number = after[1] if after is not None and code == after[0] else None
        while True:
            found += _short_policies(pk, number, backward=backward)[: size - len(found)]
            if len(found) < size:
                break
            yield found
            found, size, number = [], min(2 * size, LARGEST_CHUNK), found[-1].item.stock_number
    yield found


def place_of(line: ReorderLine | StockPolicy) -> Place:
    return line.storeroom.code, line.item.stock_number


def _short_policies(room: int, after: str | None, *, backward: bool) -> QuerySet[StockPolicy]:
    """Those that may need something: what lies free in the storeroom itself is not above the reorder point.

    No other storeroom and no other number takes anything away from that, so that the others need nothing.
    """
    here = StockLevel.objects.available().filter(item=OuterRef("item"), storeroom=OuterRef("storeroom"))
    free = here.order_by().values("item").annotate(free=Sum(F("on_hand") - F("reserved"))).values("free")
    # Not joined: a database may read all items for the policies of one storeroom.
    item = Item.objects.order_by().filter(pk=OuterRef("item"))
    found = StockPolicy.objects.filter(stocked=True, storeroom=room).prefetch_related("item", "storeroom")
    found = found.annotate(number=Subquery(item.values("stock_number"))).alias(
        unit=Subquery(item.values("unit")), free=Coalesce(Subquery(free), 0)
    )
    # Of chain only whole jobs count, so that what lies there may not be enough.
    found = found.filter(Q(unit=Unit.LINK) | Q(free__lte=F("reorder_point")))
    if after is not None:
        found = found.filter(**{f"number__{'lt' if backward else 'gt'}": after})
    return found.order_by("-number" if backward else "number")


def _lines(policies: Sequence[StockPolicy], rooms: Mapping[int, str], today: date) -> Iterator[ReorderLine]:
    """Of the parts that are ordered by one of these policies, in their order."""
    if not policies:
        return
    common = load_common_stock({policy.item_id for policy in policies})
    members = {one for stock in common.values() for one in stock.member_ids}
    members |= {policy.item_id for policy in policies}
    pools = {pool.policy.pk: pool for pool in policy_groups(_of_parts(policies, common), common)}
    listed = [pools[policy.pk] for policy in policies if policy.pk in pools]
    ways = transfer_minutes({pool.policy.storeroom_id for pool in listed})
    stock = _Stock(load_stock_positions(today, members), _stock_numbers(listed), ways, rooms)
    lines = (_line(pool, stock) for pool in listed)
    yield from (line for line in lines if line is not None)


def _of_parts(
    policies: Sequence[StockPolicy], common: Mapping[ItemStoreroom, CommonStock]
) -> list[StockPolicy]:
    """These, and all others of parts that have more numbers or lie in more storerooms."""
    stocks = (common.get((policy.item_id, policy.storeroom_id)) for policy in policies)
    shared = [one for one in stocks if one and len(one.member_ids) * len(one.storeroom_ids) > 1]
    found = {policy.pk: policy for policy in policies}
    if shared:
        others = StockPolicy.objects.filter(
            stocked=True, item__in={item for one in shared for item in one.member_ids}
        )
        found = {policy.pk: policy for policy in others.prefetch_related("item", "storeroom")} | found
    return sorted(found.values(), key=lambda policy: policy.pk)


def _visible_storerooms() -> dict[int, str]:
    seen = current_scope().storerooms
    rooms = Storeroom.objects.order_by("code").values_list("pk", "code")
    return {pk: code for pk, code in rooms if seen is None or pk in seen}


def _stock_numbers(pools: Iterable[PolicyGroup]) -> dict[int, str]:
    parts = [pool.stock.member_ids for pool in pools]
    wanted = {item_id for ids in parts if len(ids) > 1 for item_id in ids}
    return dict(Item.objects.filter(pk__in=wanted).values_list("pk", "stock_number")) if wanted else {}


def _line(pool: PolicyGroup, known: _Stock) -> ReorderLine | None:
    """None while there is enough, and where it is needed."""
    policy, links = pool.policy, pool.stock.links_per_job
    stock = known.of(pool, pool.stock.storeroom_ids)
    with_lent = stock.inventory_position + stock.due_back
    elsewhere = _elsewhere(pool, known)
    if stock.inventory_position > policy.reorder_point:
        action, quantity = TRANSFER, _to_transfer(pool, known, elsewhere)
        if not quantity:
            return None
    elif with_lent > policy.reorder_point:
        action, quantity = WAIT, 0
    elif all(one.item.lifecycle != Lifecycle.ACTIVE for one in pool.policies):
        return None  # It is used up: nothing more is bought.
    else:
        action, quantity = ORDER, ceil((policy.order_up_to - with_lent) / links) * links
    cost = policy.item.unit_cost
    return ReorderLine(
        item=policy.item,
        storeroom=policy.storeroom,
        action=action,
        quantity=quantity,
        reorder_point=policy.reorder_point,
        order_up_to=policy.order_up_to,
        stock=stock,
        links_per_job=pool.stock.chain.links_per_job if pool.stock.chain else None,
        members=tuple(sorted(known.numbers[one] for one in pool.stock.member_ids if one != policy.item_id)),
        expected_cost=Decimal(0) if action == TRANSFER else None if cost is None else cost * quantity,
        notes=(
            *_notes(pool, stock, action, known.rooms),
            *elsewhere.values(),
            *_chain_notes(pool, known, stock),
        ),
    )


def _elsewhere(pool: PolicyGroup, known: _Stock) -> dict[int, Fact]:
    """What may be issued in the other storerooms, by storeroom."""
    found, home = {}, pool.policy.storeroom_id
    for room in pool.stock.storeroom_ids:
        there = known.of(pool, [room])
        pieces = there.on_hand - there.reserved
        if room != home and pieces > 0:
            minutes = known.minutes.get((room, home))
            found[room] = fact(
                "lies_in_storeroom", pieces=pieces, storeroom=known.rooms[room], minutes=minutes
            )
    return found


def _to_transfer(pool: PolicyGroup, known: _Stock, elsewhere: Mapping[int, Fact]) -> int:
    """As much as the storeroom that keeps the part lacks itself, of chain whole jobs; 0 while it has enough."""
    here = known.of(pool, [pool.policy.storeroom_id]).inventory_position
    if here > pool.policy.reorder_point:
        return 0
    there = sum(int(one.values["pieces"]) for one in elsewhere.values()) // pool.stock.links_per_job
    return (
        min(there, ceil((pool.policy.order_up_to - here) / pool.stock.links_per_job))
        * pool.stock.links_per_job
    )


def _chain_notes(pool: PolicyGroup, known: _Stock, stock: StockPosition) -> Iterable[Fact]:
    """How many jobs the pieces serve, and the remnants that serve none: these are to be used up or scrapped first."""
    chain, positions = pool.stock.chain, known.positions
    if chain is None:
        return
    rooms = [room for room in pool.stock.storeroom_ids if room in known.rooms]
    links, pieces = chain.links_per_job, positions.pieces(pool.stock.member_ids, rooms)
    jobs = jobs_served(pieces_left(pieces, stock.reserved), links, joints=positions.chain_joints)
    yield fact(
        "chain_pieces_serve_jobs", links=sum(pieces), pieces=len(pieces), jobs=jobs, links_per_job=links
    )
    short = remnants(pieces, chain.shortest_links)
    if short:
        values = {"pieces": len(short), "links": sum(short), "longest_links": short[0]}
        yield fact("chain_remnants", **values, shortest_job_links=chain.shortest_links)


def _notes(pool: PolicyGroup, stock: StockPosition, action: str, rooms: Collection[int]) -> Iterable[Fact]:
    policy, *others = pool.policies
    if stock.due_back:
        code = "ordered_after_return" if action == WAIT else "return_counted"
        yield fact(code, pieces=stock.due_back, back_on=str(stock.back_on))
    if stock.overdue_back:
        yield fact("return_overdue", pieces=stock.overdue_back)
    if policy.item.lifecycle != "active":
        yield fact("lifecycle_ends", stock_number=policy.item.stock_number, lifecycle=policy.item.lifecycle)
    for other in others:
        levels = {"reorder_point": other.reorder_point, "order_up_to": other.order_up_to}
        if other.storeroom_id == policy.storeroom_id:
            yield fact("counted_with_same_part", stock_number=other.item.stock_number, **levels)
        elif other.storeroom_id in rooms:
            yield fact("counted_with_storeroom", storeroom=other.storeroom.code, **levels)
