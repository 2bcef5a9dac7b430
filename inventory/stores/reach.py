"""Storerooms within reach of each other: the recorded minutes between them, and how much longer one waits at one than at another."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from inventory.models import Storeroom, TransferTime
from inventory.stores.recorded_hours import recorded_hours

Way = tuple[int, int]
"""From one storeroom to another."""


@dataclass(frozen=True)
class StoreroomReach:
    """What is not recorded is not in reach."""

    minutes: Mapping[Way, int] = field(default_factory=dict)
    wait_hours: Mapping[int, float] = field(default_factory=dict)
    """Until somebody is there, on average; without storerooms whose hours are not recorded."""

    @cached_property
    def fetching_hours(self) -> Mapping[Way, float]:
        """By which fetching takes longer than a shelf of one's own: the way, and that the other one is closed longer."""
        waits = self.wait_hours
        return {
            (begin, end): minutes / 60
            + (max(waits[begin] - waits[end], 0.0) if {begin, end} <= waits.keys() else 0.0)
            for (begin, end), minutes in self.minutes.items()
        }


def transfer_minutes(to: Collection[int] | None = None) -> dict[Way, int]:
    """To these storerooms, None: to all; one query."""
    rows = TransferTime.objects.order_by("pk")
    if to is not None:
        rows = rows.filter(to_storeroom__in=to)
    return {
        (begin, end): minutes
        for begin, end, minutes in rows.values_list("from_storeroom", "to_storeroom", "minutes")
    }


def storeroom_reach(storerooms: Collection[Storeroom]) -> StoreroomReach:
    """Between these; two queries."""
    if len(storerooms) < 2:
        return StoreroomReach()
    waits = {room: hours.mean_wait_hours for room, hours in recorded_hours(storerooms).items()}
    return StoreroomReach(
        transfer_minutes(waits.keys()), {room: hours for room, hours in waits.items() if hours is not None}
    )
