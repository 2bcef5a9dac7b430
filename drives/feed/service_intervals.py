"""What sat at a position were it not for the feed, and how the failures told part it into lives."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from drives.models import Installation, WorkOrder, WorkOrderStatus
from drives.service_record.history import END_FIELDS

End = dict[str, Any]


@dataclass(slots=True)
class Stretch:
    """A life as people recorded it, or one that the first failure told at an empty place begins (`rows` may be empty)."""

    rows: list[Installation]
    opens: WorkOrder | None = None
    cuts: list[WorkOrder] = field(default_factory=list)
    end: End | None = None
    ended_from: datetime | None = None
    """When the life began whose end `end` is."""

    @property
    def begin(self) -> datetime:
        return self.rows[0].installed_at if self.opens is None else moment_of(self.opens)

    def holds(self, moment: datetime) -> bool:
        return self.begin <= moment and (self.end is None or moment < self.end["removed_at"])

    def was_ended_by(self, order: WorkOrder) -> bool:
        """A person recorded the removal that this order tells of."""
        if self.end is None:
            return False
        same_order = self.end["work_order"] == order.external_id
        return same_order or (not self.end["work_order"] and self.end["removed_at"] == moment_of(order))


@dataclass(slots=True)
class Placed:
    stretches: list[Stretch]
    adopted: dict[int, Installation] = field(default_factory=dict)
    """By order, the life whose end a person recorded for it."""
    unplaced: list[WorkOrder] = field(default_factory=list)


def is_cut(order: WorkOrder) -> bool:
    """A job closed with a failure took the unit off."""
    told = order.removed_at or order.closed_at
    return order.has_failure and order.status == WorkOrderStatus.CLOSED and told is not None


def moment_of(order: WorkOrder) -> datetime:
    moment = order.removed_at or order.closed_at
    assert moment is not None
    return moment


def in_time(order: WorkOrder) -> tuple[datetime, str, str]:
    return moment_of(order), order.source, order.external_id


def place(rows: Sequence[Installation], orders: Sequence[WorkOrder], cuts: Sequence[WorkOrder]) -> Placed:
    """Each failure where it belongs: in the life that it ends, however late it was told."""
    recorded, opened = stretches(rows, orders)
    placed = Placed(recorded)
    for cut in sorted(cuts, key=in_time):
        ended = next((stretch for stretch in recorded if stretch.was_ended_by(cut)), None)
        if ended is not None:
            placed.adopted[cut.pk] = ended.rows[-1]
            continue
        home = next((stretch for stretch in placed.stretches if stretch.holds(moment_of(cut))), None)
        if home is not None:
            home.cuts.append(cut)
        elif opened is not None and may_open(cut, placed.stretches):
            opened.opens = cut
            placed.stretches.append(opened)
        else:
            placed.unplaced.append(cut)
    keep_what_people_ended(opened, placed)
    return placed


def may_open(cut: WorkOrder, known: Sequence[Stretch]) -> bool:
    """Nothing is recorded of the place from that moment on, and the order says what was fitted."""
    free = all(stretch.end is not None and stretch.end["removed_at"] <= moment_of(cut) for stretch in known)
    return free and any(int(line["quantity"]) > 0 for line in cut.parts_used)


def keep_what_people_ended(opened: Stretch | None, placed: Placed) -> None:
    """A life that the feed began and a person ended stays when its beginning is taken back."""
    if opened is not None and opened.opens is None and opened.rows and opened.end is not None:
        opened.rows = opened.rows[-1:]
        placed.stretches.append(opened)


def stretches(
    rows: Sequence[Installation], orders: Sequence[WorkOrder]
) -> tuple[list[Stretch], Stretch | None]:
    """The recorded lives joined over the cuts made so far, and the one that the feed may begin by itself."""
    by_pk = {row.pk: row for row in rows}
    next_of = {order.ended_id: order.begun_id for order in orders if order.ended_id and order.begun_id}
    begun = {order.begun_id for order in orders if order.begun_id}
    chains = [chain(row, next_of, by_pk) for row in rows if row.pk not in begun]
    joined = {row.pk for rows_of in chains for row in rows_of}
    rest = [row for row in rows if row.pk not in joined]
    return [stretch_of(rows_of, next_of) for rows_of in chains], stretch_of(rest, next_of)


def chain(
    row: Installation, next_of: Mapping[int, int], by_pk: Mapping[int, Installation]
) -> list[Installation]:
    found = [row]
    while (follower := by_pk.get(next_of.get(found[-1].pk, 0))) is not None:
        found.append(follower)
    return found


def stretch_of(rows: list[Installation], next_of: Mapping[int, int]) -> Stretch:
    last = next((row for row in reversed(rows) if row.pk not in next_of), None)
    if last is None or last.removed_at is None:
        return Stretch(rows)
    end = {name: getattr(last, name) for name in END_FIELDS}
    return Stretch(rows, end=end, ended_from=last.installed_at)
