"""Stock positions by item and storeroom: on hand, reserved, on order, lent out and due back."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from django.db.models import F, Q, Sum

from inventory.models import (
    AVAILABLE_CONDITIONS,
    Item,
    MovementKind,
    StockEntry,
    StockLevel,
    StockPiece,
    SupplyOrder,
    Unit,
)
from inventory.planning.policy_inputs import ItemStoreroom
from inventory.planning.terms import load_terms
from inventory.stocking.chain_pieces import jobs_served, pieces_left


@dataclass(frozen=True, slots=True, kw_only=True)
class StockPosition:
    """Pieces in a condition that may be issued; several positions add up."""

    on_hand: int = 0
    reserved: int = 0
    on_order: int = 0
    serves_no_job: int = 0
    """Of chain: links on hand or on order that no whole job can be cut from. They are no stock to plan with."""
    next_due_on: date | None = None
    """The earliest day that a supplier promised."""
    due_back: int = 0
    """Lent out and expected back, today or later."""
    back_on: date | None = None
    """The day on which the last one is expected."""
    overdue_back: int = 0
    """Lent out and expected back before today."""

    @property
    def inventory_position(self) -> int:
        """On hand + on order - reserved, without what serves no job."""
        return self.on_hand + self.on_order - self.reserved - self.serves_no_job

    @property
    def is_valued(self) -> bool:
        """Something is on the shelf or on its way."""
        return bool(self.on_hand or self.on_order)

    def __add__(self, other: "StockPosition") -> "StockPosition":
        due = [day for day in (self.next_due_on, other.next_due_on) if day]
        back = [day for day in (self.back_on, other.back_on) if day]
        return StockPosition(
            on_hand=self.on_hand + other.on_hand,
            reserved=self.reserved + other.reserved,
            on_order=self.on_order + other.on_order,
            serves_no_job=self.serves_no_job + other.serves_no_job,
            next_due_on=min(due, default=None),
            due_back=self.due_back + other.due_back,
            back_on=max(back, default=None),
            overdue_back=self.overdue_back + other.overdue_back,
        )


NOTHING = StockPosition()


@dataclass(frozen=True, slots=True)
class StockPositions:
    by_storeroom: dict[ItemStoreroom, StockPosition]
    piece_links: dict[ItemStoreroom, tuple[int, ...]] = field(default_factory=dict)
    chain_joints: int = 0

    def of(
        self, item_ids: Iterable[int], storeroom_ids: Iterable[int], *, links_per_job: int = 1
    ) -> StockPosition:
        """Of these items in these storerooms together, each counted once; of chain, in whole jobs of so many links."""
        item_ids, storeroom_ids = sorted(set(item_ids)), sorted(set(storeroom_ids))
        keys = [(item_id, room) for item_id in item_ids for room in storeroom_ids]
        found = sum((self.by_storeroom.get(key, NOTHING) for key in keys), NOTHING)
        if links_per_job == 1:
            return found
        pieces = pieces_left(self.pieces(item_ids, storeroom_ids), found.reserved)
        jobs = jobs_served(pieces, links_per_job, joints=self.chain_joints)
        useless = max(found.on_hand - found.reserved, 0) - jobs * links_per_job
        return replace(found, serves_no_job=max(useless, 0) + found.on_order % links_per_job)

    def pieces(self, item_ids: Iterable[int], storeroom_ids: Iterable[int]) -> tuple[int, ...]:
        """The lengths of all pieces of chain, reserved or not, longest first."""
        keys = [(item_id, room) for item_id in set(item_ids) for room in set(storeroom_ids)]
        return tuple(sorted((links for key in keys for links in self.piece_links.get(key, ())), reverse=True))


def load_stock_positions(today: date, items: Collection[int] | None = None) -> StockPositions:
    """Of every item, or of some, in every storeroom with stock, orders or lends; six queries, seven for some."""
    of_items = Q() if items is None else Q(item__in=items)
    parts = [_on_shelf(of_items), _on_order(of_items), _lent(of_items, today)]
    found: dict[ItemStoreroom, StockPosition] = {}
    for part in parts:
        for key, position in part.items():
            found[key] = found.get(key, NOTHING) + position
    return StockPositions(found, _piece_links(items), load_terms().chain_joints)


def stock_on_shelf(at: datetime) -> StockPositions:
    """What lay there at a moment, of every item: what lies there now less what moved since; five queries."""
    since = StockEntry.objects.filter(occurred_at__gte=at, condition__in=AVAILABLE_CONDITIONS).order_by()
    on_hand = {key: one.on_hand for key, one in _on_shelf(Q()).items()}
    for item, room, change in since.values_list("item_id", "storeroom_id").annotate(Sum("change")):
        on_hand[item, room] = on_hand.get((item, room), 0) - change
    moved = dict(since.filter(piece__isnull=False).values_list("piece_id").annotate(Sum("change")))
    pieces = StockPiece.objects.filter(
        Q(links__gt=0) | Q(pk__in=list(moved)), level__condition__in=AVAILABLE_CONDITIONS
    ).order_by("pk")
    found: dict[ItemStoreroom, list[int]] = defaultdict(list)
    for pk, item, room, links in pieces.values_list("pk", "level__item_id", "level__storeroom_id", "links"):
        found[item, room].append(links - moved.get(pk, 0))
    return StockPositions(
        {key: StockPosition(on_hand=pieces) for key, pieces in on_hand.items()},
        {key: tuple(links for links in pieces if links > 0) for key, pieces in found.items()},
        load_terms().chain_joints,
    )


def _piece_links(items: Collection[int] | None) -> dict[ItemStoreroom, tuple[int, ...]]:
    rows = StockPiece.objects.filter(links__gt=0, level__condition__in=AVAILABLE_CONDITIONS).order_by("pk")
    if items is not None:
        # Of chain alone, and told here: for hundreds of items PostgreSQL would rather read all pieces, and all chain, there are.
        units = Item.objects.filter(pk__in=items).order_by().values_list("pk", "unit")
        rows = rows.filter(level__item__in=[pk for pk, unit in units if unit == Unit.LINK])
    found: dict[ItemStoreroom, list[int]] = defaultdict(list)
    for item, room, links in rows.values_list("level__item_id", "level__storeroom_id", "links"):
        found[item, room].append(links)
    return {key: tuple(pieces) for key, pieces in found.items()}


def not_available(storerooms: Collection[int] | None = None) -> list[tuple[int, int]]:
    """Pieces on the shelves in a condition that may not be issued, by item; one query."""
    rows = StockLevel.objects.exclude(condition__in=AVAILABLE_CONDITIONS).order_by()
    if storerooms is not None:
        rows = rows.filter(storeroom_id__in=storerooms)
    return list(rows.values_list("item_id").annotate(Sum("on_hand")))


def _on_shelf(of_items: Q) -> dict[ItemStoreroom, StockPosition]:
    rows = StockLevel.objects.filter(of_items, condition__in=AVAILABLE_CONDITIONS).order_by()
    sums = rows.values_list("item_id", "storeroom_id").annotate(Sum("on_hand"), Sum("reserved"))
    return {
        (item, room): StockPosition(on_hand=on_hand, reserved=reserved)
        for item, room, on_hand, reserved in sums
    }


def _on_order(of_items: Q) -> dict[ItemStoreroom, StockPosition]:
    found: dict[ItemStoreroom, StockPosition] = {}
    rows = SupplyOrder.objects.open().filter(of_items, received_quantity__lt=F("quantity")).order_by()
    columns = ("item_id", "storeroom_id", "quantity", "received_quantity", "promised_on")
    for item, room, ordered, received, promised in rows.values_list(*columns):
        coming = StockPosition(on_order=ordered - received, next_due_on=promised)
        found[item, room] = found.get((item, room), NOTHING) + coming
    return found


def _lent(of_items: Q, today: date) -> dict[ItemStoreroom, StockPosition]:
    """Lends that were not reversed, less what the same work order returned since."""
    lends = StockEntry.objects.issues().not_reversed().filter(of_items, expected_back_on__isnull=False)
    rows = lends.order_by("expected_back_on", "id").values_list(
        "item_id", "storeroom_id", "work_order", "net", "expected_back_on", "id"
    )
    returned = _returned(of_items, lends.values("work_order"))
    found: dict[ItemStoreroom, StockPosition] = {}
    for item, room, work_order, change, day, entry in rows:
        returns = returned.get((item, room, work_order), [])
        out = _still_out(-change, returns, entry)
        if out and day is not None:
            lent = (
                StockPosition(due_back=out, back_on=day) if day >= today else StockPosition(overdue_back=out)
            )
            found[item, room] = found.get((item, room), NOTHING) + lent
    return found


Returns = dict[tuple[int, int, str], list[list[int]]]
"""By item, storeroom and work order: entry and pieces not yet set against a lend."""


def _returned(of_items: Q, work_orders: object) -> Returns:
    rows = StockEntry.objects.not_reversed().filter(
        of_items
        & Q(kind=MovementKind.RETURN, work_order__in=work_orders)
        & ~Q(work_order="")
        & ~Q(reason_code="worn")
    )
    found: Returns = defaultdict(list)
    columns = ("item_id", "storeroom_id", "work_order", "id", "net")
    for item, room, work_order, entry, change in rows.order_by("id").values_list(*columns):
        found[item, room, work_order].append([entry, change])
    return found


def _still_out(lent: int, returns: list[list[int]], entry: int) -> int:
    """Each returned piece is set against one lend."""
    for returned in returns:
        if returned[0] > entry:
            taken = min(lent, returned[1])
            lent, returned[1] = lent - taken, returned[1] - taken
    return lent
