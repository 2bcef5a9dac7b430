"""Storerooms within reach are one pool of what is rare and dear: every answer about the demo plant tells the same story."""

from collections import defaultdict

import pytest
from django.contrib.auth import get_user_model
from django.test import Client
from django.utils import timezone

from api.answers.exposure_lines import PlantExposure
from api.answers.frontier import Frontier
from drives.figures.shelves import excess
from inventory.facts import fact
from inventory.models import Item, Recommendation, Storeroom, TransferTime
from inventory.planning.decide import accept
from inventory.planning.policy_inputs import Need
from inventory.planning.reorder_list import reorder_lines
from inventory.planning.stock_position import load_stock_positions

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("demo_plant")]

Part = tuple[int, ...]
DEAR = "41-0205"
"""1,480 EUR, once in 14 years, 98 days from order to shelf; one piece lies in the kiln cabinet."""


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


def test_the_first_purchases_never_buy_what_lies_within_reach(needs: list[Need], frontier: Frontier) -> None:
    """What storerooms share counts as there; what they keep apart saves minutes where a piece lies within reach."""
    ways = set(TransferTime.objects.values_list("from_storeroom", "to_storeroom"))
    positions = load_stock_positions(timezone.localdate())
    kept = {(need.item_id, need.storeroom_id): need for need in needs if need.is_kept_here}
    within_reach = set()
    for key, need in kept.items():
        near = {begin for begin, end in ways if end == need.storeroom_id} - set(need.storeroom_ids)
        there = positions.of(need.member_ids, near)
        if need.chain is None and there.on_hand > there.reserved:
            within_reach.add(key)
    assert len(within_reach) > 10
    assert len(frontier.buys) > 50
    assert not within_reach & {(buy.item_id, buy.storeroom_id) for buy in frontier.buys}
    for buy in frontier.buys:
        need = kept[buy.item_id, buy.storeroom_id]
        if need.chain is None:
            own = positions.of(need.member_ids, need.storeroom_ids)
            assert buy.stock_after > max(own.inventory_position, 0)
    dear = Item.objects.get(stock_number=DEAR)
    left = {one.storeroom_id: one.reason.code for one in frontier.left_out if one.item_id == dear.pk}
    assert left == {Storeroom.objects.get(code="OM-KILN").pk: "kept_in_storeroom"}


def test_a_position_with_a_piece_some_minutes_away_is_priced_with_them(exposure: PlantExposure) -> None:
    fetched = 0
    for row in exposure.positions:
        per_hour, nearest = row.position.downtime_cost_per_hour, row.nearest
        if row.chance is None or per_hour is None:
            continue
        minutes, hours = 0 if nearest is None else nearest.minutes, row.hours_to_wait
        assert minutes is not None
        assert hours is not None
        served = row.chance.of_demand - row.chance.value
        expected = (row.chance.value * hours + served * minutes / 60) * float(per_hour)
        assert float(row.expected_cost or 0) == pytest.approx(expected, abs=0.006)
        fetched += minutes > 0
        if nearest is None:
            assert row.chance.value == row.chance.of_demand
    assert fetched > 5


def test_every_page_tells_the_same_of_the_dear_part(client: Client, exposure: PlantExposure) -> None:
    dear = Item.objects.get(stock_number=DEAR)
    advices = {one.storeroom.code: one for one in current() if one.item_id == dear.pk}
    assert {code: one.order_up_to for code, one in advices.items()} == {"OM-MAIN": 2, "OM-KILN": 0}
    (row,) = (one for one in exposure.positions if DEAR in {c.stock_number for c in one.covers})
    assert (row.nearest.storeroom, row.nearest.minutes) == ("OM-KILN", 6)  # type: ignore[union-attr]
    assert 0 < row.expected_cost < 100  # type: ignore[operator]

    accept(advices["OM-KILN"], by="test")
    accept(advices["OM-MAIN"], by="test")
    (line,) = (one for one in list(reorder_lines(today=timezone.localdate())) if one.item == dear)
    # One piece lies six minutes away: one more is bought, and for the storeroom that keeps both.
    assert (line.storeroom.code, line.action, line.quantity, line.stock.on_hand) == ("OM-MAIN", "order", 1, 1)
    lies = fact("lies_in_storeroom", pieces=1, storeroom="OM-KILN", minutes=6)
    assert lies in line.notes

    client.force_login(get_user_model().objects.get(username="demo-manager"))
    page = client.get(f"/positions/{row.position.tag}/").content.decode()
    assert "Kept in OM-MAIN for this storeroom too." in page
    assert DEAR not in {one.item for one in excess(timezone.localdate()).rows}
