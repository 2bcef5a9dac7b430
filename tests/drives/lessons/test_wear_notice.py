from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from drives.lessons.wear_notice import wear_limit_days, wear_notices
from inventory.facts import fact
from inventory.stocking.demand_settings import SHIPPED
from tests.factories import DriveFactory, DrivenFactory, InspectionFactory, PositionFactory

pytestmark = pytest.mark.django_db
START = datetime(2025, 1, 1, 12, tzinfo=UTC)
NOW = datetime(2026, 11, 24, 12, tzinfo=UTC)


@pytest.fixture
def position():
    """8,760 hours a year and 51 teeth at most: a limit of 3 %."""
    position = PositionFactory(drive=DriveFactory(hours_per_year=8760))
    DrivenFactory(drive=position.drive)
    return position


def inspect(position, day, elongation, **more):
    InspectionFactory(
        position=position,
        at=START + timedelta(days=day),
        elongation_percent=Decimal(str(elongation)),
        **more,
    )


def of_code(notice, code):
    """The values of its reason with this code."""
    (found,) = [reason.values for reason in notice.reasons if reason.code == code]
    return found


def readings(notice):
    return notice.reasons[0].values["readings"]


def steady(position):
    """0.01 % a day, inspected every 50 days."""
    for day in (0, 50, 100):
        inspect(position, day, 0.2 + 0.01 * day)


def test_a_worked_example_by_hand(position):
    steady(position)
    notice = wear_notices(NOW)[position.pk]
    # 0.2 + 0.01 d reaches 3.0 on day 280; from 1.8 % to 3 % are 120 days, less 50 between two inspections.
    assert notice.limit_on == date(2025, 1, 1) + timedelta(days=280)
    assert notice.early_limit_on == notice.limit_on
    assert wear_limit_days(NOW) == {position.drive_id: notice.limit_on}
    assert notice.notice_days == 70
    slope, ahead = of_code(notice, "wear_slope_of_current_chain"), of_code(notice, "wear_limit_ahead")
    assert (slope["readings"], slope["slope_percent_per_1000_h"]) == (3, pytest.approx(0.01 / 24 * 1000))
    assert (ahead["limit_percent"], ahead["inspection_interval_days"]) == (3.0, pytest.approx(50))
    assert ahead["last_inspection_on"] == "2025-04-11"


def test_an_order_counts_back_from_a_day_whose_chance_is_named(position):
    for day, seen in ((0, 0.2), (50, 0.6), (100, 1.2)):
        inspect(position, day, seen)
    notice = wear_notices(NOW)[position.pk]
    # Three readings: the slope lies above all three between two of them with a chance of 1 in 6 (Kendall: 1 of 3! orders).
    assert notice.early_chance == pytest.approx(1 / 6)
    # The steepest is 0.012 % a day, from 0.0 by the median of the residuals: 3.0 on day 250.
    assert notice.early_limit_on == date(2025, 1, 1) + timedelta(days=250)
    assert notice.early_limit_on < notice.limit_on
    assert notice.order_by(30, planning_days=7) == notice.early_limit_on - timedelta(days=37)
    assert notice.order_by(30.2, planning_days=7) == notice.early_limit_on - timedelta(days=38)
    told = of_code(notice, "wear_limit_chance")
    assert (told["chance"], told["early_limit_on"]) == (
        notice.early_chance,
        notice.early_limit_on.isoformat(),
    )


def test_later_inspections_are_not_seen(position):
    steady(position)
    inspect(position, 150, 2.9)
    then = START + timedelta(days=120)
    assert readings(wear_notices(then)[position.pk]) == 3
    assert wear_notices(START - timedelta(days=1)) == {}


def test_a_notice_holds_for_every_sprocket_that_the_chain_runs_over(position):
    steady(position)
    found = wear_notices(NOW)
    other = position.drive.positions.exclude(pk=position.pk).get()
    assert found[other.pk] == found[position.pk]


def test_hours_a_year_change_the_slope_in_hours_and_not_the_date(position):
    steady(position)
    day_and_night = wear_notices(NOW)[position.pk]
    type(position.drive).objects.update(hours_per_year=2000)
    notice = wear_notices(NOW)[position.pk]
    assert (notice.limit_on, notice.notice_days) == (day_and_night.limit_on, day_and_night.notice_days)
    slope = of_code(notice, "wear_slope_of_current_chain")
    assert slope["hours"] == fact("hours_by_calendar", hours_per_year=2000)


def test_unknown_hours_a_year_change_no_date(position):
    steady(position)
    type(position.drive).objects.update(hours_per_year=None)
    notice = wear_notices(NOW)[position.pk]
    assert notice.notice_days == 70
    assert of_code(notice, "wear_slope_of_current_chain")["hours"] == fact("hours_by_calendar_all_year")


def test_a_meter_is_used_before_the_calendar(position):
    for day, hours, seen in ((0, 0, 0.2), (50, 1000, 0.7), (90, 2000, 1.2)):
        inspect(position, day, seen, running_hours=hours)
    notice = wear_notices(NOW)[position.pk]
    # 0.0005 % an hour: 3,600 h more, at 2,000 h in 90 days.
    assert notice.limit_on == date(2025, 1, 1) + timedelta(days=90 + 162)
    assert of_code(notice, "wear_slope_of_current_chain")["hours"] == fact("hours_by_meter")


def test_a_meter_that_ran_backwards_is_not_used(position):
    for day, hours in ((0, 900), (50, 100), (100, 300)):
        inspect(position, day, 0.2 + 0.01 * day, running_hours=hours)
    notice = wear_notices(NOW)[position.pk]
    assert notice.notice_days == 70
    assert fact("meter_not_usable") in notice.reasons


def test_a_new_chain_borrows_the_slope_of_those_before(position):
    steady(position)
    inspect(position, 200, 0.1)
    notice = wear_notices(NOW)[position.pk]
    slope = of_code(notice, "wear_slope_of_all_chains")
    assert (slope["readings"], slope["chains"], slope["current_readings"]) == (3, 1, 1)
    assert notice.limit_on == date(2025, 1, 1) + timedelta(days=200 + 290)


def test_a_note_of_a_new_chain_counts_where_the_reading_is_small(position):
    inspect(position, 0, 0.1)
    inspect(position, 50, 0.2, note="New chain fitted")
    assert readings(wear_notices(NOW)[position.pk]) == 2
    inspect(position, 60, 1.9, note="new chain wanted")
    inspect(position, 70, 2.0)
    assert readings(wear_notices(NOW)[position.pk]) == 3


def test_a_plant_sets_up_to_which_reading_a_note_tells_of_a_new_chain(position):
    inspect(position, 0, 0.1)
    inspect(position, 50, 0.7, note="New chain fitted, a heavy one")
    inspect(position, 60, 0.8)
    inspect(position, 70, 0.9)
    assert readings(wear_notices(NOW)[position.pk]) == 4
    own = replace(SHIPPED, new_chain_percent=0.8)
    assert readings(wear_notices(NOW, own)[position.pk]) == 3


def test_fixed_centres_halve_the_limit(position):
    steady(position)
    type(position.drive).objects.update(fixed_centres=True)
    notice = wear_notices(NOW)[position.pk]
    assert of_code(notice, "wear_limit_ahead")["limit_percent"] == 1.5
    assert notice.notice_days == pytest.approx(10)


@pytest.mark.parametrize(
    ("seen", "code"),
    [([0.2, 0.7], "too_few_wear_readings"), ([0.5, 0.5, 0.5], "no_wear_growth")],
)
def test_without_a_prediction_it_says_why(position, seen, code):
    for place, value in enumerate(seen):
        inspect(position, 50 * place, value)
    notice = wear_notices(NOW)[position.pk]
    assert notice.notice_days is None
    assert notice.order_by(30, planning_days=7) is None
    assert notice.reasons[-1].code == code


def test_without_a_tooth_count_there_is_no_limit(position):
    steady(position)
    type(position).objects.update(teeth=None)
    assert wear_notices(NOW)[position.pk].reasons == (fact("wear_limit_not_known"),)


def test_a_limit_already_passed_is_named(position):
    steady(position)
    inspect(position, 150, 3.1)
    notice = wear_notices(NOW)[position.pk]
    assert notice.limit_on == date(2025, 1, 1) + timedelta(days=150)
    assert of_code(notice, "wear_limit_passed")["last_inspection_on"] == "2025-05-31"


def test_a_chain_that_hardly_grows_has_a_date_all_the_same(position):
    for day, seen in ((0, 0.1), (400, 0.1), (800, 0.11)):
        inspect(position, day, seen)
    notice = wear_notices(datetime(2030, 1, 1, tzinfo=UTC))[position.pk]
    assert notice.early_limit_on is None or notice.early_limit_on.year > 2100


def test_the_number_of_queries_does_not_depend_on_the_drives(position, django_assert_num_queries):
    steady(position)
    for _ in range(4):
        steady(PositionFactory(drive=DriveFactory()))
    with django_assert_num_queries(3):
        assert len(wear_notices(NOW)) == 6
