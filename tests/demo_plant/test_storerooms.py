"""Storerooms within reach are one pool of what is rare and dear: every answer about the demo plant tells the same story."""

from collections import defaultdict
from collections.abc import Mapping

import pytest
from django.utils import timezone

from api.answers.frontier import calculate_frontier
from drives.demand.needs import needs_of
from drives.demand.snapshot import load_demand_snapshot
from inventory.models import Recommendation, TransferTime
from inventory.planning.policy_inputs import Need
from inventory.planning.stock_position import load_stock_positions

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("demo_plant")]

Part = tuple[int, ...]
DEAR = "41-0205"
"""1,480 EUR, once in 14 years, 98 days from order to shelf; one piece lies in the kiln cabinet."""


@pytest.fixture(scope="module")
def needs(demo_plant: None) -> list[Need]:
    return needs_of(load_demand_snapshot(timezone.now()))


def rooms_of(need: Need) -> set[int]:
    """The storerooms that share the stock, as one of them tells it."""
    home = need.kept_in.storeroom_id if need.kept_in else need.storeroom_id
    return {home, *need.storeroom_ids}


def test_every_need_is_served_by_exactly_one_pool(needs: list[Need]) -> None:
    homes: dict[tuple[Part, int], list[Need]] = defaultdict(list)
    for need in needs:
        if need.is_kept_here:
            for room in need.storeroom_ids:
                homes[need.member_ids, room].append(need)
    assert {len(found) for found in homes.values()} == {1}
    assert {(need.member_ids, need.storeroom_id) for need in needs} <= homes.keys()
    ways = set(TransferTime.objects.values_list("from_storeroom", "to_storeroom"))
    for need in needs:
        home = homes[need.member_ids, need.storeroom_id][0]
        assert need.storeroom_id in home.storeroom_ids
        assert need.kept_in is None or need.kept_in.storeroom_id == home.storeroom_id
        for near in need.keeps_for:
            there, here = near.storeroom_id, need.storeroom_id
            assert {(here, there), (there, here)} <= ways
            assert near.fetching_cost <= (near.holding_cost or 0) * (1 + 1e-9)
    assert sum(bool(need.keeps_for) for need in needs) > 20


def test_the_levels_of_all_storerooms_together_are_those_of_the_pool_once() -> None:
    advices = {(one.item_id, one.storeroom_id): one for one in current()}
    groups: dict[tuple[Part, int], list[Recommendation]] = defaultdict(list)
    for one in advices.values():
        kept_in = one.evidence["kept_in"]
        home = kept_in["storeroom_id"] if kept_in else one.storeroom_id
        groups[tuple(one.evidence["member_ids"]), home].append(one)
    shared = 0
    for (_, home), members in groups.items():
        (kept,) = (one for one in members if one.storeroom_id == home and not one.evidence["kept_as_id"])
        assert kept.evidence["kept_in"] is None
        assert sum(one.order_up_to for one in members) == kept.order_up_to
        shared += len({one.storeroom_id for one in members}) > 1
    assert shared > 20


def current() -> list[Recommendation]:
    return list(Recommendation.objects.current().select_related("item", "storeroom"))


def available(need: Need, rooms: set[int]) -> int:
    """Pieces in these storerooms, of all numbers of the part."""
    found = load_stock_positions(timezone.localdate()).of(need.member_ids, rooms)
    return found.on_hand - found.reserved


def test_the_first_purchases_never_buy_what_lies_within_reach(needs: list[Need]) -> None:
    found = calculate_frontier("5000")
    minutes = reach()
    of_item = {(need.item_id, need.storeroom_id): need for need in needs if need.is_kept_here}
    saved = found.today.downtime_cost_per_year
    dear = 0
    for buy in found.buys:
        need, gain = of_item[buy.item_id, buy.storeroom_id], saved - buy.downtime_cost_per_year
        saved = buy.downtime_cost_per_year
        near = {begin for begin, end in minutes if end == need.storeroom_id} - set(need.storeroom_ids)
        if (
            need.chain is None
            and near
            and available(need, near)
            and not available(need, set(need.storeroom_ids))
        ):
            # What lies nearby turns a stop of the whole lead time into one of an hour at most.
            assert need.downtime is not None
            assert float(gain) <= need.rate_per_year * 1.0 * float(need.downtime.cost_per_hour) * 1.5
            dear += 1
    rooms = {item.stock_number for item in found.left_out}
    assert DEAR in rooms
    assert found.buys


def reach() -> Mapping[tuple[int, int], int]:
    rows = TransferTime.objects.values_list("from_storeroom", "to_storeroom", "minutes")
    return {(begin, end): minutes for begin, end, minutes in rows}
