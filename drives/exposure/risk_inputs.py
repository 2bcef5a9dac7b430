"""What exposure is worked out from: the cover, what lies free, when more can be there, and what each position asks for."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from functools import cached_property
from typing import Protocol

from django.db.models import F

from drives.demand.cover import cover_map
from drives.exposure.chance import Shelves
from drives.exposure.stop_demand import Ask, asks_of_the_day
from drives.models import Installation, Position
from inventory.models import Item, StockLevel, SupplyOrder
from inventory.models.access_scope import in_plants, in_storerooms
from inventory.planning.terms import load_terms
from inventory.stocking.lead_time_demand import LeadTimeDemand, from_pmf
from inventory.stores.lead_times import LeadTimes, emergency_hours, lead_times


class Edge(Protocol):
    @property
    def position_id(self) -> int: ...
    @property
    def item_id(self) -> int: ...
    @property
    def grade(self) -> str: ...


class CoverGraph(Protocol):
    @property
    def edges(self) -> tuple[Edge, ...]: ...


@dataclass(frozen=True, kw_only=True)
class Place:
    """A position as its exposure needs it."""

    position_id: int
    tag: str
    drive: str
    plant: str
    storeroom_id: int | None = None
    storeroom: str = ""
    criticality: str = ""
    cost_per_hour: Decimal | None = None
    currency: str = "EUR"
    is_lifting: bool = False


@dataclass(frozen=True)
class Pile:
    """Free pieces of an item in one storeroom."""

    storeroom: str
    available: int


@dataclass(frozen=True, kw_only=True)
class Outlook:
    """Loaded once; everything else is worked out from it without a query."""

    places: Mapping[int, Place]
    grades: Mapping[int, Mapping[int, str]]
    """By position: the items that serve it, each with its grade."""
    piles: Mapping[int, tuple[Pile, ...]]
    days_to_item: Mapping[tuple[int, int | None], float]
    """By item and storeroom: until the next piece can be there, whether one is on order or not."""
    asks: Mapping[int, Ask]
    stock_numbers: Mapping[int, str]
    hours_to_expedite: float | None = None
    _laws: dict[tuple[int, float], LeadTimeDemand] = field(default_factory=dict, repr=False)

    @cached_property
    def shelves(self) -> Shelves:
        free = {item: sum(pile.available for pile in piles) for item, piles in self.piles.items()}
        return Shelves(free, {position: tuple(sorted(items)) for position, items in self.grades.items()})

    @cached_property
    def positions_of(self) -> Mapping[int, tuple[int, ...]]:
        """Positions that each item serves."""
        found: dict[int, list[int]] = {}
        for position, items in sorted(self.grades.items()):
            for item in items:
                found.setdefault(item, []).append(position)
        return {item: tuple(positions) for item, positions in found.items()}

    def law(self, position: int, days: float) -> LeadTimeDemand:
        """What a position asks for in so many days; one whose part is not known asks for nothing that is known."""
        key = (position, days)
        if key not in self._laws:
            ask = self.asks.get(position)
            self._laws[key] = from_pmf([1.0]) if ask is None else ask.over(days)
        return self._laws[key]

    def days_to(self, item: int, position: int) -> float | None:
        """Days until the next piece of an item can be in the storeroom of a position."""
        return self.days_to_item.get((item, self.places[position].storeroom_id))


def load_outlook(at: datetime, *, item_ids: Collection[int] | None = None) -> Outlook:
    """The plant as it stands, looked at from a moment; the shelves are those of now. A fixed number of queries.

    With `item_ids` only what the positions ask for that these items serve is worked out.
    """
    terms = load_terms()
    places = load_places()
    graph: CoverGraph = cover_map(terms.worst_grade)
    grades = served(graph, places, load_fitted())
    hours = terms.hours_to_expedite
    if hours is None:
        past = emergency_hours(at).of_all()
        hours = past.hours if past else None
    items = {item for found in grades.values() for item in found}
    asking = [
        position
        for position, found in grades.items()
        if item_ids is None or not found.keys().isdisjoint(item_ids)
    ]
    return Outlook(
        places=places,
        grades=grades,
        piles=_piles(),
        days_to_item=days_to_next(items, places, lead_times(at), _promised_days(at)),
        asks=asks_of_the_day(at, asking, worst_grade=terms.worst_grade),
        stock_numbers=dict(Item.objects.order_by().values_list("id", "stock_number")),
        hours_to_expedite=hours,
    )


def load_places() -> dict[int, Place]:
    """Every position with its drive; one query."""
    rows = in_plants(Position.objects.order_by("tag"), "drive__equipment__area__plant").values_list(
        "id",
        "tag",
        "drive__tag",
        "drive__equipment__area__plant__code",
        "drive__equipment__area__plant__storeroom_id",
        "drive__equipment__area__plant__storeroom__code",
        "drive__criticality",
        "drive__downtime_cost_per_hour",
        "drive__currency",
        "drive__lifting",
    )
    return {
        row[0]: Place(
            position_id=row[0],
            tag=row[1],
            drive=row[2],
            plant=row[3],
            storeroom_id=row[4],
            storeroom=row[5] or "",
            criticality=row[6],
            cost_per_hour=row[7],
            currency=row[8],
            is_lifting=row[9],
        )
        for row in rows
    }


def load_fitted() -> dict[int, int]:
    """The item that sits on each lifting drive's positions; one query."""
    fitted = Installation.objects.still_fitted().filter(item__isnull=False, position__drive__lifting=True)
    return {position: item for position, item in fitted.values_list("position_id", "item_id") if item}


def served(
    graph: CoverGraph, places: Mapping[int, Place], fitted: Mapping[int, int]
) -> dict[int, dict[int, str]]:
    """What serves each position; on a lifting drive nothing but the very item that is fitted there."""
    found: dict[int, dict[int, str]] = {position: {} for position in places}
    for edge in graph.edges:
        place = places.get(edge.position_id)
        if place is None or (place.is_lifting and fitted.get(edge.position_id) != edge.item_id):
            continue
        found[edge.position_id][edge.item_id] = edge.grade
    return found


def _piles() -> dict[int, tuple[Pile, ...]]:
    """Free pieces of every item, storeroom by storeroom; one query."""
    found: dict[int, dict[str, int]] = {}
    levels = in_storerooms(StockLevel.objects.available()).order_by("item_id", "storeroom__code")
    for item, room, free in levels.values_list("item_id", "storeroom__code", F("on_hand") - F("reserved")):
        rooms = found.setdefault(item, {})
        rooms[room] = rooms.get(room, 0) + free
    return {item: tuple(Pile(room, free) for room, free in rooms.items()) for item, rooms in found.items()}


def _promised_days(at: datetime) -> dict[int, float]:
    """Days to the next promised delivery of an item, wherever it goes to; one that is overdue promises nothing. One query."""
    today = at.date()
    rows = in_storerooms(SupplyOrder.objects.open()).filter(promised_on__gte=today).order_by("-promised_on")
    return {
        row.item_id: float((row.promised_on - today).days)
        for row in rows.only("item_id", "promised_on", "quantity", "received_quantity", "status")
        if row.outstanding and row.promised_on
    }


def days_to_next(
    items: set[int], places: Mapping[int, Place], leads: LeadTimes, promised: Mapping[int, float]
) -> dict[tuple[int, int | None], float]:
    """The sooner of the next promised delivery and an order placed now; left out where neither is known."""
    found: dict[tuple[int, int | None], float] = {}
    for room in sorted({place.storeroom_id for place in places.values()}, key=lambda key: key or 0):
        for item in sorted(items):
            lead = leads.of(item, room or 0)
            known = [lead.mean_days] if lead else []
            known += [promised[item]] if item in promised else []
            if known:
                found[item, room] = min(known)
    return found
