"""What was recorded since the last run, followed in the parts that it concerns; the rest of the plant is not read.

Afterwards every stored value of these parts is what a whole run would store. What reaches farther, or was recorded by a
transaction that took longer than `OVERLAP`, waits for the next whole run: another unit than before at a position, a new item, a
number that was merged, a rule for a substitute, what happened before this month, a correction, delivery times.
"""

from collections import Counter
from collections.abc import Collection, Iterable
from copy import copy
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone

from drives.demand.cover import GRADES_KEPT
from drives.demand.demand_events import KnownItems, load_demand_events
from drives.demand.needs import needs_of
from drives.demand.plant_estimates import month_begin
from drives.demand.record_part import NotFollowed, RecordPart
from drives.demand.snapshot import DemandSnapshot, end_of_day, load_demand_snapshot
from drives.demand.stored_needs import store_snapshot
from drives.lessons.unit_lives import unit_digests, unit_lives
from drives.models import (
    Cover,
    Installation,
    ItemPart,
    PlantEstimate,
    Request,
    StoredDemand,
    SubstitutionRule,
)
from inventory.catalogue.plant_practice import current_demand_settings
from inventory.models import Item, Merge, PartKind, StockEntry, StockingRun, StockLevel, StockPolicy
from inventory.planning.policy_inputs import Need
from inventory.planning.runs import follow_with, last_run
from inventory.stocking.demand_settings import DemandSettings
from inventory.stores.lead_times import EmergencyTimes, times_of

OVERLAP = timedelta(seconds=10)
"""So long a transaction may take from the moment that it stamps its rows with until others see them."""
MOST_CHANGES = 100
MOST_PARTS = 50


@dataclass(frozen=True)
class Changes:
    """The rows that were written since a moment."""

    since: datetime
    units: tuple[Installation, ...]
    requests: tuple[Request, ...]
    entries: tuple[StockEntry, ...]

    @classmethod
    def after(cls, since: datetime) -> "Changes":
        """Three queries."""
        units = Installation.objects.filter(updated_at__gt=since).order_by("pk")
        requests = Request.objects.filter(updated_at__gt=since).order_by("pk")
        entries = StockEntry.objects.filter(recorded_at__gt=since).order_by("pk")
        most = MOST_CHANGES + 1
        return cls(since, tuple(units[:most]), tuple(requests[:most]), tuple(entries[:most]))

    def __len__(self) -> int:
        return len(self.units) + len(self.requests) + len(self.entries)

    @property
    def items(self) -> set[int]:
        every = (
            *(unit.item_id for unit in self.units),
            *(item for one in self.requests for item in (one.item_id, one.issued_item_id)),
            *(entry.item_id for entry in self.entries),
        )
        return {item for item in every if item}

    def check(self, run: StockingRun, as_of: datetime) -> None:
        """Refuse what a part of the record cannot follow, as far as the rows show it."""
        begin = month_begin(as_of)
        if len(self) > MOST_CHANGES or end_of_day(run.as_of) != end_of_day(as_of):
            raise NotFollowed
        moments = [one.at for one in self.requests] + [entry.occurred_at for entry in self.entries]
        if any(moment <= begin for moment in moments):
            raise NotFollowed
        if any(entry.reverses_id for entry in self.entries):
            raise NotFollowed
        if any(one.created_at <= self.since and one.retracted_at is None for one in self.requests):
            raise NotFollowed
        if Item.objects.filter(pk__in=self.items, created_at__gt=run.started_at).exists():
            raise NotFollowed
        if any(
            one.objects.filter(updated_at__gt=run.started_at - OVERLAP).exists()
            for one in (Merge, SubstitutionRule)
        ):
            raise NotFollowed


def follow_record(as_of: datetime) -> int:
    """Follow what was recorded since the last run, or since this was called; gives for how many items in storerooms.

    Nothing is written where a whole run is under way, or the last one did not end well.
    """
    began, run = timezone.now(), StockingRun.objects.first()
    if run is None or run.followed_until is None:
        return 0
    changes = Changes.after(run.followed_until - OVERLAP)
    if not changes:
        return 0
    try:
        changes.check(run, as_of)
        found: _Followed | None = _Followed.of(changes, run, as_of)
    except (NotFollowed, PlantEstimate.DoesNotExist):
        found = None
    with transaction.atomic():
        last = last_run()
        if last is None or (last.pk, last.followed_until) != (run.pk, run.followed_until):
            return 0
        if found is not None:
            found.store(last, as_of, loaded_at=began)
        last.followed_until, last.is_behind = began, last.is_behind or found is None
        last.save(update_fields=["followed_until", "is_behind"])
    return len(found.needs) if found else 0


@dataclass(frozen=True)
class _Followed:
    record: RecordPart
    snapshot: DemandSnapshot
    needs: list[Need]
    emergencies: EmergencyTimes

    @classmethod
    def of(cls, changes: Changes, run: StockingRun, as_of: datetime) -> "_Followed":
        concerned = _Concerned(changes, as_of)
        record, items = concerned.record()
        leads, emergencies = times_of(items, run.as_of, run.lent_times)
        snapshot = load_demand_snapshot(as_of, settings=concerned.settings, record=record, leads=leads)
        keys = snapshot.demand.keys
        if concerned.stored_parts(record.read) != {
            pk: keys[pk][0] if pk in keys else None for pk in record.read
        }:
            raise NotFollowed
        return cls(record, snapshot, needs_of(snapshot), emergencies)

    def store(self, run: StockingRun, as_of: datetime, *, loaded_at: datetime) -> None:
        store_snapshot(self.snapshot, self.needs, as_of=as_of, record=self.record)
        follow_with(
            run,
            self.needs,
            self.snapshot.demand.wanted_items(self.record),
            lead_times=self.snapshot.lead_times,
            emergencies=self.emergencies,
            loaded_at=loaded_at,
        )


@dataclass
class _Concerned:
    """The parts that changes concern, and the part of the record that these are made from."""

    changes: Changes
    as_of: datetime
    near: RecordPart = field(default_factory=RecordPart)
    settings: DemandSettings = field(default_factory=current_demand_settings)
    stored: dict[int, tuple[int | None, str]] = field(default_factory=dict)
    """Part of each position and digest of its units, as far as they were looked up."""
    items: dict[int, set[int]] = field(default_factory=dict)
    positions: dict[int, set[int]] = field(default_factory=dict)
    """By part."""

    def record(self) -> tuple[RecordPart, set[int]]:
        """With the items of the parts."""
        self._read_near()
        moved = self._moved_stock()
        own = self._parts() | _parts_of(moved)
        items = self._items_of(own)
        parts = own | self._neighbours(items, moved)
        items |= self._items_of(parts)
        if len(parts) > MOST_PARTS:
            raise NotFollowed
        record = self.near
        record.parts = frozenset(parts)
        record.extend(positions=self._needing(parts), items=items)
        record.served = frozenset(_served_by(items))
        return record, items

    def stored_parts(self, positions: Collection[int]) -> dict[int, int | None]:
        """Refuses positions that no run has seen."""
        unknown = positions - self.stored.keys()
        rows = StoredDemand.objects.filter(pk__in=unknown).order_by() if unknown else ()
        self.stored |= {row.pk: (row.part, row.unit_digest) for row in rows}
        if positions - self.stored.keys():
            raise NotFollowed
        return {pk: self.stored[pk][0] for pk in positions}

    def _read_near(self) -> None:
        """All that hangs together with the changes."""
        at_counter = {
            item
            for one in self.changes.requests
            if not one.work_order and one.position_id is None
            for item in (one.item_id, one.issued_item_id)
            if item
        } | {entry.item_id for entry in self.changes.entries if not entry.work_order and not entry.position}
        every: tuple[Installation | Request, ...] = (*self.changes.units, *self.changes.requests)
        positions = {one.position_id for one in every if one.position_id is not None}
        # These will be wanted in the end: what is read once need not be looked for step by step.
        likely = {part for part in self.stored_parts(positions).values() if part is not None}
        self.near.extend(
            positions=positions | self._needing(likely),
            tags={entry.position for entry in self.changes.entries if entry.position},
            orders={one.work_order for one in every} | {entry.work_order for entry in self.changes.entries},
            items=at_counter | self._items_of(likely),
            unreported=[
                (entry.position, {entry.item_id})
                for entry in self.changes.entries
                if entry.position and not entry.work_order
            ],
        )

    def _parts(self) -> set[int]:
        """Those with other demand or other units than before."""
        near, stored = self.near, self.stored_parts(self.near.read.keys())
        items = KnownItems.of(Item.objects.filter(pk__in=near.seen | self.changes.items).order_by())
        now = Counter(load_demand_events(self.as_of, self.settings, near, items))
        before = Counter(load_demand_events(self.as_of, self.settings, self._without_changes(), items))
        found, others = {stored[unit.position_id] for unit in self.changes.units}, set()
        for event in (*(now - before), *(before - now)):
            is_for_sprocket = event.item_id is None or items.kinds[event.item_id] == PartKind.SPROCKET
            part = stored.get(event.position_id or 0) if is_for_sprocket else None
            if part is not None:
                found.add(part)
            elif event.item_id is not None:
                others.add(event.item_id)
        return {part for part in found if part is not None} | _parts_of(others)

    def _without_changes(self) -> RecordPart:
        """The record as the last run knew it."""
        near, units = self.near, dict(self.near.unit_rows)
        requests, entries = dict(near.request_rows), dict(near.entry_rows)
        for one in self.changes.requests:
            requests[one.pk] = copy(one)
            requests[one.pk].retracted_at = None
            if one.created_at > self.changes.since:
                del requests[one.pk]
        for entry in self.changes.entries:
            entries.pop(entry.pk, None)
        for position in {one.position_id for one in self.changes.units}:
            units = {pk: unit for pk, unit in units.items() if unit.position_id != position}
            units |= {unit.pk: unit for unit in self._earlier_units(position)}
        return replace(near, request_rows=requests, entry_rows=entries, unit_rows=units)

    def _earlier_units(self, position_id: int) -> list[Installation]:
        """Refuses any change but that units were removed, or the same fitted again."""
        units = [copy(unit) for unit in self.near.unit_rows.values() if unit.position_id == position_id]
        lender, begin = _last_for_good(units), month_begin(self.as_of)
        steps = self._steps(position_id)
        while self._digest(units) != self.stored[position_id][1]:
            if not steps:
                raise NotFollowed
            _, pk, is_removal = steps.pop()
            (unit,) = (one for one in units if one.pk == pk)
            moment = unit.removed_at if is_removal else unit.installed_at
            if moment is None or moment <= begin:
                raise NotFollowed
            if is_removal:
                unit.removed_at = None
            else:
                units.remove(unit)
        if _last_for_good(units) != lender:
            raise NotFollowed
        return units

    def _steps(self, position_id: int) -> list[tuple[datetime, int, bool]]:
        """Fittings and removals there in the order in which they were recorded."""
        own = [unit for unit in self.changes.units if unit.position_id == position_id]
        fitted = [(one.created_at, one.pk, False) for one in own if one.created_at > self.changes.since]
        return sorted(fitted + [(one.updated_at, one.pk, True) for one in own if one.removed_at is not None])

    def _digest(self, units: Iterable[Installation]) -> str:
        lives = unit_lives(self.as_of, positions=self.near.read, units=units)
        return next(iter(unit_digests(lives).values()), "")

    def _items_of(self, parts: Collection[int]) -> set[int]:
        unknown = {part for part in parts if part not in self.items}
        self.items |= {part: {part} for part in unknown}
        rows = ItemPart.objects.filter(part__in=unknown).order_by() if unknown else ()
        for row in rows:
            self.items[row.part].add(row.item_id)
        return {item for part in parts for item in self.items[part]}

    def _needing(self, parts: Collection[int]) -> set[int]:
        """Positions that need them."""
        unknown = {part for part in parts if part not in self.positions}
        self.positions |= {part: set() for part in unknown}
        rows = StoredDemand.objects.filter(part__in=unknown).order_by() if unknown else ()
        for row in rows:
            self.stored[row.pk] = row.part, row.unit_digest
            self.positions[row.part or 0].add(row.pk)
        return {position for part in parts for position in self.positions[part]}

    def _moved_stock(self) -> set[int]:
        """Items of which a storeroom ran out, or was out before."""
        levels: Counter[tuple[int, int]] = Counter()
        items = {entry.item_id for entry in self.changes.entries}
        rows = StockLevel.objects.filter(item__in=items).order_by()
        for item, room, on_hand in rows.values_list("item", "storeroom", "on_hand"):
            levels[item, room] += on_hand
        moved = set()
        for entry in reversed(self.changes.entries):
            key = entry.item_id, entry.storeroom_id
            moved |= {entry.item_id} if levels[key] <= 0 else set()
            levels[key] -= entry.change
            moved |= {entry.item_id} if levels[key] <= 0 else set()
        return moved

    def _neighbours(self, items: Collection[int], moved: Collection[int]) -> set[int]:
        """Parts that these may serve when they run out: their cover says what it is worth."""
        if not items:
            return set()
        kept = {
            *StockPolicy.objects.filter(item__in=items).order_by().values_list("item", flat=True),
            *StockLevel.objects.not_empty().filter(item__in=items).order_by().values_list("item", flat=True),
            *moved,
        }
        found = {part for part in self.stored_parts(_served_by(kept)).values() if part is not None}
        if moved:
            beside = Cover.objects.filter(position__in=_served_by(moved), grade__in=GRADES_KEPT).order_by()
            found |= _parts_of(beside.values_list("item", flat=True).distinct())
        return found


def _last_for_good(units: Iterable[Installation]) -> tuple[int | None, int | None] | None:
    """Item and specification."""
    found = [unit for unit in units if unit.temporary_until is None]
    last = max(found, key=lambda unit: (unit.installed_at, unit.pk), default=None)
    if last is None:
        return None
    own = last.item.specification_id if last.item else None
    return last.item_id, last.specification_id or own


def _parts_of(items: Iterable[int]) -> set[int]:
    wanted = set(items)
    if not wanted:
        return wanted
    known = dict(ItemPart.objects.filter(item__in=wanted).values_list("item", "part"))
    return {known.get(item, item) for item in wanted}


def _served_by(items: Collection[int]) -> set[int]:
    if not items:
        return set()
    rows = Cover.objects.filter(item__in=items, grade__in=GRADES_KEPT).order_by()
    return set(rows.values_list("position", flat=True))
