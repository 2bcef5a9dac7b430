"""The need for every part, whatever the order of recording."""

import os
from collections import Counter
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from random import Random

import pytest
from django.db import transaction

from drives.demand.cover_refresh import refresh_cover
from drives.demand.needs import needs_of
from drives.demand.plant_estimates import store_estimates
from drives.demand.snapshot import end_of_day, load_demand_snapshot
from drives.models import Request
from inventory.facts import fact
from inventory.stores import ledger
from tests.drives.demand.demand_records import (
    bring_back,
    day,
    issue,
    main_room,
    put_in_stock,
    ran,
    request,
    sprocket,
)
from tests.factories import (
    BushItemFactory,
    ChainItemFactory,
    DriveFactory,
    DrivenFactory,
    InspectionFactory,
    PilotBoredFactory,
    PositionFactory,
    SprocketFactory,
    StockPolicyFactory,
    SupplyOrderFactory,
    stock,
)

pytestmark = pytest.mark.django_db
TODAY = 2500
SHUFFLES = int(os.environ.get("FEED_SHUFFLES", "8"))
"""So many in every run; 1,000 in the nightly one."""


def needs(at):
    return needs_of(load_demand_snapshot(at))


def by_number(found):
    return {(need.item_id, need.storeroom_id): need for need in found}


def only(item, at=TODAY):
    return by_number(needs(day(at)))[item.pk, main_room().pk]


def figures(found):
    """All of a need, its distribution written out."""
    return [
        (
            need.item_id,
            need.storeroom_id,
            need.member_ids,
            need.kept_as_id,
            need.model,
            need.rate_per_year,
            need.planned_per_year,
            need.importance,
            need.downtime,
            need.notice,
            need.explanation,
            need.cover_explanation,
            need.evidence,
            chances(need.demand),
            chances(need.sudden_demand),
        )
        for need in found
    ]


def chances(demand):
    return None if demand is None else (demand.over(45.0, 0.0, 1e-9).pmf.tolist(), demand.as_fact())


class Maltings:
    """Two equal elevators and a kiln fan; the records of some years, each made at any time."""

    def __init__(self):
        self.first, self.second = PositionFactory(), PositionFactory()
        self.driven = DrivenFactory(drive=self.first.drive)
        self.kiln = PositionFactory(drive=DriveFactory(tag="KILN-F1-D1", environment=["hot"]))
        self.part, self.twin = sprocket("SPR-A"), sprocket("SPR-B")
        self.wheel = sprocket("SPR-W", specification=SprocketFactory(teeth=51))
        self.rough = sprocket("SPR-P", specification=PilotBoredFactory())
        self.bush, self.chain = BushItemFactory(), ChainItemFactory()
        put_in_stock(self.part, self.twin, self.wheel, self.rough, self.bush)
        stock(self.chain, main_room(), 2000, pieces=[2000])
        StockPolicyFactory(item=self.rough, storeroom=main_room(), order_up_to=2)

    def records(self):
        """Each may come before or after any other."""
        worn = [
            (place, number, hours)
            for place in (self.first, self.second)
            for number, hours in enumerate((9000, 9400, 10000, 10300, 10800, 11200))
        ]
        lives = [
            lambda place=place, number=number, hours=hours: ran(
                place,
                self.part,
                300 * number,
                300 * (number + 1),
                "failure" if number % 2 else "limit_reached",
                mechanism="wear",
                running_hours=Decimal(hours),
                work_order=f"WO-{place.tag}-{number}",
            )
            for place, number, hours in worn
        ]
        return [
            *lives,
            lambda: ran(self.first, self.part, 1800),
            lambda: ran(self.second, self.twin, 1800),
            lambda: ran(self.driven, self.wheel, 0),
            lambda: ran(self.kiln, self.part, 0, 700, "preventive", work_order="WO-K1"),
            lambda: ran(self.kiln, self.part, 700),
            lambda: request(300, self.part, self.first, work_order=f"WO-{self.first.tag}-0"),
            lambda: issue(300, self.part, work_order=f"WO-{self.first.tag}-0"),
            lambda: request(700, self.part, self.kiln, work_order="WO-K1"),
            lambda: request(
                350,
                self.part,
                self.first,
                work_order="WO-7",
                result="filled_by_substitute",
                issued_item=self.twin,
            ),
            lambda: issue(350, self.twin, work_order="WO-7", position=self.first.tag),
            lambda: request(350, self.wheel, self.driven, work_order="WO-7", result="not_filled"),
            lambda: issue(350, self.chain, 114, work_order="WO-7", position=self.first.tag),
            lambda: issue(360, self.chain, 57, work_order="WO-8", position=self.kiln.tag),
            lambda: issue(360, self.bush, 2, work_order="WO-9"),
            lambda: bring_back(363, self.bush, work_order="WO-9"),
            lambda: issue(360, self.bush),
            lambda: request(360, self.bush),
            lambda: issue(361, self.bush),
            self.retracted_and_sent_again,
            self.booked_wrong_and_corrected,
            lambda: SupplyOrderFactory(
                item=self.part,
                external_id="PO-1",
                ordered_at=day(10),
                received_at=day(40),
                received_quantity=1,
                status="received",
            ),
            lambda: InspectionFactory(position=self.driven, at=day(2300), elongation_percent=Decimal("0.6")),
            lambda: InspectionFactory(position=self.driven, at=day(2400), elongation_percent=Decimal("1.1")),
            lambda: InspectionFactory(position=self.driven, at=day(2450), elongation_percent=Decimal("1.4")),
        ]

    def retracted_and_sent_again(self):
        wrong = request(1500, self.wheel, self.driven, quantity=20, reference="R-1")
        Request.objects.filter(pk=wrong.pk).update(retracted_at=day(1501))
        request(1500, self.wheel, self.driven, quantity=2, reference="R-2")

    def booked_wrong_and_corrected(self):
        wrong = issue(380, self.twin, 9, work_order="WO-11").entry
        ledger.reverse(wrong, by="Marta Keller", reason="nine for one")
        issue(380, self.twin, 1, work_order="WO-11")


def recorded(records, at=TODAY):
    """The needs after these records in this order; then everything is as before."""
    with transaction.atomic():
        for record in records:
            record()
        refresh_cover()
        found = needs(day(at))
        transaction.set_rollback(True)
    return found


def test_late_corrected_and_retracted_records_give_the_same_as_in_order():
    maltings = Maltings()
    records = maltings.records()
    expected = figures(recorded(records))
    dice = Random(4)
    for _ in range(SHUFFLES):
        dice.shuffle(records)
        assert figures(recorded(records)) == expected
    # The plant is no trivial one.
    assert {need.model for need in recorded(records)} >= {"weibull_renewal", "gamma_poisson"}


def test_a_correction_gives_the_same_as_the_right_record_alone():
    maltings = Maltings()
    rest = [record for record in maltings.records() if "and" not in getattr(record, "__name__", "")]
    right = [
        lambda: request(1500, maltings.wheel, maltings.driven, quantity=2, reference="R-2"),
        lambda: issue(380, maltings.twin, 1, work_order="WO-11"),
    ]
    assert len(rest) == len(maltings.records()) - 2
    assert figures(recorded([*rest, *right])) == figures(recorded(maltings.records()))


def test_a_missing_record_makes_a_difference():
    records = Maltings().records()
    assert figures(recorded(records[:-5])) != figures(recorded(records))


def test_one_day_gives_one_answer():
    maltings = Maltings()
    for record in maltings.records():
        record()
    refresh_cover()
    morning = day(TODAY).replace(hour=5)
    assert figures(needs(morning)) == figures(needs(morning + timedelta(hours=12)))
    assert figures(needs(morning)) != figures(needs(morning + timedelta(days=1)))


def test_a_day_ends_at_midnight_utc():
    end = datetime(2025, 3, 5, tzinfo=UTC)
    assert end_of_day(datetime(2025, 3, 4, 23, 59, tzinfo=UTC)) == end
    assert end_of_day(datetime.fromisoformat("2025-03-05T00:30:00+01:00")) == end


def test_equal_items_are_one_need_and_the_other_is_kept_as_the_one():
    position, part, twin = PositionFactory(), sprocket("SPR-A"), sprocket("SPR-B")
    ran(position, part, 0)
    request(10, twin, position)
    put_in_stock(part, twin)
    refresh_cover()
    found = by_number(needs(day(TODAY)))
    kept, other = found[twin.pk, main_room().pk], found[part.pk, main_room().pk]
    assert (kept.kept_as_id, other.kept_as_id) == (None, twin.pk)
    assert kept.member_ids == other.member_ids == (part.pk, twin.pk)


def test_an_item_without_stock_and_policy_is_no_need_of_its_own():
    position, part, twin = PositionFactory(), sprocket("SPR-A"), sprocket("SPR-B")
    ran(position, part, 0)
    refresh_cover()
    assert [need.item_id for need in needs(day(TODAY))] == [part.pk]
    assert needs(day(TODAY))[0].member_ids == (part.pk, twin.pk)


KEEP = [
    ({"lifecycle": "run_down"}, {}, "SPR-B"),
    ({"unit_cost": Decimal("50")}, {"unit_cost": Decimal("20")}, "SPR-B"),
    ({"unit_cost": None}, {"unit_cost": Decimal("99")}, "SPR-B"),
    ({}, {}, "SPR-A"),
]


@pytest.mark.parametrize(("first", "second", "kept"), KEEP)
def test_of_equal_items_the_active_then_the_cheaper_then_the_lower_is_kept(first, second, kept):
    PositionFactory()
    numbers = {item.stock_number: item for item in (sprocket("SPR-A", **first), sprocket("SPR-B", **second))}
    refresh_cover()
    (need,) = needs(day(TODAY))
    assert need.item_id == numbers[kept].pk


def test_the_item_requested_most_is_kept_before_the_cheaper():
    position, part, twin = PositionFactory(), sprocket("SPR-A"), sprocket("SPR-B", unit_cost=Decimal("99"))
    request(10, twin, position, quantity=2)
    request(20, part, position)
    refresh_cover()
    assert needs(day(TODAY))[0].item_id == twin.pk


def wore_out(position, part, *hours, begin=0, **more):
    for number, each in enumerate(hours):
        start = begin + 100 * number
        ran(position, part, start, start + 100, "limit_reached", running_hours=Decimal(each), **more)


@pytest.mark.parametrize("more", [{}, {"temporary_until": day(700).date(), "approved_by": "Ines Okafor"}])
def test_a_number_that_died_young_is_not_kept_though_it_is_cheaper_and_requested_most(more):
    position = PositionFactory()
    soft, hard = sprocket("SPR-A", unit_cost=Decimal("5")), sprocket("SPR-B", unit_cost=Decimal("50"))
    wore_out(position, soft, 2980, 2890, 3110, **more)
    wore_out(position, hard, 9210, 8870, 9330, 9040, begin=400)
    for number in range(6):
        request(1000 + 50 * number, soft, position)
    put_in_stock(soft, hard)
    refresh_cover()
    found = by_number(needs(day(TODAY)))
    kept, other = found[hard.pk, main_room().pk], found[soft.pk, main_room().pk]
    assert (kept.kept_as_id, other.kept_as_id) == (None, hard.pk)
    asked = Counter(row["item"] for row in kept.evidence["events"])
    assert asked["SPR-A"] > asked["SPR-B"]
    [why] = [reason for reason in kept.explanation if reason.code == "number_outlasted"]
    assert (why.values["item"], why.values["against"]) == ("SPR-A", ("SPR-B",))
    assert (why.values["lives"], why.values["against_lives"]) == (3, 4)
    assert why.values["p_value"] == pytest.approx(1 / 35, abs=1e-4)


def test_a_number_that_had_the_harder_place_is_not_blamed_for_it():
    rough, calm = PositionFactory(), PositionFactory()
    cheap, dear = sprocket("SPR-A", unit_cost=Decimal("5")), sprocket("SPR-B", unit_cost=Decimal("50"))
    wore_out(rough, cheap, 2980, 2890, 3110, 3000)
    wore_out(calm, dear, 9210, 8870, 9330, 9040)
    put_in_stock(cheap, dear)
    refresh_cover()
    assert {need.kept_as_id for need in needs(day(TODAY))} == {None, cheap.pk}


def test_lives_that_differ_no_more_than_by_chance_decide_nothing():
    position = PositionFactory()
    cheap, dear = sprocket("SPR-A", unit_cost=Decimal("5")), sprocket("SPR-B", unit_cost=Decimal("50"))
    wore_out(position, cheap, 9000, 4000, 7000)
    wore_out(position, dear, 6000, 4500, 8000, begin=400)
    put_in_stock(cheap, dear)
    refresh_cover()
    [need] = [need for need in needs(day(TODAY)) if need.kept_as_id is None]
    assert need.item_id == cheap.pk
    assert "number_outlasted" not in {reason.code for reason in need.explanation}


def test_hard_and_soft_teeth_are_two_needs_and_their_lives_are_not_mixed():
    position, elsewhere = PositionFactory(), PositionFactory()
    soft = sprocket("SPR-S", specification=SprocketFactory(hardened_teeth=False))
    hard = sprocket("SPR-H", specification=SprocketFactory(hardened_teeth=True))
    wore_out(position, hard, 9000, 9100)
    wore_out(position, soft, 3000, 3100, begin=400)
    ran(position, soft, 700)
    ran(elsewhere, hard, 0)
    refresh_cover()
    found = by_number(needs(day(TODAY)))
    need = found[soft.pk, main_room().pk]
    assert need.member_ids == (soft.pk,)
    assert {row["item"] for row in need.evidence["lives"]} == {"SPR-S"}
    assert found[hard.pk, main_room().pk].member_ids == (hard.pk,)


def test_planned_work_is_counted_apart():
    position, part = PositionFactory(), sprocket()
    ran(position, part, 0, 730, "preventive")
    ran(position, part, 730)
    request(0, BushItemFactory())
    need = only(part, at=1459)
    # One piece in the four years up to the end of that day.
    assert need.planned_per_year == pytest.approx(1 / 4, rel=1e-3)
    assert need.evidence["events"][0]["is_planned"]


def test_the_worst_drive_that_nothing_else_serves_gives_importance():
    drive = DriveFactory(criticality="vital", downtime_cost_per_hour=Decimal("900"))
    part = sprocket()
    ran(PositionFactory(drive=drive), part, 0)
    refresh_cover()
    need = only(part)
    assert (need.importance, need.downtime.cost_per_hour) == ("vital", 900)
    assert [share.drive for share in need.downtime.drives] == [drive.tag]
    assert need.explanation[-1] == fact("importance_of_only_candidate", drive=drive.tag, criticality="vital")


def test_a_substitute_that_is_kept_lowers_it_and_is_named():
    part, rough = sprocket(), sprocket("SPR-P", specification=PilotBoredFactory())
    ran(PositionFactory(drive=DriveFactory(criticality="vital")), part, 0)
    refresh_cover()
    assert only(part).importance == "vital"
    StockPolicyFactory(item=rough, storeroom=main_room(), order_up_to=2)
    need = only(part)
    assert need.importance == "desirable"
    (reason,) = need.cover_explanation
    assert (reason.code, reason.values["item"], reason.values["positions"]) == (
        "substitute_after_work",
        "SPR-P",
        1,
    )


def test_a_policy_to_keep_none_keeps_nothing_whatever_is_in_stock():
    part, rough = sprocket(), sprocket("SPR-P", specification=PilotBoredFactory())
    put_in_stock(rough)
    StockPolicyFactory(item=rough, storeroom=main_room(), stocked=False, order_up_to=0, reorder_point=-1)
    ran(PositionFactory(), part, 0)
    refresh_cover()
    assert only(part).cover_explanation == ()


def watched(elongations, **more):
    position = PositionFactory(drive=DriveFactory(hours_per_year=8760))
    DrivenFactory(drive=position.drive)
    part = sprocket(lead_time_days=14, **more)
    ran(position, part, 0, 1000, "limit_reached", mechanism="wear", work_order="WO-1")
    request(1000, part, position, work_order="WO-1")
    request(1200, part, position, work_order="WO-2")
    ran(position, part, 1000)
    for index, elongation in enumerate(elongations):
        InspectionFactory(
            position=position, at=day(2000 + 50 * index), elongation_percent=Decimal(str(elongation))
        )
    refresh_cover()
    return position, part


def test_wear_that_inspections_see_in_time_is_counted_apart():
    position, part = watched((0.2, 0.7, 1.2))
    need = only(part, at=2150)
    # Two pieces were requested, one of them worn to the limit.
    assert need.notice.wear_share == 0.5
    assert need.sudden_demand.yearly_pieces(0) < need.rate_per_year
    assert [date.position for date in need.notice.order_by] == [position.tag]
    (row,) = [row for row in need.evidence["inspections"] if row["position"] == position.tag]
    assert row["order_by"] == need.notice.order_by[0].order_by
    assert [reason["code"] for reason in row["reasons"]] == [
        "wear_slope_of_current_chain",
        "wear_slope_uncertain",
        "wear_limit_ahead",
        "wear_limit_chance",
    ]


def test_without_inspections_there_is_no_notice():
    _, part = watched(())
    need = only(part, at=2150)
    assert (need.notice, need.sudden_demand, need.evidence["inspections"]) == (None, None, [])


def test_later_records_are_not_seen():
    position, part = PositionFactory(), sprocket()
    ran(position, part, 0)
    request(100, part, position)
    before = figures(needs(day(500)))
    request(501, part, position)
    assert figures(needs(day(500))) == before
    assert figures(needs(day(502))) != before


def test_a_plant_without_a_record_has_no_needs():
    assert needs(day(TODAY)) == []


def test_chain_of_the_same_job_is_a_need_of_its_own_in_its_own_pieces():
    position, part, chain = PositionFactory(), sprocket(), ChainItemFactory()
    ran(position, part, 0)
    request(10, part, position, work_order="WO-1")
    request(10, chain, position, quantity=114, work_order="WO-1")
    need = only(chain)
    assert [event["quantity"] for event in need.evidence["events"]] == [114]
    assert only(part).evidence["events"][0]["quantity"] == 1


def test_a_job_takes_the_pieces_of_its_lines_whatever_the_month_adds_up_to():
    part = sprocket("SPR-A")
    for at in (10, 12, 14, 50, 52, 90):
        request(at, part)
    request(91, part, quantity=3, work_order="WO-1")
    (need,) = needs(day(120))
    assert need.pieces_per_job == pytest.approx(9 / 7)


def test_needs_come_in_the_order_of_item_and_storeroom():
    maltings = Maltings()
    found = [(need.item_id, need.storeroom_id) for need in recorded(maltings.records())]
    assert found == sorted(found)
    assert len(found) == len(set(found))


@pytest.mark.parametrize("positions", [3, 30])
def test_the_queries_do_not_grow_with_the_plant(positions, django_assert_num_queries):
    for number in range(positions):
        position, part = PositionFactory(), sprocket(f"SPR-{number}")
        ran(position, part, 0, 100, "failure")
        ran(position, part, 100)
        request(300 + number, part, position)
        StockPolicyFactory(item=part, storeroom=main_room())
        InspectionFactory(position=position, at=day(500))
    refresh_cover()
    # All that is read once more, up to the end of the last month; eleven digests of it, and the starts of records twice.
    with django_assert_num_queries(53):
        estimates = load_demand_snapshot(day(TODAY)).estimates
    store_estimates(estimates)
    # The items twice: once whole, row by row, for what makes them one part, and once the little that is kept of each.
    with django_assert_num_queries(37):
        needs(day(TODAY))


def test_what_is_kept_follows_policies_and_else_the_stock():
    ruled, none, lying = sprocket("SPR-A"), sprocket("SPR-B"), sprocket("SPR-C")
    put_in_stock(ruled, none, lying)
    StockPolicyFactory(item=ruled, storeroom=main_room(), order_up_to=2)
    StockPolicyFactory(item=none, storeroom=main_room(), stocked=False, order_up_to=0, reorder_point=-1)
    room = main_room().pk
    snapshot = load_demand_snapshot(day(TODAY))
    assert snapshot.kept == {(ruled.pk, room), (lying.pk, room)}
    assert snapshot.levels == {(ruled.pk, room): 2, (none.pk, room): 0}
