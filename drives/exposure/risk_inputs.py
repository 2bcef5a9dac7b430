"""What exposure is calculated from: cover, available stock, days to the next piece, and the demand of each position."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from functools import cached_property

from django.db.models import F, QuerySet, Value
from django.db.models.functions import Coalesce

from drives.demand.cover import CoverMap, cover_map, grouped
from drives.demand.position_demand import PositionDemand, demands_over, stored_demands
from drives.exposure.position_years import PositionYear
from drives.exposure.unserved_chance import AvailableCover
from drives.models import Cover, Installation, Position
from drives.models.history import InstallationQuerySet
from inventory.models import Item, StockLevel, SupplyOrder
from inventory.models.access_scope import in_plants, in_storerooms
from inventory.models.stock import StockLevelQuerySet
from inventory.models.supply import SupplyOrderQuerySet
from inventory.planning.terms import Terms, load_terms
from inventory.stocking.lead_time_demand import LeadTimeDemand, from_pmf
from inventory.stores.lead_times import LeadTimes, emergency_hours, lead_times, lead_times_of
from inventory.stores.reach import Way, transfer_minutes

HOURS_PER_DAY = 24.0

ItemRoom = tuple[int, int | None]
"""Item and storeroom; None of a plant without one."""


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
    is_cover_known: bool = True
    demands_as_of: datetime | None = None
    """When the earliest of the demands was calculated."""
    not_calculated: frozenset[int] = frozenset()
    """Positions added after the last stocking run."""
    _over: dict[tuple[int, float], LeadTimeDemand] = field(default_factory=dict, repr=False)

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
        if (position, days) not in self._over:
            self.prepare([position], days)
        return self._over[position, days]

    def prepare(self, positions: Iterable[int], days: float) -> None:
        """The demand of many positions over the same days, worked out together."""
        new = [one for one in sorted(positions) if (one, days) not in self._over]
        known = [one for one in new if one in self.demands]
        none_needed = from_pmf([1.0])
        self._over.update({(one, days): none_needed for one in new})
        laws = demands_over((self.demands[one] for one in known), days)
        self._over.update({(one, days): law for one, law in zip(known, laws, strict=True)})

    def days_to(self, item: int, position: int) -> float | None:
        """Days until the next piece of an item can be in the storeroom of a position."""
        return self.days_to_item.get((item, self.positions[position].storeroom_id))

    def hours_to(self, item: int, position: int) -> float | None:
        """Hours for which a stop waits where no piece of an item is there."""
        return self.hours_to_item.get((item, self.positions[position].storeroom_id))


def load_risk_inputs(
    at: datetime,
    *,
    demands: Mapping[int, PositionDemand] | None = None,
    years: Mapping[str, PositionYear] | None = None,
) -> RiskInputs:
    """Of every position: stock as of now, demand as it was calculated last unless given; a fixed number of queries."""
    terms, leads, minutes = load_terms(), lead_times(at), transfer_minutes()
    positions = _load_positions(Position.objects.all())
    grades = _served(cover_map(terms.worst_grade), positions, Installation.objects.all())
    pairs = {(item, positions[position].storeroom_id) for position, items in grades.items() for item in items}
    stored = stored_demands() if demands is None else None
    return RiskInputs(
        positions=positions,
        grades=grades,
        stock=_stock(StockLevel.objects.all()),
        days_to_item=_days_to_next(
            pairs, leads=leads, promised=_promised_days(SupplyOrder.objects.all(), at), minutes=minutes
        ),
        demands=stored.of if stored else demands or {},
        stock_numbers=dict(Item.objects.order_by().values_list("id", "stock_number")),
        minutes=minutes,
        hours_to_item=_hours_to_item(pairs, terms=terms, leads=leads, at=at),
        years=years or {},
        is_cover_known=any(grades.values()),
        demands_as_of=stored.as_of if stored else at,
        not_calculated=frozenset(positions) - stored.calculated if stored else frozenset(),
    )


def load_item_risk(at: datetime, item_ids: Collection[int], position: int) -> RiskInputs:
    """Only what the exposure of these items needs, if one is taken for `position`: who else they serve, and what else serves them.

    No names, no costs; a fixed number of queries.
    """
    terms = load_terms()
    cover = cover_map(terms.worst_grade, item_ids=item_ids)
    served = {edge.position_id for edge in cover.edges}
    positions = _load_positions(Position.objects.filter(pk__in={*served, position}))
    lifting = [pk for pk, one in positions.items() if one.is_lifting]
    grades = _served(cover, positions, Installation.objects.filter(position__in=lifting))
    items = {item for some in grades.values() for item in some}.union(item_ids)
    home = positions[position].storeroom_id if position in positions else None
    minutes = transfer_minutes(to={one.storeroom_id for one in positions.values() if one.storeroom_id})
    promised = _promised_days(SupplyOrder.objects.filter(item__in=item_ids), at)
    stored = stored_demands(positions.keys())
    return RiskInputs(
        positions=positions,
        grades=grades,
        stock=_stock(StockLevel.objects.filter(item__in=items)),
        days_to_item=_days_to_next(
            {(item, home) for item in item_ids},
            leads=lead_times_of(item_ids, home or 0, at),
            promised=promised,
            minutes=minutes,
        ),
        demands=stored.of,
        stock_numbers={},
        minutes=minutes,
        is_cover_known=bool(cover.edges) or Cover.objects.exists(),
        demands_as_of=stored.as_of,
        not_calculated=frozenset(positions) - stored.calculated,
    )


def _hours_to_item(
    pairs: Iterable[ItemRoom], *, terms: Terms, leads: LeadTimes, at: datetime
) -> dict[ItemRoom, float]:
    """As budget and recommendations wait; left out where neither an emergency nor an ordinary delivery is known."""
    past, found = emergency_hours(at), dict[ItemRoom, float]()
    for item, room in pairs:
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


def _load_positions(chosen: QuerySet[Position]) -> dict[int, RiskPosition]:
    """Those that are visible, by tag; one query."""
    plant = "drive__equipment__area__plant"
    rows = in_plants(chosen.order_by("tag"), plant).values_list(
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
    cover: CoverMap, positions: Mapping[int, RiskPosition], units: InstallationQuerySet
) -> dict[int, dict[int, str]]:
    """What serves each position; on a lifting drive only the item last fitted there for good."""
    fitted = units.last_for_good().filter(position__drive__lifting=True).items_by_position()
    found: dict[int, dict[int, str]] = {position: {} for position in positions}
    for edge in cover.edges:
        position = positions.get(edge.position_id)
        if position is None or (position.is_lifting and fitted.get(edge.position_id) != edge.item_id):
            continue
        found[edge.position_id][edge.item_id] = edge.grade
    return found


def _stock(chosen: StockLevelQuerySet) -> dict[int, tuple[StoreroomStock, ...]]:
    """Available pieces of each item by storeroom; one query."""
    found: dict[int, dict[tuple[str, int], int]] = {}
    levels = in_storerooms(chosen.available()).order_by("item_id", "storeroom__code")
    columns = ("item_id", "storeroom__code", "storeroom_id")
    for item, code, room, pieces in levels.values_list(*columns, F("on_hand") - F("reserved")):
        rooms = found.setdefault(item, {})
        rooms[code, room] = rooms.get((code, room), 0) + pieces
    return {
        item: tuple(StoreroomStock(code, pieces, room) for (code, room), pieces in rooms.items())
        for item, rooms in found.items()
    }


def _promised_days(orders: SupplyOrderQuerySet, at: datetime) -> dict[int, dict[int, float]]:
    """By item and storeroom, days to the next promised delivery; an overdue order promises nothing. One query."""
    today = at.date()
    rows = in_storerooms(orders.open()).filter(promised_on__gte=today).order_by("-promised_on")
    found: dict[int, dict[int, float]] = defaultdict(dict)
    for row in rows.only("item_id", "storeroom_id", "promised_on", "quantity", "received_quantity", "status"):
        if row.outstanding and row.promised_on:
            found[row.item_id][row.storeroom_id] = float((row.promised_on - today).days)
    return found


def _days_to_next(
    pairs: Iterable[ItemRoom],
    *,
    leads: LeadTimes,
    promised: Mapping[int, Mapping[int, float]],
    minutes: Mapping[Way, int],
) -> dict[ItemRoom, float]:
    """The sooner of the next promised delivery within reach and an order placed now; left out where neither is known."""
    found: dict[ItemRoom, float] = {}
    for item, room in pairs:
        lead = leads.of(item, room or 0)
        known = [lead.mean_days] if lead else []
        known += [
            days
            for there, days in promised.get(item, {}).items()
            if there == room or (there, room or 0) in minutes
        ]
        if known:
            found[item, room] = min(known)
    return found
