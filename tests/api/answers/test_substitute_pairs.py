import math
from decimal import Decimal

import pytest

from drives.substitutes import pairs as pair_counts
from tests.factories import (
    BushedSprocketFactory,
    BushFactory,
    BushItemFactory,
    DriveFactory,
    DrivenFactory,
    ItemFactory,
    PilotBoredFactory,
    PositionFactory,
    ShopTimeFactory,
    SprocketFactory,
    StoreroomFactory,
    stock,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def drive():
    """17 on 34 teeth, 2:1, with 20 mm of take-up either way."""
    drive = DriveFactory(
        links=100,
        centre_distance_mm=Decimal("471.5"),
        centre_adjustment_min_mm=Decimal("-20"),
        centre_adjustment_max_mm=Decimal("20"),
    )
    PositionFactory(drive=drive, envelope_outside_diameter_mm=None)
    DrivenFactory(drive=drive, teeth=34, envelope_outside_diameter_mm=None)
    return drive


def shelf(teeth, quantity=1, **attributes):
    item = ItemFactory(specification=SprocketFactory(teeth=teeth, **attributes))
    stock(item, StoreroomFactory(), quantity)
    return item


def pairs(client, drive):
    answer = client.get(f"/api/v1/drives/{drive.tag}/substitute-pairs/")
    assert answer.status_code == 200, answer.content
    return answer.json()


def test_two_sprockets_that_keep_the_ratio_are_a_pair_for_review(as_viewer, drive):
    driver, driven = shelf(18), shelf(36)

    [pair] = pairs(as_viewer, drive)["results"]

    assert (pair["driver"]["item"]["stock_number"], pair["driven"]["item"]["stock_number"]) == (
        driver.stock_number,
        driven.stock_number,
    )
    assert pair["grade"] == "needs_review"
    assert pair["ratio_change_percent"] == 0
    assert pair["take_up_reaches"] is True
    # Three teeth more in all want the shafts about 3/4 of a pitch closer on the same chain.
    assert pair["centre_shift_mm"] == pytest.approx(-0.75 * 12.7, abs=1.0)
    assert (pair["code"], pair["values"]) == ("pair_keeps_speed", {"driver_teeth": 18, "driven_teeth": 36})
    assert [found["code"] for found in pair["further"]] == [
        "pair_keeps_chain",
        "pair_other_length",
        "pair_is_planned_work",
    ]


def exact_centre_mm(links, small, large):
    """Of a taut chain, from the two circles and the tangents alone."""
    low, high = 100.0, 2000.0
    for _ in range(200):
        centre = (low + high) / 2
        radii = [12.7 / (2 * math.sin(math.pi / teeth)) for teeth in (small, large)]
        angle = math.asin((radii[1] - radii[0]) / centre)
        arcs = small * (0.5 - angle / math.pi) + large * (0.5 + angle / math.pi)
        length = 2 * centre * math.cos(angle) / 12.7 + arcs
        low, high = (centre, high) if length < links else (low, centre)
    return centre


def test_both_lengths_are_offered_where_both_fit_the_uncut_one_first(as_viewer, drive):
    shelf(18), shelf(36)

    [pair] = pairs(as_viewer, drive)["results"]

    assert [(one["links"], one["keeps_chain"]) for one in pair["lengths"]] == [(100, True), (102, False)]
    before_mm = exact_centre_mm(100, 17, 34)
    for one in pair["lengths"]:
        centre_mm = exact_centre_mm(one["links"], 18, 36)
        assert one["centre_distance_mm"] == pytest.approx(centre_mm, abs=0.05)
        assert one["centre_shift_mm"] == pytest.approx(centre_mm - before_mm, abs=0.05)
    assert (pair["chain_links"], pair["centre_distance_mm"]) == (
        100,
        pair["lengths"][0]["centre_distance_mm"],
    )


def test_the_centre_follows_from_the_length_whatever_is_recorded(as_viewer, drive):
    shelf(18), shelf(36)
    [measured] = pairs(as_viewer, drive)["results"]
    drive.centre_distance_mm = Decimal("480")
    drive.save()

    [pair] = pairs(as_viewer, drive)["results"]

    assert pair["centre_distance_mm"] == measured["centre_distance_mm"]


def test_only_the_length_that_fits_is_offered(as_viewer, drive):
    drive.centre_adjustment_min_mm = Decimal("0")
    drive.save()
    shelf(18), shelf(36)

    [pair] = pairs(as_viewer, drive)["results"]

    assert [(one["links"], one["keeps_chain"]) for one in pair["lengths"]] == [(102, False)]
    assert pair["further"][0]["code"] == "pair_needs_other_chain"


def test_another_ratio_within_the_tolerance_gives_the_speed_as_a_figure(as_viewer, drive):
    drive.ratio_tolerance_percent = Decimal("3")
    drive.save()
    shelf(18), shelf(37)

    [pair] = pairs(as_viewer, drive)["results"]

    # 18 to 37 instead of 17 to 34: 2 x 18 / 37 - 1 = -2.703 %, and 500 x 18 / 37 = 243.243 rev/min.
    assert pair["ratio_change_percent"] == pytest.approx(-2.703, abs=0.001)
    assert pair["driven_speed_rpm"] == pytest.approx(243.243, abs=0.001)


@pytest.mark.parametrize(
    ("chain", "teeth", "offered"),
    [("08A", (16, 32), False), ("08A", (18, 36), True), ("08B", (16, 32), True)],
)
def test_a_pair_is_refused_only_where_it_makes_an_overload_worse(as_viewer, drive, chain, teeth, offered):
    # The rating of 08B is taken over from the A series: it refuses nothing by itself.
    drive.power_kw, drive.chain_designation = Decimal("20"), chain
    drive.save()
    for each in teeth:
        shelf(each, chain_designation=chain)

    results = pairs(as_viewer, drive)["results"]

    assert bool(results) is offered
    for pair in results:
        [rating] = [row for row in pair["driver_verdict"]["checks"] if row["aspect"] == "rating"]
        assert (rating["outcome"], rating["code"]) == ("review", "rating_overloaded")


def test_a_ratio_outside_the_tolerance_is_no_pair(as_viewer, drive):
    shelf(18)
    shelf(34, quantity=1)

    assert pairs(as_viewer, drive)["results"] == []


def test_what_cannot_be_taken_up_is_no_pair(as_viewer, drive):
    drive.centre_adjustment_min_mm, drive.centre_adjustment_max_mm = Decimal("-2"), Decimal("2")
    drive.save()
    shelf(18)
    shelf(36)

    answer = pairs(as_viewer, drive)

    assert answer["results"] == []
    assert answer["notes"] == [
        {
            "code": "no_pair_keeps_the_ratio",
            "values": {},
            "explanation": "No two sprockets in stock keep the ratio of this drive.",
        }
    ]


def test_a_sprocket_that_does_not_run_with_the_chain_is_in_no_pair(as_viewer, drive):
    shelf(18, chain_designation="08A")
    shelf(36)

    assert pairs(as_viewer, drive)["results"] == []


def test_a_lifting_drive_gets_no_pair(as_viewer, drive):
    drive.lifting = True
    drive.save()
    shelf(18)
    shelf(36)

    answer = pairs(as_viewer, drive)

    assert answer["results"] == []
    assert [note["code"] for note in answer["notes"]] == ["lifting_drive_takes_no_pair"]
    assert "lifts" in answer["notes"][0]["explanation"]


def test_a_drive_with_half_its_data_says_what_is_missing(as_viewer, drive):
    drive.links = drive.centre_distance_mm = None
    drive.save()

    assert [note["code"] for note in pairs(as_viewer, drive)["notes"]] == ["pair_needs_teeth_and_length"]


def test_the_number_of_queries_does_not_depend_on_the_shelves(
    as_viewer, drive, django_assert_num_queries, django_assert_max_num_queries
):
    shelf(18)
    with django_assert_max_num_queries(7) as few:
        pairs(as_viewer, drive)
    for teeth in (16, 18, 19, 20, 32, 36, 38, 40):
        shelf(teeth)

    with django_assert_num_queries(len(few.captured_queries)):
        pairs(as_viewer, drive)


def test_a_sprocket_that_is_left_out_at_both_ends_is_counted_once(as_viewer, drive):
    # 20 teeth drive 40, or are driven by 10; of each count six are combined.
    drive.centre_adjustment_min_mm = drive.centre_adjustment_max_mm = None
    drive.save()
    for _ in range(8):
        shelf(20)

    assert pairs(as_viewer, drive)["left_out"] == 2


def test_the_take_up_of_a_pair_of_counts_is_worked_out_only_while_one_of_them_is_open(
    as_viewer, drive, monkeypatch
):
    taken_up = []
    monkeypatch.setattr(pair_counts, "_is_taken_up", lambda *asked: not taken_up.append(asked[-1]))
    drive.ratio_tolerance_percent = Decimal("5")
    drive.save()

    pairs(as_viewer, drive)

    ends = [{counts[end] for counts in taken_up} for end in (0, 1)]
    assert len(set(taken_up)) == len(taken_up) <= len(ends[0]) + len(ends[1])


def test_a_drive_that_does_not_exist_is_not_there(as_viewer):
    assert as_viewer.get("/api/v1/drives/NOWHERE/substitute-pairs/").status_code == 404


def test_strangers_stay_out(as_stranger, drive):
    assert as_stranger.get(f"/api/v1/drives/{drive.tag}/substitute-pairs/").status_code == 401


def bushed(teeth, size):
    item = ItemFactory(specification=BushedSprocketFactory(teeth=teeth, bush_size=size))
    stock(item, StoreroomFactory(), 1)
    return item


def test_one_bush_is_not_counted_for_both_sprockets(as_viewer, drive):
    bushed(18, "1610")
    bushed(36, "1610")
    bush = BushItemFactory()
    stock(bush, StoreroomFactory(), 1)
    with_one = pairs(as_viewer, drive)["results"]
    stock(bush, StoreroomFactory(), 1)
    with_two = pairs(as_viewer, drive)["results"]

    assert with_one == []
    assert len(with_two) == 1


def test_a_bush_that_slips_under_the_duty_is_in_no_pair(as_viewer, drive):
    # 0.19 kW x 1.4 at 50 rpm is 51 Nm at the driver and 152 Nm at three times its teeth; a 1108 bush carries 147 Nm.
    drive.power_kw, drive.driver_speed_rpm, drive.links, drive.centre_distance_mm = (
        Decimal("0.19"),
        50,
        114,
        500,
    )
    drive.save()
    drive.positions.filter(role="driven").update(teeth=51)
    shelf(18)
    bushed(54, "1108")
    stock(BushItemFactory(specification=BushFactory(bush_size="1108")), StoreroomFactory(), 1)
    held = pairs(as_viewer, drive)["results"]
    drive.power_kw = Decimal("0.15")
    drive.save()

    assert held == []
    assert len(pairs(as_viewer, drive)["results"]) == 1


def test_the_work_of_a_pair_takes_the_minutes_that_the_plant_recorded(as_viewer, drive):
    ShopTimeFactory(operation="bore", minutes=77)
    stock(ItemFactory(specification=PilotBoredFactory(teeth=18)), StoreroomFactory(), 1)
    shelf(36)

    [pair] = pairs(as_viewer, drive)["results"]

    assert pair["driver_verdict"]["work"][0]["minutes"] == 77
