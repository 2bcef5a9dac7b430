"""What all parts share is estimated up to the end of the last month, and stands until then is changed."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from pytest_django import DjangoDbBlocker

from drives.demand.needs import needs_of
from drives.demand.plant_estimates import month_begin, store_estimates
from drives.demand.recompute import recompute
from drives.demand.snapshot import DemandSnapshot, load_demand_snapshot
from drives.models import Drive, PlantEstimate, PoolEstimate, Position, Request
from inventory.models import Item, PlantSetting, Recommendation, StockLevel
from tests.drives.demand.demand_records import day, issue, main_room, put_in_stock, ran, request, sprocket
from tests.factories import PositionFactory, RecordStartFactory
from tests.shared_rows import shared_rows

pytestmark = pytest.mark.django_db

NOW = day(1_000)
BEFORE = (month_begin(NOW) - timedelta(days=3) - day(0)) / timedelta(days=1)
"""A day of the month before."""
FEW = 10


def make_places() -> list[int]:
    """Alike in kind, more different than chance makes them."""
    keys = []
    for number, failures in enumerate([0, 0, 1, 1, 2, 3, 4, 6, 8, 10]):
        teeth = 17 + number
        position = PositionFactory(teeth=teeth)
        part = sprocket(f"SPR-{number}", specification__teeth=teeth)
        plant = position.drive.equipment.area.plant
        plant.storeroom = main_room()
        plant.save()
        put_in_stock(part)
        for one in range(failures):
            ran(position, part, 80 * one + number, 80 * one + number + 75, "failure")
            request(80 * one + number + 75, part, position)
        ran(position, part, 900)
        keys.append(position.pk)
    return keys


@pytest.fixture(scope="module")
def keys(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[list[int]]:
    with shared_rows(django_db_blocker, make_places) as found:
        yield found


@pytest.fixture
def places(keys: list[int], db: None) -> list[Position]:
    return [Position.objects.get(pk=key) for key in keys]


def fail(position: Position, at: float) -> None:
    unit = position.installations.get(removed_at=None)
    unit.removed_at, unit.ended_by, unit.mechanism = day(at), "failure", "wear"
    unit.save()
    ran(position, unit.item, at)


def snapshot(at: datetime = NOW) -> DemandSnapshot:
    return load_demand_snapshot(at)


def priors(found: DemandSnapshot) -> dict[tuple[int, int], Any]:
    return {(pool.part, pool.storeroom.pk): found.priors.prior_of(pool) for pool, _ in found.by_storeroom}


def store() -> None:
    store_estimates(snapshot().estimates)


def test_the_month_begins_in_utc() -> None:
    in_new_york = datetime(2026, 2, 28, 20, tzinfo=ZoneInfo("America/New_York"))
    assert month_begin(in_new_york) == datetime(2026, 3, 1, tzinfo=UTC)


def test_what_is_stored_reads_back_to_the_last_digit(places: list[Position]) -> None:
    made = snapshot()
    assert not made.estimates.is_stored
    assert {one.reason.code for one in priors(made).values()} == {"prior_from_family"}
    store_estimates(made.estimates)
    read = snapshot()
    assert read.estimates.is_stored
    assert (read.estimates.until, read.estimates.starts) == (made.estimates.until, made.estimates.starts)
    assert read.estimates.families.figures == made.estimates.families.figures
    assert priors(read) == priors(made)
    assert needs_of(read)[0].evidence == needs_of(made)[0].evidence


def test_a_pool_that_stands_out_reads_back_with_its_stock_number(places: list[Position]) -> None:
    for number in range(60):
        request(5 * number, sprocket("SPR-9"), places[9])
    made = snapshot()
    store_estimates(made.estimates)
    assert any(family.unlike for family in made.estimates.families.fitted.values())
    read = snapshot().estimates.families
    for name in made.estimates.families.members:
        assert read.of(name) == made.estimates.families.of(name)


def test_a_failure_of_this_month_moves_no_other_part(places: list[Position]) -> None:
    recompute(as_of=NOW, by="test")
    known = dict(Recommendation.objects.current().values_list("item", "inputs_hash"))
    fail(places[2], 999)
    run = recompute(as_of=NOW, by="test")
    now = dict(Recommendation.objects.current().values_list("item", "inputs_hash"))
    assert {item for item, found in now.items() if known[item] != found} == {
        places[2].installations.first().item_id
    }
    assert run.recomputed == 1


CHANGES = {
    "a failure of the month before that is recorded late": lambda place: fail(place, BEFORE),
    "a request of the month before": lambda place: request(BEFORE, None, place),
    "an issue of the month before": lambda place: issue(BEFORE, sprocket("SPR-0")),
    "a setting": lambda place: PlantSetting.objects.create(name="prior_events", value=2),
    "a drive": lambda place: Drive.objects.update(environment=["abrasive"]),
    "a start that a person set": lambda place: RecordStartFactory(
        storeroom=main_room(), complete_from=day(100).date()
    ),
}


@pytest.mark.sqlite
@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_what_they_rest_on_is_followed(places: list[Position], change: Any) -> None:
    store()
    change(places[3])
    found = snapshot()
    assert not found.estimates.is_stored
    store_estimates(found.estimates)
    assert snapshot().estimates.is_stored


STANDS = {
    "a failure of this month": lambda place: fail(place, 999),
    "stock that ran out": lambda place: StockLevel.objects.update(on_hand=0),
    "a price": lambda place: Item.objects.update(unit_cost=5),
    "a request that was filled later": lambda place: Request.objects.update(result="filled"),
}


@pytest.mark.parametrize("change", STANDS.values(), ids=STANDS)
def test_what_is_not_of_the_record_before_leaves_them(places: list[Position], change: Any) -> None:
    store()
    change(places[3])
    assert snapshot().estimates.is_stored


def test_the_next_month_counts_this_one(places: list[Position]) -> None:
    store()
    fail(places[0], 999)
    assert snapshot().estimates.is_stored
    later = snapshot(NOW + timedelta(days=31)).estimates
    assert not later.is_stored
    before = snapshot().estimates.families
    assert sum(one.jobs for one in later.families.figures.values()) == 1 + sum(
        one.jobs for one in before.figures.values()
    )


def test_a_record_that_begins_this_month_counts_from_its_first_day(places: list[Position]) -> None:
    early = day(12)
    starts = snapshot(early).estimates.starts
    start = starts.start(main_room().pk, is_sprocket=True, as_of=early)
    assert (start.at, start.reason.code) == (month_begin(early), "record_not_begun")


def test_one_set_of_estimates_is_kept(places: list[Position]) -> None:
    recompute(as_of=NOW, by="test")
    recompute(as_of=NOW + timedelta(days=31), by="test")
    assert PlantEstimate.objects.count() == 1
    assert PoolEstimate.objects.count() == FEW
    assert PlantEstimate.objects.get().until == month_begin(NOW + timedelta(days=31))
