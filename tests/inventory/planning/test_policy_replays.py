from typing import Any

import pytest

from inventory.models import StockPolicy
from inventory.planning.chain_jobs import chain_jobs
from inventory.planning.policy_replays import replay_levels
from tests import factories as make
from tests.inventory.planning.worlds import need_of, run_over

pytestmark = pytest.mark.django_db


def requests(*days: int, quantity: int = 1) -> list[dict[str, Any]]:
    return [
        {
            "at": f"2025-{1 + day // 28:02d}-{1 + day % 28:02d}T08:00:00+00:00",
            "quantity": quantity,
            "is_planned": False,
        }
        for day in days
    ]


def test_levels_in_force_and_recommended_are_replayed_over_their_own_requests() -> None:
    item = make.ItemFactory()
    one = need_of(item, evidence={"events": requests(0, 10, 100, 200)})
    StockPolicy.objects.create(
        item=item, storeroom_id=one.storeroom_id, stocked=True, reorder_point=0, order_up_to=1
    )
    run_over([one])
    in_force, recommended = replay_levels()
    # With one piece and 45 days to the next, the second request of four finds none.
    assert (in_force.values["levels"], in_force.values["requests"]) == ("in_force", 4)
    assert in_force.values["achieved"] == pytest.approx(0.75)
    assert in_force.values["promised"] == pytest.approx(0.6107, abs=1e-4)
    assert in_force.code == "levels_kept_promise"
    assert (recommended.values["levels"], recommended.values["achieved"]) == ("recommended", 1.0)


def test_planned_requests_and_other_storerooms_are_left_out() -> None:
    planned = [{**event, "is_planned": True} for event in requests(0, 1, 2)]
    one = need_of(make.ItemFactory(), evidence={"events": [*planned, *requests(50)]})
    run_over([one])
    (found,) = replay_levels(one.storeroom_id)
    assert (found.values["requests"], found.values["achieved"]) == (1, 1.0)
    assert replay_levels(one.storeroom_id + 1) == ()


def test_chain_is_replayed_in_jobs() -> None:
    lengths = chain_jobs([90, 100, 100])
    one = need_of(
        make.ItemFactory(),
        evidence={"events": [*requests(0, quantity=90), *requests(100, 101, quantity=100)]},
        chain=lengths,
    )
    room = one.storeroom_id
    StockPolicy.objects.create(
        item_id=one.item_id, storeroom_id=room, stocked=True, reorder_point=0, order_up_to=100
    )
    run_over([one])
    in_force = replay_levels()[0].values
    # After the first job the ten links left serve none: a job is ordered, and the third request comes a day after the second.
    assert (in_force["requests"], in_force["achieved"]) == (3, pytest.approx(2 / 3))


def test_a_promise_that_the_record_breaks_is_told() -> None:
    days = [day for month in range(0, 300, 60) for day in range(month, month + 20)]
    one = need_of(make.ItemFactory(), evidence={"events": requests(*days)}, rate=4.0)
    run_over([one])
    (found,) = replay_levels()
    assert found.code == "levels_missed_promise"
    assert found.values["promised"] > found.values["high"] > found.values["achieved"]
