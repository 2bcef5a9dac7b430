from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from inventory.models import Item, StockLevel
from inventory.stores import ledger
from tests import factories
from tests.factories import (
    BushedSprocketFactory,
    BushFactory,
    BushItemFactory,
    ChainFactory,
    ChainItemFactory,
    DrivenFactory,
    IdlerFactory,
    InspectionFactory,
    ItemFactory,
    MachineShopFactory,
    OpeningHoursFactory,
    PilotBoredFactory,
    PositionFactory,
    SprocketFactory,
    StockingTermsFactory,
    StoreroomFactory,
    TransferTimeFactory,
    stock,
)

pytestmark = pytest.mark.django_db
TUESDAY_MORNING = "2026-11-24T09:00:00+01:00"
TUESDAY_NIGHT = "2026-11-24T03:00:00+01:00"


@pytest.fixture
def position():
    """A driver of 17 teeth on a 25 mm shaft, in a plant whose storeroom and shop are open on weekdays."""
    position = PositionFactory()
    DrivenFactory(drive=position.drive)
    room, shop = StoreroomFactory(), MachineShopFactory()
    for weekday in range(5):
        OpeningHoursFactory(storeroom=room, weekday=weekday, opens="06:00", closes="18:00")
        OpeningHoursFactory(storeroom=None, machine_shop=shop, weekday=weekday, opens="07:00", closes="15:30")
    return position


def ask(client, position, **query):
    answer = client.get(f"/api/v1/positions/{position.tag}/substitutes/", {"at": TUESDAY_MORNING, **query})
    assert answer.status_code == 200, answer.content
    return answer.json()


def offer(answer, item):
    return next(row for row in answer["results"] if row["item"]["stock_number"] == item.stock_number)


def outcome(row, aspect):
    return next(check["outcome"] for check in row["verdict"]["checks"] if check["aspect"] == aspect)


def on_shelf(specification=None, quantity=1, room="MAIN", **attributes):
    item = ItemFactory(specification=specification or SprocketFactory(**attributes))
    stock(item, StoreroomFactory(code=room), quantity)
    return item


def test_the_equal_part_is_a_drop_in_and_comes_first(as_viewer, position):
    pilot = on_shelf(PilotBoredFactory())
    equal = on_shelf()

    answer = ask(as_viewer, position)

    assert [row["item"]["stock_number"] for row in answer["results"]] == [
        equal.stock_number,
        pilot.stock_number,
    ]
    assert [row["verdict"]["grade"] for row in answer["results"]] == ["drop_in", "with_work"]
    assert answer["best"] == {"by_grade": equal.stock_number, "by_ready": equal.stock_number}


def test_it_says_where_the_part_lies_and_how_many_are_free(as_viewer, position):
    item = on_shelf(quantity=3)

    row = offer(ask(as_viewer, position), item)

    assert row["stock"] == [
        {"storeroom": "MAIN", "bin": None, "condition": "new", "on_hand": 3, "reserved": 0, "available": 3}
    ]
    assert row["available"] == 3


def test_the_look_alike_is_refused_with_its_physical_reason(as_viewer, position):
    trap = on_shelf(chain_designation="08A")

    row = offer(ask(as_viewer, position), trap)

    assert row["verdict"]["grade"] == "unfit"
    assert outcome(row, "chain") == "no"
    assert "8.51" in row["verdict"]["checks"][0]["explanation"]
    assert row["ready_minutes"] is None


def test_the_shelf_here_comes_before_the_shelf_elsewhere(as_viewer, position):
    TransferTimeFactory(
        from_storeroom=StoreroomFactory(code="NORTH"), to_storeroom=StoreroomFactory(), minutes=40
    )
    elsewhere, here = on_shelf(room="NORTH"), on_shelf()

    numbers = [row["item"]["stock_number"] for row in ask(as_viewer, position)["results"]]
    from_north = [
        row["item"]["stock_number"] for row in ask(as_viewer, position, storeroom="NORTH")["results"]
    ]

    assert numbers == [here.stock_number, elsewhere.stock_number]
    assert from_north == [elsewhere.stock_number, here.stock_number]


def test_by_day_the_shop_bores_at_once_and_at_night_the_drive_waits_for_it(as_viewer, position):
    MachineShopFactory(code="SHOP")
    type(position.drive.equipment.area.plant.machine_shop).objects.update(call_out_minutes=None)
    pilot = on_shelf(PilotBoredFactory())

    by_day = offer(ask(as_viewer, position), pilot)
    at_night = offer(ask(as_viewer, position, at=TUESDAY_NIGHT), pilot)

    # By day: 10 min at the counter, 30 + 30 + 15 in the shop, 60 for fitting.
    assert by_day["ready_minutes"] == 10 + 75 + 60
    # At night: the shop opens at 07:00, four hours later.
    assert at_night["ready"]["shop_done_minutes"] == 4 * 60 + 75
    assert at_night["ready_minutes"] == 4 * 60 + 75 + 60


def test_ordering_ready_puts_first_what_lets_the_drive_run_soonest(as_viewer, position):
    north = StoreroomFactory(code="NORTH", call_out_minutes=300)
    TransferTimeFactory(from_storeroom=north, to_storeroom=StoreroomFactory(), minutes=40)
    far_drop_in, near_pilot = on_shelf(room="NORTH"), on_shelf(PilotBoredFactory())

    by_grade = ask(as_viewer, position, at=TUESDAY_NIGHT, limit=1)
    by_ready = ask(as_viewer, position, at=TUESDAY_NIGHT, ordering="ready")

    assert by_ready["results"][0]["item"]["stock_number"] == near_pilot.stock_number
    assert by_grade["best"] == {"by_grade": far_drop_in.stock_number, "by_ready": near_pilot.stock_number}
    assert {row["item"]["stock_number"] for row in by_grade["results"]} == {
        far_drop_in.stock_number,
        near_pilot.stock_number,
    }


def test_an_unknown_transfer_time_stays_unknown_and_sorts_last(as_viewer, position):
    lost, near = on_shelf(room="NORTH"), on_shelf(PilotBoredFactory())

    answer = ask(as_viewer, position, ordering="ready")

    assert [row["item"]["stock_number"] for row in answer["results"]] == [
        near.stock_number,
        lost.stock_number,
    ]
    assert offer(answer, lost)["ready_minutes"] is None
    assert offer(answer, lost)["ready"]["reason"]["code"] == "transfer_time_or_hours_not_recorded"
    assert "not recorded" in offer(answer, lost)["ready"]["reason"]["explanation"]


def test_a_bush_on_the_shelf_makes_the_bushed_hub_a_candidate(as_viewer, position):
    bushed = on_shelf(BushedSprocketFactory(teeth=17))
    without = offer(ask(as_viewer, position), bushed)
    stock(BushItemFactory(), StoreroomFactory(), 2)
    row = offer(ask(as_viewer, position), bushed)

    assert without["verdict"]["grade"] == "unfit"
    assert row["verdict"]["grade"] == "with_work"
    assert row["companions"]["bush"]["must_fetch"] is True
    assert row["companions"]["bush"]["available"] == 2


def test_a_worn_chain_makes_a_new_chain_part_of_the_work(as_viewer, position):
    item = on_shelf()
    InspectionFactory(position=position, elongation_percent=Decimal("3.4"))
    short = offer(ask(as_viewer, position), item)
    stock(ChainItemFactory(), StoreroomFactory(), 240, pieces=[240])
    row = offer(ask(as_viewer, position), item)

    assert outcome(row, "chain_wear") == "work"
    assert [step["operation"] for step in row["verdict"]["work"]] == ["fit_chain"]
    assert short["companions"]["chain"]["is_short"] is True
    assert short["companions"]["chain"]["note"]["code"] == "chain_none_available"
    assert short["ready_minutes"] is None
    reason = short["ready"]["reason"]
    assert (reason["code"], reason["values"]["kind"]) == ("companion_not_available", "chain")
    assert row["companions"]["chain"]["is_short"] is False
    assert row["ready_minutes"] == 10 + 40 + 60


def test_two_remnants_are_not_a_chain_without_saying_so(as_viewer, position):
    item = on_shelf()
    InspectionFactory(position=position, elongation_percent=Decimal("3.4"))
    stock(ChainItemFactory(), StoreroomFactory(), 120, pieces=[65, 55])

    chain = offer(ask(as_viewer, position), item)["companions"]["chain"]

    assert chain["is_short"] is True
    note = chain["note"]
    assert (note["code"], note["values"]) == ("chain_pieces_too_short", {"piece_links": [65, 55]})
    assert "No single piece is long enough" in note["explanation"]


def test_two_remnants_are_a_chain_where_the_plant_allows_a_joint(as_viewer, position):
    item = on_shelf()
    StockingTermsFactory(chain_joints=1)
    InspectionFactory(position=position, elongation_percent=Decimal("3.4"))
    stock(ChainItemFactory(), StoreroomFactory(), 120, pieces=[65, 55])

    chain = offer(ask(as_viewer, position), item)["companions"]["chain"]

    assert chain["is_short"] is False
    assert (chain["note"]["code"], chain["note"]["values"]["longest_links"]) == ("chain_to_be_joined", 65)


def test_a_piece_that_is_reserved_is_no_chain_for_others(as_viewer, position):
    item = on_shelf()
    InspectionFactory(position=position, elongation_percent=Decimal("3.4"))
    chain, room = ChainItemFactory(), StoreroomFactory()
    stock(chain, room, 240, pieces=[120, 120])
    ledger.reserve(chain, room, 110, work_order="WO-8", by="Marta Keller")
    assert offer(ask(as_viewer, position), item)["companions"]["chain"]["is_short"] is False
    ledger.reserve(chain, room, 110, work_order="WO-9", by="Marta Keller")
    assert offer(ask(as_viewer, position), item)["companions"]["chain"]["is_short"] is True


def test_a_lifting_drive_gets_no_better_than_review(as_viewer, position):
    position.drive.lifting = True
    position.drive.save()
    item = on_shelf()

    answer = ask(as_viewer, position)

    assert offer(answer, item)["verdict"]["grade"] == "needs_review"
    assert outcome(offer(answer, item), "duty") == "review"
    assert offer(answer, item)["ready_minutes"] is None
    assert offer(answer, item)["ready"]["reason"]["code"] == "lifting_drive_takes_no_substitute"
    assert answer["best"] == {"by_grade": None, "by_ready": None}


def test_a_chain_of_unknown_length_is_not_known_to_be_there(as_viewer, position):
    position.drive.links = position.drive.centre_distance_mm = None
    position.drive.save()
    item = on_shelf()
    InspectionFactory(position=position, elongation_percent=Decimal("3.4"))
    stock(ChainItemFactory(), StoreroomFactory(), 240, pieces=[240])

    row = offer(ask(as_viewer, position), item)

    assert row["companions"]["chain"]["quantity"] is None
    assert row["companions"]["chain"]["is_short"] is True
    assert row["ready_minutes"] is None


def test_a_chain_whose_strands_are_not_recorded_is_no_simplex_chain(as_viewer, position):
    item = on_shelf()
    InspectionFactory(position=position, elongation_percent=Decimal("3.4"))
    stock(ChainItemFactory(specification=ChainFactory(strands=None)), StoreroomFactory(), 240, pieces=[240])

    assert offer(ask(as_viewer, position), item)["companions"]["chain"]["available"] == 0


def test_a_bush_with_another_keyway_is_not_the_bush(as_viewer, position):
    bushed = on_shelf(BushedSprocketFactory(teeth=17))
    right, wrong = BushItemFactory(), BushItemFactory(specification=BushFactory(keyway_width_mm=Decimal("6")))
    for bush in (right, wrong):
        stock(bush, StoreroomFactory(), 1)

    bush = offer(ask(as_viewer, position), bushed)["companions"]["bush"]

    assert [row["item"] for row in bush["stock"]] == [right.stock_number]


def test_a_bush_with_a_shallow_keyway_is_fetched_only_where_no_other_is(as_viewer, position):
    bushed = on_shelf(BushedSprocketFactory(teeth=17))
    shallow = BushItemFactory(specification=BushFactory(keyway_depth_mm=Decimal("1.3")))
    stock(shallow, StoreroomFactory(), 1)
    alone = offer(ask(as_viewer, position), bushed)
    deep = BushItemFactory()
    stock(deep, StoreroomFactory(), 1)
    both = offer(ask(as_viewer, position), bushed)

    assert (alone["verdict"]["grade"], both["verdict"]["grade"]) == ("needs_review", "with_work")
    assert [row["item"] for row in alone["companions"]["bush"]["stock"]] == [shallow.stock_number]
    assert [row["item"] for row in both["companions"]["bush"]["stock"]] == [deep.stock_number]


def test_the_cut_of_double_pitch_teeth_is_known_from_the_fitted_unit(as_viewer, position):
    drive = position.drive
    drive.chain_designation, drive.pitch_mm, drive.roller_diameter_mm = (
        "208B",
        Decimal("25.4"),
        Decimal("8.51"),
    )
    drive.transverse_pitch_mm = None
    drive.save()
    position.envelope_outside_diameter_mm = None
    position.save()
    equal = on_shelf(chain_designation="208B", single_cut=True)
    factories.InstallationFactory(position=position, item=equal)

    assert outcome(offer(ask(as_viewer, position), equal), "teeth") == "ok"


def test_a_dust_zone_brings_its_caution(as_viewer, position):
    position.drive.environment = ["explosive"]
    position.drive.save()

    item = on_shelf()

    cautions = offer(ask(as_viewer, position), item)["verdict"]["cautions"]

    assert any("dust or explosive zone" in caution["explanation"] for caution in cautions)


def test_an_idler_takes_any_count_above_its_least(as_viewer, position):
    idler = IdlerFactory(
        drive=position.drive, shaft_diameter_mm=Decimal("20"), teeth=17, key_width_mm=None, hub_style=""
    )
    bearing = {"bore_type": "bearing", "bore_mm": Decimal("20"), "max_bore_mm": None, "role_kind": "idler"}
    more, fewer = on_shelf(teeth=19, **bearing), on_shelf(teeth=11, **bearing)

    answer = ask(as_viewer, idler)

    assert offer(answer, more)["verdict"]["grade"] == "drop_in"
    assert outcome(offer(answer, fewer), "teeth") == "no"


def test_another_count_inside_the_ratio_tolerance_is_for_review(as_viewer, position):
    position.drive.ratio_tolerance_percent = Decimal("6")
    position.drive.save()
    item = on_shelf(teeth=18)

    row = offer(ask(as_viewer, position), item)

    assert row["verdict"]["grade"] == "needs_review"
    assert row["verdict"]["consequences"]["ratio_change_percent"] == pytest.approx(100 / 17, abs=0.001)
    assert row["verdict"]["consequences"]["driven_speed_rpm"] == pytest.approx(500 * 18 / 51, abs=0.001)


def test_a_position_without_data_takes_it_from_the_fitted_unit_and_says_so(as_viewer, position):
    equal = on_shelf()
    factories.InstallationFactory(position=position, item=equal)
    position.shaft_kind, position.shaft_diameter_mm, position.teeth = "", None, None
    position.save()

    answer = ask(as_viewer, position)

    assert offer(answer, equal)["verdict"]["grade"] == "drop_in"
    found = answer["notes"][0]
    assert found["code"] == "requirement_taken_from_fitted_unit"
    assert {"teeth", "shaft"} <= set(found["values"]["attributes"])
    assert "shaft" in found["explanation"]


def test_nothing_on_the_shelf_is_an_answer(as_viewer, position):
    answer = ask(as_viewer, position)

    assert answer["results"] == []
    assert answer["best"] == {"by_grade": None, "by_ready": None}


def test_it_filters_by_grade_and_by_shelf(as_viewer, position):
    fits, bare = on_shelf(), ItemFactory(specification=SprocketFactory(material="cast_iron"))
    trap = on_shelf(chain_designation="08A")

    good = ask(as_viewer, position, worst_grade="with_work")
    in_stock = ask(as_viewer, position, in_stock="true")

    assert [row["item"]["stock_number"] for row in good["results"]] == [fits.stock_number]
    assert {row["item"]["stock_number"] for row in in_stock["results"]} == {
        fits.stock_number,
        trap.stock_number,
    }
    assert bare.stock_number not in str(in_stock["results"])


def test_it_takes_four_queries_for_any_number_of_candidates(as_viewer, position, django_assert_num_queries):
    room, bushed = StoreroomFactory(), BushedSprocketFactory(teeth=17)
    factories.InstallationFactory(position=position, item=on_shelf())
    stock(BushItemFactory(), room, 1)
    stock(ChainItemFactory(), room, 240, pieces=[140, 100])
    # The token; the position; settings, bushes and lives; the shortlist; stock, opening hours and open orders.
    for candidates in (1, 17, 170):
        new = range(Item.objects.filter(specification__kind="sprocket").count(), candidates)
        items = Item.objects.bulk_create(
            Item(stock_number=f"BUSHED-{number}", specification=bushed) for number in new
        )
        StockLevel.objects.bulk_create(StockLevel(item=item, storeroom=room, on_hand=1) for item in items)
        with django_assert_num_queries(1 + 4):
            answer = ask(as_viewer, position)
        assert min(candidates, 20) <= answer["judged"] <= min(candidates, 40)
        assert answer["judged"] + sum(answer["left_out"].values()) == candidates

    with django_assert_num_queries(1 + 5):
        ask(as_viewer, position, storeroom=room.code)


def test_what_is_on_order_stands_beside_each_candidate(as_viewer, position):
    item = factories.ItemFactory()
    factories.SupplyOrderFactory(
        item=item,
        external_id="PO-7",
        quantity=3,
        received_quantity=1,
        status="open",
        ordered_at="2026-03-01T08:00:00Z",
        promised_on="2026-04-10",
    )
    (found,) = ask(as_viewer, position, at="2026-04-15T12:00:00Z")["results"]
    (order,) = found["on_order"]
    assert (found["available"], order["external_id"], order["pieces"]) == (0, "PO-7", 2)
    assert (order["promised_on"], order["overdue_days"]) == ("2026-04-10", 5)
    assert order["reason"]["code"] == "on_order_overdue"


def test_who_else_is_exposed_has_an_address_of_its_own(as_viewer, position):
    item = on_shelf()

    assert "exposure" not in offer(ask(as_viewer, position), item)


def test_a_substitute_that_lasted_shorter_is_told_and_keeps_its_grade(as_viewer, position):
    usual, soft = on_shelf(), on_shelf()
    start = datetime(2020, 1, 1, tzinfo=UTC)
    hours = [(usual, 9000 + n) for n in range(6)] + [(soft, 3000 + n) for n in range(3)]
    for number, (item, lasted) in enumerate(hours):
        begin = start + timedelta(days=30 * number)
        factories.InstallationFactory(
            position=position,
            item=item,
            installed_at=begin,
            removed_at=begin + timedelta(days=29),
            ended_by="failure",
            running_hours=Decimal(lasted),
        )

    row = offer(ask(as_viewer, position), soft)

    told = row["track_record"]
    assert (told["fitted"], told["median_hours"], told["against"]) == (3, 3001, usual.stock_number)
    assert (told["p_value"], told["outcome"]) == (pytest.approx(1 / 84, abs=1e-4), "review")
    assert told["reason"]["explanation"] in [one["explanation"] for one in row["verdict"]["cautions"]]
    assert row["verdict"]["grade"] == "drop_in"


@pytest.mark.parametrize(("soft_lives", "hard_lives"), [(3, 4), (2, 3), (4, 3)])
def test_a_number_whose_lives_here_were_all_shorter_is_never_the_best_fit(
    as_viewer, position, soft_lives, hard_lives
):
    soft, hard = on_shelf(), on_shelf()
    Item.objects.filter(pk=soft.pk).update(unit_cost=Decimal("1"))
    start = datetime(2020, 1, 1, tzinfo=UTC)
    hours = [(hard, 9000 + n) for n in range(hard_lives)] + [(soft, 3000 + n) for n in range(soft_lives)]
    for number, (item, lasted) in enumerate(hours):
        begin = start + timedelta(days=30 * number)
        factories.InstallationFactory(
            position=position,
            item=item,
            installed_at=begin,
            removed_at=begin + timedelta(days=29),
            ended_by="failure",
            running_hours=Decimal(lasted),
        )

    answer = ask(as_viewer, position)

    assert answer["best"]["by_grade"] == hard.stock_number
    assert [row["verdict"]["grade"] for row in answer["results"]] == ["drop_in", "drop_in"]


def test_evidence_never_lifts_a_refusal(as_viewer, position):
    trap = on_shelf(chain_designation="08A")
    factories.InstallationFactory(position=position, item=trap)

    row = offer(ask(as_viewer, position), trap)

    assert row["verdict"]["grade"] == "unfit"
    assert row["track_record"]["outcome"] is None


@pytest.mark.parametrize(
    ("query", "name"),
    [
        ({"storeroom": "NOWHERE"}, "storeroom"),
        ({"worst_grade": "good"}, "worst_grade"),
        ({"limit": "0"}, "limit"),
        ({"limit": "many"}, "limit"),
        ({"ordering": "price"}, "ordering"),
        ({"at": "tonight"}, "at"),
        ({"in_stock": "maybe"}, "in_stock"),
        ({"grade": "drop_in"}, "grade"),
    ],
)
def test_bad_parameters_are_named(as_viewer, position, query, name):
    answer = as_viewer.get(f"/api/v1/positions/{position.tag}/substitutes/", query)

    assert answer.status_code == 400
    assert [row["parameter"] for row in answer.json()["errors"]] == [name]


def test_a_position_that_does_not_exist_is_not_there(as_viewer):
    answer = as_viewer.get("/api/v1/positions/NOWHERE-1/substitutes/")

    assert answer.status_code == 404
    assert answer.headers["Content-Type"].startswith("application/problem+json")


def test_an_item_has_substitutes_part_for_part(as_viewer, position):
    asked, equal, pilot = on_shelf(), on_shelf(), on_shelf(PilotBoredFactory())

    answer = as_viewer.get(f"/api/v1/items/{asked.stock_number}/substitutes/").json()

    grades = {row["item"]["stock_number"]: row["verdict"]["grade"] for row in answer["results"]}
    assert grades == {equal.stock_number: "drop_in", pilot.stock_number: "with_work"}


def test_an_item_that_does_not_exist_is_not_there(as_viewer):
    assert as_viewer.get("/api/v1/items/NOTHING/substitutes/").status_code == 404


def test_an_item_without_attributes_says_so(as_viewer):
    item = ItemFactory(specification=None)

    answer = as_viewer.get(f"/api/v1/items/{item.stock_number}/substitutes/").json()

    assert answer["results"] == []
    assert [note["code"] for note in answer["notes"]] == ["item_is_no_recorded_sprocket"]


def test_strangers_stay_out(as_stranger, position):
    assert as_stranger.get(f"/api/v1/positions/{position.tag}/substitutes/").status_code == 401


def test_what_the_checks_rest_on_stands_once_and_each_check_names_its_places(as_viewer, position):
    for _ in range(2):
        on_shelf()

    answer = ask(as_viewer, position)

    codes = [source["code"] for source in answer["sources"]]
    assert len({str(source) for source in answer["sources"]}) == len(codes)
    for row in answer["results"]:
        for check in row["verdict"]["checks"]:
            assert check["sources"]
        strands = next(check for check in row["verdict"]["checks"] if check["aspect"] == "strands")
        assert [codes[place] for place in strands["sources"]] == ["judgement"]
        chain = row["verdict"]["checks"][0]
        assert [codes[place] for place in chain["sources"]] == ["iso_606_screening"]
    assert all(source["explanation"] for source in answer["sources"])
