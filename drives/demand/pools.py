"""All that is known of one part in one storeroom: its positions there, what they asked for, how long units lasted."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time

from drives.demand.cover import CoverMap, cover_map
from drives.demand.events import askings
from drives.demand.parts import Parts, homes, parts_of
from drives.demand.request_matching import Asking
from drives.demand.unit_lives import Life, lives, taken_together
from drives.models import Position
from inventory.models import Item, PartKind, StockLevel, StockPolicy, Storeroom

DAYS_PER_YEAR = 365.0
SHORTEST_RECORD_YEARS = 1.0 / 12
"""A record younger than a month says nothing of a rate: it counts as a month."""


@dataclass(frozen=True)
class Place:
    """A position that asks for this part, with the years in which it could."""

    position: Position
    item_id: int
    years: float
    asked: tuple[Asking, ...]
    """By plan or not; of the part itself, whatever number it was asked for under."""

    @property
    def unplanned_pieces(self) -> int:
        return sum(asking.quantity for asking in self.asked if not asking.is_planned)


@dataclass(frozen=True)
class Pool:
    """One part in one storeroom."""

    part: int
    storeroom: Storeroom
    member_ids: tuple[int, ...]
    places: tuple[Place, ...]
    loose: tuple[Asking, ...]
    """Asked for here, by no position that asks for this part now."""
    lives: tuple[Life, ...]
    """At its positions, of its own numbers and of those that drop in; temporary units are apart."""
    record_from: datetime
    as_of: datetime

    @property
    def asked(self) -> tuple[Asking, ...]:
        mine = [asking for place in self.places for asking in place.asked]
        return tuple(sorted([*mine, *self.loose], key=lambda asking: (asking.at, asking.work_order)))

    @property
    def unplanned(self) -> tuple[Asking, ...]:
        return tuple(asking for asking in self.asked if not asking.is_planned)

    @property
    def record_years(self) -> float:
        return _years(self.record_from, self.as_of)

    @property
    def position_years(self) -> float:
        return sum(place.years for place in self.places)


@dataclass(frozen=True)
class Plant:
    """Every pool, and what they are made of."""

    pools: tuple[Pool, ...]
    items: Mapping[int, Item]
    positions: Mapping[int, Position]
    parts: Parts
    homes: Mapping[int, int]
    cover: CoverMap
    unexplained: tuple[Asking, ...] = field(default=())
    """Askings that name neither an item nor a position whose part is known: no pool has them."""


def gather(as_of: datetime, *, worst_grade: str = "with_work", known_until: datetime | None = None) -> Plant:
    """Everything loaded once, in a fixed number of queries; the cover is read as it stands.

    Exposure runs to `as_of`; what happened later than `known_until` (the same, if not given) is not looked at.
    """
    known_until = known_until or as_of
    items = {item.pk: item for item in Item.objects.with_specification().order_by("pk")}
    positions = {p.pk: p for p in Position.objects.with_drive().order_by("pk")}
    cover, asked = cover_map(worst_grade), askings(known_until)
    lived = lives(as_of, known_until=known_until)
    parts = parts_of(items.values(), cover)
    sprockets = frozenset(pk for pk, item in items.items() if _is_sprocket(item))
    home = homes(positions, lives=lived, askings=asked, cover=cover, sprockets=sprockets)
    sorted_in = _Sorted(positions, parts, home, sprockets, known_until)
    for asking in asked:
        sorted_in.add(asking)
    rooms = {room.pk: room for room in Storeroom.objects.order_by("pk")}
    keys = sorted(set(sorted_in.keys()) | _held(parts))
    pools = tuple(_pool(key, sorted_in, rooms, lived, cover, as_of) for key in keys)
    return Plant(pools, items, positions, parts, home, cover, tuple(sorted_in.unexplained))


def _is_sprocket(item: Item) -> bool:
    return item.specification is not None and item.specification.kind == PartKind.SPROCKET


def _held(parts: Parts) -> set[tuple[int, int]]:
    """Parts that lie in a storeroom or have a policy there."""
    levels = StockLevel.objects.not_empty().values_list("item_id", "storeroom_id")
    policies = StockPolicy.objects.values_list("item_id", "storeroom_id")
    return {(parts.part_of[item], room) for item, room in [*levels, *policies]}


class _Sorted:
    """Askings by position and by part and storeroom."""

    def __init__(
        self,
        positions: Mapping[int, Position],
        parts: Parts,
        home: Mapping[int, int],
        sprockets: frozenset[int],
        as_of: datetime,
    ) -> None:
        self.positions, self.parts, self.home, self.sprockets = positions, parts, home, sprockets
        self.of_place: dict[int, list[Asking]] = defaultdict(list)
        self.loose: dict[tuple[int, int], list[Asking]] = defaultdict(list)
        self.first: dict[int, datetime] = {}
        self.unexplained: list[Asking] = []
        self.today = as_of.date()

    def add(self, asking: Asking) -> None:
        self._note_first(asking.storeroom_id, asking.at)
        if self._asks_as_position(asking):
            assert asking.position_id is not None
            self._note_first(storeroom_of(self.positions[asking.position_id]), asking.at)
            self.of_place[asking.position_id].append(asking)
        elif asking.item_id is not None:
            self.loose[self.parts.part_of[asking.item_id], asking.storeroom_id].append(asking)
        else:
            self.unexplained.append(asking)

    def _note_first(self, storeroom_id: int | None, at: datetime) -> None:
        """The record of a storeroom begins with what was asked for there, or elsewhere by a position that it serves."""
        if storeroom_id is not None:
            self.first[storeroom_id] = min(at, self.first.get(storeroom_id, at))

    def _asks_as_position(self, asking: Asking) -> bool:
        """A sprocket asked for by a position in use is that position's part; chain, bushes and keys are themselves."""
        position = self.positions.get(asking.position_id or 0)
        if position is None or position.pk not in self.home or not self.in_use(position):
            return False
        if storeroom_of(position) is None:
            return False
        return asking.item_id is None or asking.item_id in self.sprockets

    def in_use(self, position: Position) -> bool:
        ends = [day for day in (position.in_use_until, position.drive.in_use_until) if day is not None]
        return all(day >= self.today for day in ends)

    def places_of(self, key: tuple[int, int]) -> list[Position]:
        part, room = key
        return [
            position
            for position in self.positions.values()
            if position.pk in self.home
            and self.parts.part_of[self.home[position.pk]] == part
            and storeroom_of(position) == room
            and self.in_use(position)
        ]

    def keys(self) -> list[tuple[int, int]]:
        found = list(self.loose)
        for position in self.positions.values():
            room = storeroom_of(position)
            if position.pk in self.home and room is not None and self.in_use(position):
                found.append((self.parts.part_of[self.home[position.pk]], room))
        return found


def storeroom_of(position: Position) -> int | None:
    """The storeroom whose counter serves the position's plant."""
    return position.drive.equipment.area.plant.storeroom_id


def _pool(
    key: tuple[int, int],
    found: _Sorted,
    rooms: Mapping[int, Storeroom],
    lived: Iterable[Life],
    cover: CoverMap,
    as_of: datetime,
) -> Pool:
    part, room = key
    members = found.parts.members[part]
    record_from = found.first.get(room, as_of)
    places = tuple(
        Place(
            position=position,
            item_id=found.home[position.pk],
            years=_years(max(record_from, _in_use_from(position, record_from)), as_of),
            asked=tuple(found.of_place[position.pk]),
        )
        for position in found.places_of(key)
    )
    here = {place.position.pk for place in places}
    return Pool(
        part=part,
        storeroom=rooms[room],
        member_ids=members,
        places=places,
        loose=tuple(found.loose[key]),
        lives=taken_together(
            tuple(life for life in lived if life.position_id in here and _is_of_pool(life, members, cover))
        ),
        record_from=record_from,
        as_of=as_of,
    )


def _is_of_pool(life: Life, members: tuple[int, ...], cover: CoverMap) -> bool:
    if life.item_id is None or life.is_temporary:
        return False
    if life.item_id in members:
        return True
    edges = cover.positions_of(life.item_id)
    return any(edge.position_id == life.position_id and edge.grade == "drop_in" for edge in edges)


def _in_use_from(position: Position, otherwise: datetime) -> datetime:
    days: list[date] = [day for day in (position.in_use_from, position.drive.in_use_from) if day is not None]
    return datetime.combine(max(days), time(), UTC) if days else otherwise


def _years(begin: datetime, end: datetime) -> float:
    return max((end - begin).total_seconds() / 86_400 / DAYS_PER_YEAR, SHORTEST_RECORD_YEARS)
