"""The demand of every position, stored as a stocking run stores it."""

from django.utils import timezone

from drives.demand.position_demand import store_demands
from drives.demand.snapshot import load_demand_snapshot


def calculate_demands(at=None):
    as_of = at or timezone.now()
    snapshot = load_demand_snapshot(as_of)
    store_demands(snapshot.position_demands, positions=snapshot.demand.positions.keys(), as_of=as_of)
