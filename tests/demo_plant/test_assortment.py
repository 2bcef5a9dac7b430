"""The stories of the assortment: one wheel for two others, a spare of a machine that has gone, a donor, an insurance spare."""

import csv
from pathlib import Path

import pytest

from api.answers.assortment import calculate_orphans, calculate_variety
from drives.assortment.orphans import OrphansAndHoles
from drives.assortment.variety import Variety

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("demo_plant")]
STORIES = Path(__file__).resolve().parents[2] / "fixtures" / "stories.csv"


@pytest.fixture(scope="module")
def told() -> dict[str, dict[str, str]]:
    with STORIES.open(encoding="utf-8", newline="") as file:
        return {row["story"]: row for row in csv.DictReader(file)}


@pytest.fixture(scope="package")
def variety(demo_plant: None) -> Variety:
    return calculate_variety("with_work")


@pytest.fixture(scope="package")
def orphans(demo_plant: None) -> OrphansAndHoles:
    return calculate_orphans()


def test_one_wheel_with_another_bush_serves_what_two_serve(variety: Variety, told: dict) -> None:
    row = told["few_for_many"]
    (group,) = [one for one in variety.groups if row["tag"] in one.tags]
    assert [one.stock_number for one in group.keep] == [row["stock_number"]]
    assert {one.stock_number for one in group.leave} == {"42-0385", "42-0495"}
    assert (group.worst_grade, group.most_minutes) == ("with_work", 25)
    assert all(one.stock_number in row["what_to_see"] for one in group.leave)
    assert group.value_after < group.value_today


def test_no_cheaper_cover_of_the_plant_exists(variety: Variety) -> None:
    assert variety.leave > 30
    assert variety.gap == 0.0
    assert variety.lower_bound == variety.cost < variety.cost_today


def test_the_spare_of_the_machine_that_has_gone_is_an_orphan(orphans: OrphansAndHoles, told: dict) -> None:
    number = told["spare_of_a_machine_that_has_gone"]["stock_number"]
    assert [one.advice for one in orphans.orphans if one.stock_number == number] == ["run_down"]


def test_the_insurance_spare_is_kept(orphans: OrphansAndHoles, told: dict) -> None:
    row = told["never_failed_and_vital"]
    (line,) = [one for one in orphans.insurance if one.stock_number == row["stock_number"]]
    assert (line.advice, line.positions) == ("keep", (row["tag"],))
    assert row["stock_number"] not in {one.stock_number for one in orphans.orphans}


def test_the_donor_stands_on_a_standby_machine(orphans: OrphansAndHoles, told: dict) -> None:
    row = told["donor_as_last_resort"]
    (hole,) = [one for one in orphans.holes if one.position == row["tag"]]
    assert [(one.item, one.position, one.is_standby) for one in hole.donors] == [
        (row["stock_number"], "LW-DSP-PO12-D1-DVN", True)
    ]
