"""One story of money over the whole demo plant: ledger, budget and drives add up."""

from decimal import Decimal

import pytest

from api.answers.exposure_lines import PlantExposure, sums_of
from api.answers.frontier import Frontier
from drives.exposure.position_years import year_of_all
from drives.models import EndedBy, Installation, Request
from inventory.models import MovementKind, StockEntry, StockLevel

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("demo_plant")]


def test_ledger_budget_and_drives_add_up(frontier: Frontier) -> None:
    value = frontier.stock_value
    ledger = sum(
        (
            level.on_hand * level.item.unit_cost
            for level in StockLevel.objects.select_related("item").filter(item__currency=frontier.currency)
            if level.item.unit_cost is not None
        ),
        Decimal(0),
    )
    assert value.on_shelves == ledger > 0
    assert (
        value.on_shelves - value.on_hold - value.reserved + value.on_order == value.weighed + value.left_out
    )

    parts = [part for row in frontier.by_drive for part in row.parts]
    cents = Decimal("0.01") * len(parts)
    assert sum(row.downtime_cost_per_year for row in frontier.by_drive) == sum(
        part.downtime_cost_per_year for part in parts
    )
    assert (
        abs(sum(part.downtime_cost_per_year for part in parts) - frontier.today.downtime_cost_per_year)
        < cents
    )
    last = frontier.buys[-1]
    assert last.downtime_cost_per_year < frontier.today.downtime_cost_per_year


def test_budget_exposure_and_record_are_one_story(frontier: Frontier, exposure: PlantExposure) -> None:
    years = [row.year for row in exposure.positions if row.year]
    total, listed = year_of_all(years), sums_of(exposure).year

    of_drives = {row.drive: row.downtime_cost_per_year for row in frontier.by_drive}
    of_positions = dict.fromkeys(of_drives, Decimal(0))
    for row in exposure.positions:
        if row.year and row.year.downtime_cost_per_year:
            of_positions[row.position.drive] += row.year.downtime_cost_per_year
    assert of_positions == of_drives
    assert total.downtime_cost_per_year == sum(one.downtime_cost_per_year for one in years) > 0
    parts = sum(len(row.parts) for row in frontier.by_drive)
    rounding = Decimal("0.01") * parts
    assert abs(total.downtime_cost_per_year - frontier.today.downtime_cost_per_year) < rounding
    assert total.recorded == frontier.recorded
    assert listed.downtime_cost_per_year == total.downtime_cost_per_year
    assert listed.recorded
    assert total.recorded
    assert listed.recorded.cost_per_year == total.recorded.cost_per_year

    facts = {one.code: one.values for one in frontier.method}
    explained = facts["downtime_of_a_year"], facts["more_stops_than_recorded"], facts["waits_on_record"]
    assert Decimal(explained[0]["cost"]) == total.downtime_cost_per_year
    assert Decimal(explained[0]["cost"]) == Decimal(explained[1]["cost_of_recorded_stops"]) + Decimal(
        explained[1]["cost_not_seen"]
    )
    assert Decimal(explained[2]["cost"]) == total.recorded.cost_per_year


def test_the_recorded_waits_are_those_of_the_raw_rows(frontier: Frontier) -> None:
    """Of failures, from each request without a piece to the issue of its order, at the price of the drive."""
    found = frontier.recorded
    ends = dict(Installation.objects.filter(removed_at__isnull=False).values_list("work_order", "ended_by"))
    issued = {
        (entry.work_order, entry.item_id): entry.occurred_at
        for entry in StockEntry.objects.filter(kind=MovementKind.ISSUE).exclude(work_order="")
    }
    hours, money, waits = 0.0, 0.0, 0
    rows = Request.objects.filter(result__in=["not_filled", "not_stocked"]).select_related("position__drive")
    for row in rows:
        if row.position is None or ends.get(row.work_order) != EndedBy.FAILURE:
            continue
        waited = (issued[row.work_order, row.item_id] - row.at).total_seconds() / 3600
        waits, hours = waits + 1, hours + waited
        money += waited * float(row.position.drive.downtime_cost_per_hour or 0)
    years = (found.until - found.since).days / 365
    assert waits == found.waits > 40
    # The record of one storeroom begins a week later.
    assert found.hours_per_year == pytest.approx(hours / years, rel=0.002)
    assert float(found.cost_per_year) == pytest.approx(money / years, rel=0.002)
