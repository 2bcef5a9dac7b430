"""All that is known of one part in one storeroom, or in several that share it: positions, their demand, how long units lasted."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, time
from decimal import Decimal
from functools import cached_property
from itertools import compress
from operator import not_

from drives.demand.cover import CoverMap, cover_map
from drives.demand.demand_events import KnownItems, load_demand_events
from drives.demand.part_groups import PartGroups, group_parts, position_items, stored_groups
from drives.demand.record_part import WHOLE_RECORD, RecordPart, WholeRecord
from drives.demand.record_start import RecordDays, RecordStarts, StartOfRecord, load_set_starts
from drives.demand.request_matching import DemandEvent
from drives.lessons.life_comparison import ShorterLives, shorter_lived_items
from drives.lessons.unit_lives import UnitLife, take_ends_together, unit_digests, unit_lives
from drives.models import Position
from inventory.catalogue.plant_practice import current_demand_settings
from inventory.models import Item, Lifecycle, PartKind, StockLevel, StockPolicy, Storeroom, Unit
from inventory.planning.chain_jobs import ChainJobs, chain_jobs
from inventory.planning.policy_inputs import NearStoreroom
from inventory.stocking.demand_models import DAYS_PER_YEAR
from inventory.stocking.demand_settings import SHIPPED, DemandSettings

SHORTEST_RECORD_YEARS = 1.0 / 12
"""A record younger than a month says nothing of a rate: it counts as a month. Judgement."""

ITEM_COLUMNS = ("pk", "stock_number", "unit_cost", "currency", "lifecycle", "unit")

PoolKey = tuple[int, int]
"""Part and storeroom."""


@dataclass(frozen=True, slots=True)
class PoolItem:
    """All that is kept of each item, where there may be a million."""

    pk: int
    stock_number: str
    unit_cost: Decimal | None = None
    currency: str = ""
    lifecycle: str = Lifecycle.ACTIVE
    unit: str = Unit.EACH
    kind: str | None = None
    merged_into: int | None = None
    """The item that goes on under its number, where this one is merged."""

    @property
    def is_sprocket(self) -> bool:
        return self.kind == PartKind.SPROCKET


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
    record: StartOfRecord
    as_of: datetime
    temporary_lives: tuple[UnitLife, ...] = ()
    """At its positions, of its own items that were fitted for a limited time."""
    earlier_events: tuple[DemandEvent, ...] = ()
    """From before the record was complete: they count nowhere, for nobody knows what else was requested then."""
    settings: DemandSettings = SHIPPED
    is_chain: bool = False
    """Counted in links: a job takes one length of it, or one for each position of the work order."""
    keeps_for: tuple[NearStoreroom, ...] = ()
    """Storerooms whose positions and events are among these, for they share this one's stock."""

    @property
    def key(self) -> PoolKey:
        return self.part, self.storeroom.pk

    @property
    def record_from(self) -> datetime:
        return self.record.at

    @property
    def storeroom_ids(self) -> tuple[int, ...]:
        return (self.storeroom.pk, *(one.storeroom_id for one in self.keeps_for))

    def includes(self, other: "Pool") -> bool:
        return other.part == self.part and other.storeroom.pk in self.storeroom_ids

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
    def pieces_of_jobs(self) -> tuple[int, ...]:
        """Of unplanned jobs; lines of one job are one event, however many pieces it took."""
        found: Counter[tuple[str, str]] = Counter()
        for event in self.unplanned:
            found[event.job] += event.quantity
        return tuple(found.values())

    def in_jobs(self) -> "Pool":
        """The same chain with every job as one event of one piece, its length aside."""
        first: dict[object, DemandEvent] = {}
        for event in self.events:
            first.setdefault((event.job, event.position_id), replace(event, quantity=1))
        return replace(self, positions=(), other_events=tuple(first.values()), is_chain=False)

    @cached_property
    def chain_jobs(self) -> ChainJobs | None:
        """The lengths that jobs took; None of what is not counted in links, or was never needed."""
        links: Counter[object] = Counter()
        for event in self.events if self.is_chain else ():
            links[event.job, event.position_id] += event.quantity
        return chain_jobs(list(links.values()))

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
        return years_between(self.record_from, self.as_of)

    @cached_property
    def exposure_years(self) -> float:
        """Position-years; of a part that no position needs, the years of the record."""
        return sum(one.years for one in self.positions) if self.positions else self.record_years


@dataclass(frozen=True)
class DemandPools:
    """Every pool, and what they are made of."""

    pools: tuple[Pool, ...]
    items: Mapping[int, PoolItem]
    positions: Mapping[int, Position]
    parts: PartGroups
    position_items: Mapping[int, int]
    cover: CoverMap
    in_use: frozenset[int] = frozenset()
    """Positions in use today, whatever is known of them."""
    starts: RecordStarts | None = None
    settings: DemandSettings = SHIPPED
    policies: Mapping[tuple[int, int], int] = field(default_factory=dict)
    """What those in force order up to, by item and storeroom."""
    in_stock: frozenset[tuple[int, int]] = frozenset()
    """Item and storeroom."""
    unit_digests: Mapping[int, str] = field(default_factory=dict)
    """Of the units that each position had."""
    storerooms: tuple[Storeroom, ...] = ()
    incomplete_pools: tuple[Pool, ...] = ()
    """Of parts that were not wanted, with what is recorded of them at the positions that were read."""

    @cached_property
    def keys(self) -> Mapping[int, PoolKey]:
        """Of every position in use whose part is known and whose plant has a storeroom."""
        return _position_keys(self)

    def wanted_items(self, record: WholeRecord) -> set[int]:
        """All items of the parts whose pools were wanted."""
        return {item for item, part in self.parts.part_of.items() if record.is_wanted(part)}

    @cached_property
    def storeroom_codes(self) -> Mapping[int, str]:
        return {room.pk: room.code for room in self.storerooms}


@dataclass
class _PoolBuilder:
    """Sorts events and lives by position, or by part and storeroom where no position needs the part."""

    loaded: DemandPools
    as_of: datetime
    starts: RecordStarts
    events_of: dict[int, list[DemandEvent]] = field(default_factory=lambda: defaultdict(list))
    other_events: dict[PoolKey, list[DemandEvent]] = field(default_factory=lambda: defaultdict(list))
    lives_of: dict[int, list[UnitLife]] = field(default_factory=lambda: defaultdict(list))

    def add(self, event: DemandEvent) -> None:
        """A sprocket requested for a position is that position's part; chain, bushes and keys are parts of their own."""
        position_id = event.position_id
        if (
            position_id is not None
            and position_id in self.loaded.keys
            and _is_for_sprocket(event, self.loaded.items)
        ):
            self.events_of[position_id].append(event)
        elif event.item_id is not None:
            self.other_events[self.loaded.parts.part_of[event.item_id], event.storeroom_id].append(event)

    def pools(self, storerooms: Mapping[int, Storeroom], stocked: set[PoolKey]) -> tuple[Pool, ...]:
        of_key: dict[PoolKey, list[int]] = defaultdict(list)
        for position, key in self.loaded.keys.items():
            of_key[key].append(position)
        every_key = sorted({*of_key, *self.other_events} | stocked)
        return tuple(self._pool(key, storerooms[key[1]], of_key[key]) for key in every_key)

    def _pool(self, key: PoolKey, storeroom: Storeroom, positions: list[int]) -> Pool:
        members = self.loaded.parts.members[key[0]]
        is_sprocket = self.loaded.items[key[0]].is_sprocket or bool(positions)
        record = self.starts.start(storeroom.pk, is_sprocket=is_sprocket, as_of=self.as_of)
        lives = [life for position in positions for life in self.lives_of[position]]
        earlier = [event for position in positions for event in self.events_of[position]]
        return Pool(
            part=key[0],
            storeroom=storeroom,
            member_ids=members,
            positions=tuple(self._position(position, record.at) for position in positions),
            other_events=tuple(event for event in self.other_events[key] if event.at >= record.at),
            lives=take_ends_together(tuple(life for life in lives if self._is_of_part(life, members))),
            record=record,
            as_of=self.as_of,
            settings=self.loaded.settings,
            temporary_lives=tuple(life for life in lives if life.is_temporary and life.item_id in members),
            earlier_events=tuple(
                event for event in [*earlier, *self.other_events[key]] if event.at < record.at
            ),
            is_chain=self.loaded.items[key[0]].unit == Unit.LINK,
        )

    def _position(self, pk: int, record_from: datetime) -> PoolPosition:
        position = self.loaded.positions[pk]
        begin = max(record_from, _in_use_from(position) or record_from)
        events = tuple(event for event in self.events_of[pk] if event.at >= record_from)
        return PoolPosition(
            position, self.loaded.position_items[pk], years_between(begin, self.as_of), events
        )

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
    as_of: datetime,
    *,
    worst_grade: str = "with_work",
    known_until: datetime | None = None,
    settings: DemandSettings | None = None,
    starts: RecordStarts | None = None,
    record: WholeRecord = WHOLE_RECORD,
) -> DemandPools:
    """Everything loaded once, in a fixed number of queries; the cover is read as it is stored.

    Exposure runs to `as_of`; what happened after `known_until` (`as_of` by default) is ignored. `starts` are found from
    all that is loaded where they are not given.
    """
    known_until, settings = known_until or as_of, settings or current_demand_settings()
    cover = cover_map(worst_grade, record=record)
    parts = _grouped(cover, record)
    every = record.of(Item.objects.order_by("pk"), pk=parts.part_of.keys())
    rows = every.values_list(*ITEM_COLUMNS, "specification__kind", "merged_into_id")
    items = {pk: PoolItem(pk, *known) for pk, *known in record.each(rows)}
    positions = record.places()
    merged = {pk: item.merged_into for pk, item in items.items() if item.merged_into is not None}
    numbers = KnownItems({pk: item.kind or "" for pk, item in items.items()}, merged)
    events = load_demand_events(known_until, settings, record, numbers)
    lives = unit_lives(as_of, known_until=known_until, positions=positions, units=record.units())
    sprockets = frozenset(pk for pk, item in items.items() if item.is_sprocket)
    known = record.complete(positions)
    needed = position_items(known, lives=lives, events=events, cover=cover, sprockets=sprockets)
    today = known_until.date()
    in_use = frozenset(pk for pk, position in positions.items() if position.is_in_use_on(today))
    loaded = DemandPools((), items, positions, parts, needed, cover, in_use, settings=settings)
    starts = starts or _record_starts(events, loaded, as_of)
    builder = _PoolBuilder(loaded, as_of, starts)
    for event in events:
        builder.add(event)
    for life in lives:
        builder.lives_of[life.position_id].append(life)
    loaded = _with_stock(loaded, record)
    stocked = {(parts.part_of[item], room) for item, room in (*loaded.in_stock, *loaded.policies)}
    named = {room for _, room in (*stocked, *loaded.keys.values())} | {event.storeroom_id for event in events}
    storerooms = {room.pk: room for room in record.of(Storeroom.objects.order_by("pk"), pk=named)}
    pools = builder.pools(storerooms, stocked)
    is_wanted = [record.is_wanted(one.part) for one in pools]
    return replace(
        loaded,
        pools=tuple(compress(pools, is_wanted)),
        starts=starts,
        storerooms=tuple(storerooms.values()),
        incomplete_pools=tuple(compress(pools, map(not_, is_wanted))),
        unit_digests=unit_digests(lives),
    )


def _with_stock(loaded: DemandPools, record: WholeRecord) -> DemandPools:
    numbers = loaded.parts.part_of.keys()
    levels = record.of(StockLevel.objects.not_empty().order_by(), item=numbers)
    in_force = record.of(StockPolicy.objects.order_by(), item=numbers)
    policies = in_force.values_list("item", "storeroom", "order_up_to")
    return replace(
        loaded,
        policies={(item, room): most for item, room, most in policies},
        in_stock=frozenset(levels.values_list("item", "storeroom")),
    )


def _grouped(cover: CoverMap, record: WholeRecord) -> PartGroups:
    if record.parts is None:
        return group_parts(Item.objects.order_by(), cover)
    assert isinstance(record, RecordPart)
    return stored_groups({*record.seen, *(edge.item_id for edge in cover.edges)}, record.parts)


def _record_starts(events: Iterable[DemandEvent], loaded: DemandPools, as_of: datetime) -> RecordStarts:
    days = RecordDays(as_of, load_set_starts(), loaded.settings)
    for event in events:
        is_sprocket = _is_for_sprocket(event, loaded.items)
        needed = loaded.keys.get(event.position_id or 0) if is_sprocket else None
        for room in {event.storeroom_id, event.storeroom_id if needed is None else needed[1]}:
            days.add(room, event, is_sprocket=is_sprocket)
    return days.starts()


def _is_for_sprocket(event: DemandEvent, items: Mapping[int, PoolItem]) -> bool:
    return event.item_id is None or items[event.item_id].is_sprocket


def _position_keys(loaded: DemandPools) -> dict[int, PoolKey]:
    """Of every position in use whose part is known and whose plant has a storeroom."""
    found = {}
    for pk in loaded.in_use & loaded.position_items.keys():
        room = loaded.positions[pk].drive.equipment.area.plant.storeroom_id
        if room is not None:
            found[pk] = (loaded.parts.part_of[loaded.position_items[pk]], room)
    return dict(sorted(found.items()))


def _in_use_from(position: Position) -> datetime | None:
    days = [day for day in (position.in_use_from, position.drive.in_use_from) if day is not None]
    return datetime.combine(max(days), time(), UTC) if days else None


def years_between(begin: datetime, end: datetime) -> float:
    return max((end - begin).total_seconds() / 86_400 / DAYS_PER_YEAR, SHORTEST_RECORD_YEARS)
