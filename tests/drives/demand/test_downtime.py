"""What an hour of a stop costs: the drives that stop, by how often, and none for a renewal at a chosen time."""

from datetime import date
from decimal import Decimal

import pytest

from drives.demand.downtime import downtime_of
from drives.demand.pools import Pool
from drives.models import Position
from tests.drives.demand.built_pools import event, pool, position

CHEAP = {"downtime_cost_per_hour": Decimal("100")}
DEAR = {"downtime_cost_per_hour": Decimal("900")}


def found(pool: Pool, *positions: Position, currency: str = "EUR"):
    return downtime_of(pool, {one.pk: one for one in positions}, currency)


def test_each_job_costs_what_its_own_drive_costs() -> None:
    cheap, dear = position(1, **CHEAP), position(2, **DEAR)
    one = found(pool(positions=[cheap, dear], events=[event(n, 1) for n in range(1, 4)]), cheap, dear)
    # Three jobs at the cheap drive, and half a job to come at each.
    assert {share.drive: share.share for share in one.drives} == pytest.approx(
        {"D001": 3.5 / 4, "D002": 0.5 / 4}
    )
    assert [share.position for share in one.drives] == ["P001", "P002"]
    assert [share.recorded_per_year for share in one.drives] == pytest.approx([3 / 5, 0])
    assert float(one.cost_per_hour) == pytest.approx((3.5 * 100 + 0.5 * 900) / 4)
    assert one.stop_share == pytest.approx(1)


def test_a_renewal_that_was_due_at_an_inspection_stops_nothing() -> None:
    dear = position(1, **DEAR)
    events = [event(n, 1, stops=n == 4) for n in (1, 2, 3, 4)]
    one = found(pool(positions=[dear], events=events), dear)
    assert one.stop_share == pytest.approx((1 + 1) / (4 + 1))
    assert one.cost_per_hour == 900


def test_the_lines_of_one_job_stop_its_drive_once() -> None:
    cheap, dear = position(1, **CHEAP), position(2, **DEAR)
    events = [event(1, 1, work_order="WO-1"), event(1, 1, work_order="WO-1"), event(2, 2, work_order="WO-2")]
    one = found(pool(positions=[cheap, dear], events=events), cheap, dear)
    assert [share.share for share in one.drives] == pytest.approx([0.5, 0.5])


def test_a_drive_without_a_price_counts_with_the_mean_and_says_so() -> None:
    priced, unpriced = position(1, **DEAR), position(2)
    one = found(pool(positions=[priced, unpriced], events=[event(1, 1), event(2, 2)]), priced, unpriced)
    assert (one.cost_per_hour, [share.cost_per_hour for share in one.drives]) == (900, [900, None])


@pytest.mark.parametrize("drive", [{}, {**DEAR, "currency": "USD"}])
def test_without_any_price_in_its_currency_it_is_not_known(drive) -> None:
    only = position(1, **drive)
    assert found(pool(positions=[only], events=[event(1, 1)]), only) is None


def test_a_drive_that_went_out_of_use_costs_nothing() -> None:
    gone, here = position(1, **DEAR, in_use_until=date(2021, 1, 1)), position(2, **CHEAP)
    events = [event(0.5, 1), event(1, 2)]
    one = found(pool(events=events, years=5), gone, here)
    assert [share.drive for share in one.drives] == ["D002"]
    assert one.cost_per_hour == 100


def test_jobs_of_nobody_known_are_spread_like_the_others() -> None:
    cheap, dear = position(1, **CHEAP), position(2, **DEAR)
    some = pool(positions=[cheap, dear], events=[event(1, 1), event(2, None)])
    one = found(some, cheap, dear)
    assert sum(share.share for share in one.drives) == pytest.approx(one.stop_share) == pytest.approx(1)
    assert found(pool(events=[event(1, None)])) is None
