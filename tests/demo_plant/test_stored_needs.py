"""Budget and exposure read what the last stocking run stored: on the demo plant to the last digit what the record itself gives."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from drives.demand.downtime import load_priced_positions
from drives.demand.needs import needs_of
from drives.demand.recorded_waits import priced_waits, waits_of
from drives.demand.snapshot import DemandSnapshot, load_demand_snapshot
from drives.demand.stored_needs import StoredNeeds, stored_needs
from drives.exposure.position_years import position_years
from drives.exposure.positions_at_risk import positions_at_risk
from drives.exposure.risk_inputs import load_risk_inputs
from inventory.planning.budget_frontier import frontier
from inventory.planning.policy_inputs import Need
from inventory.stores.lead_times import emergency_hours

# Marked, though these tests read in the plant's transaction alone: others would come last, and load the plant again.
pytestmark = pytest.mark.django_db
BUDGET = Decimal(5_000)


@pytest.fixture(scope="module")
def stored(demo_plant: None) -> StoredNeeds:
    return stored_needs()


@pytest.fixture(scope="module")
def snapshot(stored: StoredNeeds) -> DemandSnapshot:
    assert stored.as_of is not None
    return load_demand_snapshot(stored.as_of)


@pytest.fixture(scope="module")
def from_record(snapshot: DemandSnapshot) -> list[Need]:
    return needs_of(snapshot)


def waits_on_record(snapshot: DemandSnapshot) -> Any:
    return priced_waits(waits_of(snapshot.demand), load_priced_positions(), snapshot.terms.currency)


def budget_of(needs: Any, waits: Any, snapshot: DemandSnapshot, stored: StoredNeeds) -> Any:
    assert stored.as_of is not None
    return frontier(
        list(needs),
        lead_times=snapshot.lead_times,
        emergencies=emergency_hours(stored.as_of),
        budget=BUDGET,
        today=timezone.localdate(),
        recorded=waits,
    )


def bare(need: Need) -> Need:
    """Without what recommendations say alone, and without the models of demand."""
    return replace(need, explanation=(), cover_explanation=(), evidence={}, demand=None, sudden_demand=None)


def test_every_need_reads_back_as_it_was(stored: StoredNeeds, from_record: list[Need]) -> None:
    assert [bare(one) for one in stored.needs] == [bare(one) for one in from_record]
    kinds = [(type(one.demand), type(one.sudden_demand)) for one in from_record]
    assert [(type(one.demand), type(one.sudden_demand)) for one in stored.needs] == kinds
    assert len({kind for kind, _ in kinds}) == 5  # All models, and none.


def test_the_budget_is_the_same(
    stored: StoredNeeds, from_record: list[Need], snapshot: DemandSnapshot
) -> None:
    waits = waits_on_record(snapshot)
    assert stored.waits == waits
    assert waits
    found = budget_of(stored.needs, stored.waits, snapshot, stored)
    assert found.buys
    assert found == budget_of(from_record, waits, snapshot, stored)


def test_the_risk_of_each_position_is_the_same(
    stored: StoredNeeds, from_record: list[Need], snapshot: DemandSnapshot
) -> None:
    assert stored.as_of is not None
    at, waits = stored.as_of, waits_on_record(snapshot)
    by_drive = budget_of(from_record, waits, snapshot, stored).by_drive
    years = position_years(by_drive, waits)
    read = load_risk_inputs(at, years=position_years(by_drive, stored.waits))
    loaded = load_risk_inputs(at, demands=snapshot.position_demands, years=years)
    assert positions_at_risk(read) == positions_at_risk(loaded)


def test_for_another_lead_time_the_renewals_are_followed_again(
    stored: StoredNeeds, from_record: list[Need]
) -> None:
    pairs = zip(stored.needs, from_record, strict=True)
    aging = [
        (read.demand, made.demand)
        for read, made in pairs
        if made.model == "weibull_renewal" and made.is_kept_here
    ][:2]
    assert aging
    for read, made in aging:
        for days in ((33.0, 0.0), (41.5, 6.0)):
            assert read.over(*days).pmf.tolist() == made.over(*days).pmf.tolist()  # type: ignore[union-attr]
