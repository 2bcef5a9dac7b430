"""The demand of every position and part, stored as a stocking run stores it."""

from django.utils import timezone

from drives.demand.needs import needs_of
from drives.demand.snapshot import load_demand_snapshot
from drives.demand.stored_needs import store_snapshot


def calculate_demands(at=None):
    as_of = at or timezone.now()
    snapshot = load_demand_snapshot(as_of)
    store_snapshot(snapshot, needs_of(snapshot), as_of=as_of)
