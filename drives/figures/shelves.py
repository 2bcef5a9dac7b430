"""What lies on the shelves for nothing, for too much, or as insurance."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import date, datetime
from typing import Any

from django.db.models import Q, QuerySet, Sum

from drives.figures.figure import Figure, FigureRow, valued, worth
from drives.models import Cover, CoverState, Position
from inventory.facts import Fact, fact, fact_from_json
from inventory.interchange.vocabulary import Grade
from inventory.models import (
    HoldingReason,
    Item,
    PartKind,
    Recommendation,
    StockEntry,
    StockLevel,
    StockPolicy,
)
from inventory.models.access_scope import in_plants
from inventory.planning.common_stock import CommonStock, policy_groups
from inventory.planning.policy_inputs import ItemStoreroom
from inventory.planning.stock_position import StockPositions, load_stock_positions, stock_on_shelf

PLANT = "drive__equipment__area__plant"
MOST_NAMED = 5
BREAK_EVEN = ("spare_pays_from_positions", "spare_pays_from_rate", "spare_never_pays")
SHOWN_OF_ITEM = ("stock_number", "unit_cost", "currency")
SERVES = (Grade.DROP_IN, Grade.WITH_WORK)


def excess(today: date, storerooms: Collection[int] | None = None) -> Figure:
    """On hand + on order - reserved above the maxima of the policies in force; seven queries.

    All numbers of a part count together, in all storerooms that share it: what one has too much and another lacks is no excess.
    Of chain, what serves no job is no stock to plan with, and so no excess: `chain_stock` names remnants.
    """
    return _excess(load_stock_positions(today), policies_in_force(), storerooms)


def excess_on_shelf(
    at: datetime,
    policies: Iterable[StockPolicy],
    storerooms: Collection[int] | None = None,
    shared: Mapping[ItemStoreroom, CommonStock] | None = None,
) -> Figure:
    """Above the maxima of these policies, of what lay there at a moment alone: of orders and reservations only the last state is kept."""
    return _excess(stock_on_shelf(at), policies, storerooms, shared)


def policies_in_force() -> QuerySet[StockPolicy]:
    rows = StockPolicy.objects.select_related("item", "storeroom").only(
        *("order_up_to", "updated_at", "storeroom__code", *(f"item__{name}" for name in SHOWN_OF_ITEM))
    )
    return rows.order_by("item__stock_number", "storeroom__code")


def _excess(
    positions: StockPositions,
    policies: Iterable[StockPolicy],
    storerooms: Collection[int] | None,
    shared: Mapping[ItemStoreroom, CommonStock] | None = None,
) -> Figure:
    seen = (one for one in policies if storerooms is None or one.storeroom_id in storerooms)
    groups = policy_groups(seen, shared)
    rows = []
    for group in groups:
        rooms = [room for room in group.stock.storeroom_ids if storerooms is None or room in storerooms]
        maximum = sum(policy.order_up_to for policy in group.policies)
        links = group.stock.links_per_job
        above = positions.of(group.stock.member_ids, rooms, links_per_job=links).inventory_position - maximum
        if above > 0:
            reason = fact("above_maximum", maximum=maximum)
            rows.append(_row(group.policy.item, group.policy.storeroom.code, above, reason))
    return valued(fact("figure_excess"), rows, of=len(groups))


def dead_stock(today: date, storerooms: Collection[int] | None = None, at: datetime | None = None) -> Figure:
    """Sprockets that no position in use on that day takes, not even after work; four queries.

    Chain, bushes and keys go with other parts, and are not judged here. `at` asks for what lay there then, by the verdicts of
    today; one query more.
    """
    levels = _on_hand(storerooms, at, item__specification__kind=PartKind.SPROCKET)
    if not CoverState.objects.exists():
        return valued(fact("figure_dead_stock"), (), notes=[fact("cover_not_calculated")])
    used = _used_items(today)
    rows = [
        _row(items, room, pieces, fact("no_position_takes_it"))
        for items, room, pieces in levels
        if items.pk not in used
    ]
    return valued(fact("figure_dead_stock"), rows, of=len(levels))


def insurance(today: date, storerooms: Collection[int] | None = None) -> Figure:
    """What is kept as insurance: the drives it protects, of plants that the caller sees, and when it pays; six queries."""
    levels = _on_hand(storerooms, None, item__holding_reason=HoldingReason.INSURANCE)
    served, pays = _served_by_item(today), _break_even()
    visible = set(in_plants(Position.objects.order_by(), PLANT).values_list("pk", flat=True))
    rows = []
    for item, room, pieces in levels:
        drives = sorted({one.drive.tag for one in served.get(item.pk, ()) if one.pk in visible})
        protects = fact("insurance_protects", drives=len(drives), named=", ".join(drives[:MOST_NAMED]))
        rows.append(_row(item, room, pieces, protects, *pays.get((item.pk, room), ())))
    return valued(fact("figure_insurance"), rows)


def _seen(rows: QuerySet[Any], storerooms: Collection[int] | None) -> QuerySet[Any]:
    return rows if storerooms is None else rows.filter(storeroom_id__in=storerooms)


def _row(item: Item, storeroom: str, pieces: int, *reasons: Fact) -> FigureRow:
    return FigureRow(
        reasons=reasons,
        item=item.stock_number,
        storeroom=storeroom,
        pieces=pieces,
        value=worth(item, pieces),
        currency=item.currency,
    )


def _on_hand(
    storerooms: Collection[int] | None, at: datetime | None, **which: Any
) -> list[tuple[Item, str, int]]:
    """Item, storeroom and pieces, whatever their condition; now, or at a moment."""
    sums: dict[tuple[int, str], int] = defaultdict(int)
    now = _seen(StockLevel.objects.filter(on_hand__gt=0, **which), storerooms).order_by()
    for item, room, pieces in now.values_list("item_id", "storeroom__code").annotate(Sum("on_hand")):
        sums[item, room] += pieces
    if at is not None:
        since = _seen(StockEntry.objects.filter(occurred_at__gte=at, **which), storerooms).order_by()
        for item, room, change in since.values_list("item_id", "storeroom__code").annotate(Sum("change")):
            sums[item, room] -= change
    items = Item.objects.only(*SHOWN_OF_ITEM).in_bulk({item for item, _ in sums})
    return [(items[item], room, pieces) for (item, room), pieces in sums.items() if pieces > 0]


def _used_items(day: date) -> set[int]:
    """Those that a position in use on that day takes, after work at most; as `is_in_use_on` has it, one query."""
    rows = Cover.objects.filter(grade__in=SERVES).order_by()
    for path in ("position__in_use_until", "position__drive__in_use_until"):
        rows = rows.filter(Q(**{f"{path}__isnull": True}) | Q(**{f"{path}__gte": day}))
    return set(rows.values_list("item_id", flat=True).distinct())


def _served_by_item(today: date) -> Mapping[int, tuple[Position, ...]]:
    """Positions in use that each item can serve, after work at most; one query."""
    found: dict[int, list[Position]] = defaultdict(list)
    for row in Cover.objects.filter(grade__in=SERVES).select_related("position__drive").order_by("item_id"):
        if row.position.is_in_use_on(today):
            found[row.item_id].append(row.position)
    return {item: tuple(positions) for item, positions in found.items()}


def _break_even() -> dict[tuple[int, str], tuple[Fact, ...]]:
    """What the recommendation in force says of it, by item and storeroom; one query."""
    rows = Recommendation.objects.current().filter(item__holding_reason=HoldingReason.INSURANCE)
    return {
        (row.item_id, row.storeroom.code): tuple(
            fact_from_json(stored) for stored in row.explanation if stored["code"] in BREAK_EVEN
        )
        for row in rows.select_related("storeroom")
    }
