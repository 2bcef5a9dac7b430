"""Service intervals that people recorded, and where the failures of work orders divide them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from drives.models import Installation, WorkOrder, WorkOrderStatus
from drives.service_record.history import END_FIELDS

Removal = dict[str, Any]


@dataclass(slots=True)
class ServiceInterval:
    """An interval as people recorded it, or one that begins with the first failure at an empty position (`rows` may be empty)."""

    rows: list[Installation]
    opens: WorkOrder | None = None
    failures: list[WorkOrder] = field(default_factory=list)
    end: Removal | None = None
    ended_from: datetime | None = None
    """The beginning of the installation whose end is `end`."""

    @property
    def begin(self) -> datetime:
        return self.rows[0].installed_at if self.opens is None else moment_of(self.opens)

    def contains(self, moment: datetime) -> bool:
        return self.begin <= moment and (self.end is None or moment < self.end["removed_at"])

    def was_ended_by(self, order: WorkOrder) -> bool:
        """A person recorded the removal that this order reports."""
        if self.end is None:
            return False
        same_order = self.end["work_order"] == order.external_id
        return same_order or (not self.end["work_order"] and self.end["removed_at"] == moment_of(order))


@dataclass(slots=True)
class PlacedFailures:
    intervals: list[ServiceInterval]
    adopted: dict[int, Installation] = field(default_factory=dict)
    """By order, the installation whose end a person recorded for it."""
    unplaced: list[WorkOrder] = field(default_factory=list)


def ends_installation(order: WorkOrder) -> bool:
    """A job closed with a failure removed the unit."""
    moment = order.removed_at or order.closed_at
    return order.has_failure and order.status == WorkOrderStatus.CLOSED and moment is not None


def moment_of(order: WorkOrder) -> datetime:
    moment = order.removed_at or order.closed_at
    assert moment is not None
    return moment


def place_failures(
    rows: Sequence[Installation], orders: Sequence[WorkOrder], failures: Sequence[WorkOrder]
) -> PlacedFailures:
    """Each failure in the interval that it ends, however late it was reported."""
    recorded, opened = recorded_intervals(rows, orders)
    placed = PlacedFailures(recorded)
    for failure in sorted(failures, key=lambda one: (moment_of(one), one.source, one.external_id)):
        ended = next((interval for interval in recorded if interval.was_ended_by(failure)), None)
        if ended is not None:
            placed.adopted[failure.pk] = ended.rows[-1]
            continue
        home = next(
            (interval for interval in placed.intervals if interval.contains(moment_of(failure))), None
        )
        if home is not None:
            home.failures.append(failure)
        elif opened is not None and may_open(failure, placed.intervals):
            opened.opens = failure
            placed.intervals.append(opened)
        else:
            placed.unplaced.append(failure)
    keep_what_people_ended(opened, placed)
    return placed


def may_open(failure: WorkOrder, known: Sequence[ServiceInterval]) -> bool:
    """Nothing is recorded at the position from that moment on, and the order says what was fitted."""
    free = all(
        interval.end is not None and interval.end["removed_at"] <= moment_of(failure) for interval in known
    )
    return free and any(int(line["quantity"]) > 0 for line in failure.parts_used)


def keep_what_people_ended(opened: ServiceInterval | None, placed: PlacedFailures) -> None:
    """An installation that the feed began and a person ended stays when its beginning is retracted."""
    if opened is not None and opened.opens is None and opened.rows and opened.end is not None:
        opened.rows = opened.rows[-1:]
        placed.intervals.append(opened)


def recorded_intervals(
    rows: Sequence[Installation], orders: Sequence[WorkOrder]
) -> tuple[list[ServiceInterval], ServiceInterval | None]:
    """The recorded intervals joined over the failures so far, and the one that the feed may begin by itself."""
    by_pk = {row.pk: row for row in rows}
    next_of = {order.ended_id: order.begun_id for order in orders if order.ended_id and order.begun_id}
    begun = {order.begun_id for order in orders if order.begun_id}
    chains = [chain(row, next_of, by_pk) for row in rows if row.pk not in begun]
    joined = {row.pk for rows_of in chains for row in rows_of}
    rest = [row for row in rows if row.pk not in joined]
    return [interval_of(rows_of, next_of) for rows_of in chains], interval_of(rest, next_of)


def chain(
    row: Installation, next_of: Mapping[int, int], by_pk: Mapping[int, Installation]
) -> list[Installation]:
    found = [row]
    while (follower := by_pk.get(next_of.get(found[-1].pk, 0))) is not None:
        found.append(follower)
    return found


def interval_of(rows: list[Installation], next_of: Mapping[int, int]) -> ServiceInterval:
    last = next((row for row in reversed(rows) if row.pk not in next_of), None)
    if last is None or last.removed_at is None:
        return ServiceInterval(rows)
    end = {name: getattr(last, name) for name in END_FIELDS}
    return ServiceInterval(rows, end=end, ended_from=last.installed_at)
