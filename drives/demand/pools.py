"""All that is known of one part in one storeroom: its positions there, their demand, and how long units lasted."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time
from functools import cached_property

from drives.demand.cover import CoverMap, cover_map
from drives.demand.demand_events import load_demand_events
from drives.demand.part_groups import PartGroups, group_parts, position_items
from drives.demand.request_matching import DemandEvent
from drives.lessons.life_comparison import ShorterLives, shorter_lived_items
from drives.lessons.unit_lives import UnitLife, take_ends_together, unit_lives
from drives.models import Position
from inventory.models import Item, PartKind, StockLevel, StockPolicy, Storeroom
from inventory.stocking.demand_models import DAYS_PER_YEAR

SHORTEST_RECORD_YEARS = 1.0 / 12
"""A record younger than a month says nothing of a rate: it counts as a month."""

PoolKey = tuple[int, int]
"""Part and storeroom."""


@dataclass(frozen=True)
class PoolPosition:
    """A position that needs this part, with the years in which it could have."""

    position: Position
    item_id: int
    years: float
    events: tuple[DemandEvent, ...]
    """Planned or not; for the part itself, whatever stock number was requested."""

    @property
    def unplanned_pieces(self) -> int:
        return sum(event.quantity for event in self.events if not event.is_planned)


@dataclass(frozen=True)
class Pool:
    """One part in one storeroom."""

    part: int
    storeroom: Storeroom
    member_ids: tuple[int, ...]
    positions: tuple[PoolPosition, ...]
    other_events: tuple[DemandEvent, ...]
    """Requested here, but not by a position that needs this part now."""
    lives: tuple[UnitLife, ...]
    """At its positions, of its own items and of those that drop in and do not differ in duty; temporary units are left out."""
    record_from: datetime
    as_of: datetime
    temporary_lives: tuple[UnitLife, ...] = ()
    """At its positions, of its own items that were fitted for a limited time."""

    @cached_property
    def events(self) -> tuple[DemandEvent, ...]:
        own = [event for one in self.positions for event in one.events]
        return tuple(sorted([*own, *self.other_events], key=lambda event: (event.at, event.work_order)))

    @cached_property
    def unplanned(self) -> tuple[DemandEvent, ...]:
        return tuple(event for event in self.events if not event.is_planned)

    @property
    def unplanned_pieces(self) -> int:
        return sum(event.quantity for event in self.unplanned)

    @cached_property
    def pieces_by_job(self) -> Mapping[tuple[str, str], int]:
        """Of unplanned jobs; lines of one job are one event, however many pieces it took."""
        found: dict[tuple[str, str], int] = defaultdict(int)
        for event in self.unplanned:
            found[event.job] += event.quantity
        return found

    @cached_property
    def outlasted(self) -> Mapping[int, ShorterLives]:
        """Items of the part whose units lasted shorter at its positions than those of its other items."""
        if len(self.member_ids) < 2:
            return {}
        lives = (*self.lives, *self.temporary_lives)
        return shorter_lived_items(life for life in lives if life.item_id in self.member_ids)

    @cached_property
    def position_ids(self) -> frozenset[int]:
        return frozenset(one.position.pk for one in self.positions)

    @property
    def record_years(self) -> float:
        return _years(self.record_from, self.as_of)

    @property
    def exposure_years(self) -> float:
        """Position-years; of a part that no position needs, the years of the record."""
        return sum(one.years for one in self.positions) if self.positions else self.record_years


@dataclass(frozen=True)
class DemandPools:
    """Every pool, and what they are made of."""

    pools: tuple[Pool, ...]
    items: Mapping[int, Item]
    positions: Mapping[int, Position]
    parts: PartGroups
    position_items: Mapping[int, int]
    cover: CoverMap


@dataclass
class _PoolBuilder:
    """Sorts events and lives by position, or by part and storeroom where no position needs the part."""

    loaded: DemandPools
    keys: Mapping[int, PoolKey]
    """Of each position that needs a part here."""
    as_of: datetime
    events_of: dict[int, list[DemandEvent]] = field(default_factory=lambda: defaultdict(list))
    other_events: dict[PoolKey, list[DemandEvent]] = field(default_factory=lambda: defaultdict(list))
    lives_of: dict[int, list[UnitLife]] = field(default_factory=lambda: defaultdict(list))
    record_from: dict[int, datetime] = field(default_factory=dict)
    """Of a storeroom: its first event, or that of a position it serves."""

    def add(self, event: DemandEvent) -> None:
        """A sprocket requested for a position is that position's part; chain, bushes and keys are parts of their own."""
        self._begin_record(event.storeroom_id, event.at)
        is_sprocket = event.item_id is None or _is_sprocket(self.loaded.items[event.item_id])
        position_id = event.position_id
        if position_id is not None and position_id in self.keys and is_sprocket:
            self._begin_record(self.keys[position_id][1], event.at)
            self.events_of[position_id].append(event)
        elif event.item_id is not None:
            self.other_events[self.loaded.parts.part_of[event.item_id], event.storeroom_id].append(event)

    def _begin_record(self, storeroom_id: int, at: datetime) -> None:
        self.record_from[storeroom_id] = min(at, self.record_from.get(storeroom_id, at))

    def pools(self, storerooms: Mapping[int, Storeroom], stocked: set[PoolKey]) -> tuple[Pool, ...]:
        of_key: dict[PoolKey, list[int]] = defaultdict(list)
        for position, key in self.keys.items():
            of_key[key].append(position)
        every_key = sorted({*of_key, *self.other_events} | stocked)
        return tuple(self._pool(key, storerooms[key[1]], of_key[key]) for key in every_key)

    def _pool(self, key: PoolKey, storeroom: Storeroom, positions: list[int]) -> Pool:
        members = self.loaded.parts.members[key[0]]
        record_from = self.record_from.get(storeroom.pk, self.as_of)
        lives = [life for position in positions for life in self.lives_of[position]]
        return Pool(
            part=key[0],
            storeroom=storeroom,
            member_ids=members,
            positions=tuple(self._position(position, record_from) for position in positions),
            other_events=tuple(self.other_events[key]),
            lives=take_ends_together(tuple(life for life in lives if self._is_of_part(life, members))),
            record_from=record_from,
            as_of=self.as_of,
            temporary_lives=tuple(life for life in lives if life.is_temporary and life.item_id in members),
        )

    def _position(self, pk: int, record_from: datetime) -> PoolPosition:
        position = self.loaded.positions[pk]
        begin = max(record_from, _in_use_from(position) or record_from)
        events = tuple(self.events_of[pk])
        return PoolPosition(position, self.loaded.position_items[pk], _years(begin, self.as_of), events)

    def _is_of_part(self, life: UnitLife, members: tuple[int, ...]) -> bool:
        if life.item_id is None or life.is_temporary:
            return False
        if life.item_id in members:
            return True
        if self.loaded.parts.differ_in_duty(life.item_id, members[0]):
            return False
        edges = self.loaded.cover.positions_of(life.item_id)
        return any(edge.position_id == life.position_id and edge.grade == "drop_in" for edge in edges)


def load_demand_pools(
    as_of: datetime, *, worst_grade: str = "with_work", known_until: datetime | None = None
) -> DemandPools:
    """Everything loaded once, in a fixed number of queries; the cover is read as it is stored.

    Exposure runs to `as_of`; what happened after `known_until` (`as_of` by default) is ignored.
    """
    known_until = known_until or as_of
    items = {item.pk: item for item in Item.objects.with_specification().order_by("pk")}
    positions = {position.pk: position for position in Position.objects.with_drive().order_by("pk")}
    cover, events = cover_map(worst_grade), load_demand_events(known_until)
    lives = unit_lives(as_of, known_until=known_until)
    parts = group_parts(items.values(), cover)
    sprockets = frozenset(pk for pk, item in items.items() if _is_sprocket(item))
    needed = position_items(positions, lives=lives, events=events, cover=cover, sprockets=sprockets)
    loaded = DemandPools((), items, positions, parts, needed, cover)
    builder = _PoolBuilder(loaded, _position_keys(loaded, known_until.date()), as_of)
    for event in events:
        builder.add(event)
    for life in lives:
        builder.lives_of[life.position_id].append(life)
    storerooms = {room.pk: room for room in Storeroom.objects.order_by("pk")}
    return replace(loaded, pools=builder.pools(storerooms, _stocked_keys(parts)))


def _is_sprocket(item: Item) -> bool:
    return item.specification is not None and item.specification.kind == PartKind.SPROCKET


def _position_keys(loaded: DemandPools, today: date) -> dict[int, PoolKey]:
    """Of every position in use whose part is known and whose plant has a storeroom."""
    found = {}
    for pk, position in loaded.positions.items():
        room = position.drive.equipment.area.plant.storeroom_id
        if pk in loaded.position_items and room is not None and position.is_in_use_on(today):
            found[pk] = (loaded.parts.part_of[loaded.position_items[pk]], room)
    return found


def _stocked_keys(parts: PartGroups) -> set[PoolKey]:
    """Parts that are in stock in a storeroom or have a policy there."""
    levels = StockLevel.objects.not_empty().values_list("item_id", "storeroom_id")
    policies = StockPolicy.objects.values_list("item_id", "storeroom_id")
    return {(parts.part_of[item], room) for item, room in [*levels, *policies]}


def _in_use_from(position: Position) -> datetime | None:
    days = [day for day in (position.in_use_from, position.drive.in_use_from) if day is not None]
    return datetime.combine(max(days), time(), UTC) if days else None


def _years(begin: datetime, end: datetime) -> float:
    return max((end - begin).total_seconds() / 86_400 / DAYS_PER_YEAR, SHORTEST_RECORD_YEARS)
