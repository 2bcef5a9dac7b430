from decimal import Decimal

import pytest

from tests.factories import (
    DriveFactory,
    DrivenFactory,
    ItemFactory,
    PositionFactory,
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
    assert answer["notes"] == ["No two sprockets on the shelves keep the ratio of this drive."]


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
    assert "lifts" in answer["notes"][0]


def test_a_drive_with_half_its_data_says_what_is_missing(as_viewer, drive):
    drive.links = drive.centre_distance_mm = None
    drive.save()

    assert "have to be recorded first" in pairs(as_viewer, drive)["notes"][0]


def test_the_number_of_queries_does_not_depend_on_the_shelves(
    as_viewer, drive, django_assert_num_queries, django_assert_max_num_queries
):
    shelf(18)
    with django_assert_max_num_queries(30) as few:
        pairs(as_viewer, drive)
    for teeth in (16, 18, 19, 20, 32, 36, 38, 40):
        shelf(teeth)

    with django_assert_num_queries(len(few.captured_queries)):
        pairs(as_viewer, drive)


def test_a_drive_that_does_not_exist_is_not_there(as_viewer):
    assert as_viewer.get("/api/v1/drives/NOWHERE/substitute-pairs/").status_code == 404


def test_strangers_stay_out(as_stranger, drive):
    assert as_stranger.get(f"/api/v1/drives/{drive.tag}/substitute-pairs/").status_code == 401
