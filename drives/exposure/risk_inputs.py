"""What exposure is calculated from: cover, available stock, days to the next piece, and the demand of each position."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from functools import cached_property

from django.db.models import F, Value
from django.db.models.functions import Coalesce

from drives.demand.cover import CoverMap, cover_map, grouped
from drives.demand.position_demand import PositionDemand, cached_position_demands
from drives.exposure.position_years import PositionYear
from drives.exposure.unserved_chance import AvailableCover
from drives.models import Installation, Position
from inventory.models import Item, StockLevel, SupplyOrder
from inventory.models.access_scope import in_plants, in_storerooms
from inventory.planning.terms import Terms, load_terms
from inventory.stocking.lead_time_demand import LeadTimeDemand, from_pmf
from inventory.stores.lead_times import LeadTimes, emergency_hours, lead_times
from inventory.stores.reach import Way, transfer_minutes

HOURS_PER_DAY = 24.0


@dataclass(frozen=True)
class RiskPosition:
    """A position with what its risk depends on; `storeroom` is the one that serves its plant."""

    position_id: int
    tag: str
    drive: str
    plant: str
    storeroom_id: int | None = None
    storeroom: str = ""
    criticality: str = ""
    downtime_cost_per_hour: Decimal | None = None
    currency: str = "EUR"
    is_lifting: bool = False


@dataclass(frozen=True)
class StoreroomStock:
    """Available pieces of an item in one storeroom, and the minutes from there to the position; None: not within reach."""

    storeroom: str
    available: int
    storeroom_id: int = 0
    minutes: int | None = None


@dataclass(frozen=True, kw_only=True)
class RiskInputs:
    """Loaded once; everything else is calculated from it without a query."""

    positions: Mapping[int, RiskPosition]
    grades: Mapping[int, Mapping[int, str]]
    """By position: the items that serve it, each with its grade."""
    stock: Mapping[int, tuple[StoreroomStock, ...]]
    days_to_item: Mapping[tuple[int, int | None], float]
    """By item and storeroom: until the next piece can be there, on order or not."""
    demands: Mapping[int, PositionDemand]
    stock_numbers: Mapping[int, str]
    minutes: Mapping[Way, int] = field(default_factory=dict)
    hours_to_item: Mapping[tuple[int, int | None], float] = field(default_factory=dict)
    """By item and storeroom: a stop without stock, until an emergency delivery, else an ordinary one."""
    years: Mapping[str, PositionYear] = field(default_factory=dict)
    """By tag of the position."""
    _over: dict[tuple[int, float], LeadTimeDemand] = field(default_factory=dict, repr=False)

    @property
    def is_cover_known(self) -> bool:
        return any(self.grades.values())

    @cached_property
    def cover(self) -> AvailableCover:
        """Pieces by item and storeroom, each for the positions within its reach."""
        pieces = {
            (item, one.storeroom_id): one.available for item, stock in self.stock.items() for one in stock
        }
        serves = {
            position: [
                (item, one.storeroom_id)
                for item in sorted(items)
                for one in self.stock_for(item, position)
                if one.minutes is not None
            ]
            for position, items in self.grades.items()
        }
        return AvailableCover(pieces, serves)

    def stock_for(self, item: int, position: int) -> tuple[StoreroomStock, ...]:
        """With the minutes to the storeroom that serves the position; without a row on record it is not within reach."""
        home = self.positions[position].storeroom_id
        return tuple(
            replace(
                one,
                minutes=0 if one.storeroom_id == home else self.minutes.get((one.storeroom_id, home or 0)),
            )
            for one in self.stock.get(item, ())
        )

    @cached_property
    def positions_of(self) -> Mapping[int, tuple[int, ...]]:
        """Positions that each item serves."""
        served = sorted(self.grades.items())
        return grouped((item, position) for position, items in served for item in items)

    def demand_over(self, position: int, days: float) -> LeadTimeDemand:
        """Of a position; where its part is not known, none is assumed."""
        key = (position, days)
        if key not in self._over:
            demand = self.demands.get(position)
            self._over[key] = from_pmf([1.0]) if demand is None else demand.over(days)
        return self._over[key]

    def days_to(self, item: int, position: int) -> float | None:
        """Days until the next piece of an item can be in the storeroom of a position."""
        return self.days_to_item.get((item, self.positions[position].storeroom_id))

    def hours_to(self, item: int, position: int) -> float | None:
        """Hours for which a stop waits where no piece of an item is there."""
        return self.hours_to_item.get((item, self.positions[position].storeroom_id))


def load_risk_inputs(
    at: datetime,
    *,
    item_ids: Collection[int] | None = None,
    demands: Mapping[int, PositionDemand] | None = None,
    years: Mapping[str, PositionYear] | None = None,
) -> RiskInputs:
    """Cover and demand as of a moment, stock as of now; a fixed number of queries.

    With `item_ids` only what their exposure needs: the demand of positions that they serve, no names and no costs. `demands`
    and `years` are those of all positions, where they are loaded already.
    """
    terms, leads = load_terms(), lead_times(at)
    positions = _load_positions()
    fitted = Installation.objects.last_for_good().filter(position__drive__lifting=True).items_by_position()
    grades = _served(cover_map(terms.worst_grade), positions, fitted)
    chosen = [
        position
        for position, items in grades.items()
        if item_ids is None or not items.keys().isdisjoint(item_ids)
    ]
    items = {item for served in grades.values() for item in served}
    minutes = transfer_minutes()
    return RiskInputs(
        positions=positions,
        grades=grades,
        stock=_stock(),
        days_to_item=_days_to_next(
            items, positions, leads=leads, promised=_promised_days(at), minutes=minutes
        ),
        demands=cached_position_demands(at, chosen, worst_grade=terms.worst_grade)
        if demands is None
        else demands,
        stock_numbers={} if item_ids else dict(Item.objects.order_by().values_list("id", "stock_number")),
        minutes=minutes,
        hours_to_item={} if item_ids else _hours_to_item(items, positions, terms=terms, leads=leads, at=at),
        years=years or {},
    )


def _hours_to_item(
    items: Collection[int],
    positions: Mapping[int, RiskPosition],
    *,
    terms: Terms,
    leads: LeadTimes,
    at: datetime,
) -> dict[tuple[int, int | None], float]:
    """As budget and recommendations wait; left out where neither an emergency nor an ordinary delivery is known."""
    past, found = emergency_hours(at), dict[tuple[int, int | None], float]()
    for room in {position.storeroom_id for position in positions.values()}:
        for item in items:
            lead = leads.of(item, room or 0)
            days = lead.mean_days if lead else None
            emergency = past.of(item, ordinary_days=days)
            hours = terms.hours_to_expedite
            if hours is None and emergency is not None:
                hours = emergency.hours
            if hours is None and days is not None:
                hours = days * HOURS_PER_DAY
            if hours is not None:
                found[item, room] = hours
    return found


def _load_positions() -> dict[int, RiskPosition]:
    """Every visible position by tag; one query."""
    plant = "drive__equipment__area__plant"
    rows = in_plants(Position.objects.order_by("tag"), plant).values_list(
        "id",
        "tag",
        "drive__tag",
        f"{plant}__code",
        f"{plant}__storeroom_id",
        Coalesce(f"{plant}__storeroom__code", Value("")),
        "drive__criticality",
        "drive__downtime_cost_per_hour",
        "drive__currency",
        "drive__lifting",
    )
    return {row[0]: RiskPosition(*row) for row in rows}


def _served(
    cover: CoverMap, positions: Mapping[int, RiskPosition], fitted: Mapping[int, int]
) -> dict[int, dict[int, str]]:
    """What serves each position; on a lifting drive only the item last fitted there for good."""
    found: dict[int, dict[int, str]] = {position: {} for position in positions}
    for edge in cover.edges:
        position = positions.get(edge.position_id)
        if position is None or (position.is_lifting and fitted.get(edge.position_id) != edge.item_id):
            continue
        found[edge.position_id][edge.item_id] = edge.grade
    return found


def _stock() -> dict[int, tuple[StoreroomStock, ...]]:
    """Available pieces of every item by storeroom; one query."""
    found: dict[int, dict[tuple[str, int], int]] = {}
    levels = in_storerooms(StockLevel.objects.available()).order_by("item_id", "storeroom__code")
    columns = ("item_id", "storeroom__code", "storeroom_id")
    for item, code, room, pieces in levels.values_list(*columns, F("on_hand") - F("reserved")):
        rooms = found.setdefault(item, {})
        rooms[code, room] = rooms.get((code, room), 0) + pieces
    return {
        item: tuple(StoreroomStock(code, pieces, room) for (code, room), pieces in rooms.items())
        for item, rooms in found.items()
    }


def _promised_days(at: datetime) -> dict[tuple[int, int], float]:
    """Days to the next promised delivery of an item to a storeroom; an overdue order promises nothing. One query."""
    today = at.date()
    rows = in_storerooms(SupplyOrder.objects.open()).filter(promised_on__gte=today).order_by("-promised_on")
    return {
        (row.item_id, row.storeroom_id): float((row.promised_on - today).days)
        for row in rows.only(
            "item_id", "storeroom_id", "promised_on", "quantity", "received_quantity", "status"
        )
        if row.outstanding and row.promised_on
    }


def _days_to_next(
    items: Collection[int],
    positions: Mapping[int, RiskPosition],
    *,
    leads: LeadTimes,
    promised: Mapping[tuple[int, int], float],
    minutes: Mapping[Way, int],
) -> dict[tuple[int, int | None], float]:
    """The sooner of the next promised delivery within reach and an order placed now; left out where neither is known."""
    found: dict[tuple[int, int | None], float] = {}
    for room in {position.storeroom_id for position in positions.values()}:
        near = {room or 0, *(begin for begin, end in minutes if end == room)}
        for item in items:
            lead = leads.of(item, room or 0)
            known = [lead.mean_days] if lead else []
            known += [promised[item, one] for one in near if (item, one) in promised]
            if known:
                found[item, room] = min(known)
    return found
