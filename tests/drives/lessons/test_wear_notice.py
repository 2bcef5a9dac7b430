from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from drives.lessons.wear_notice import wear_notices
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


def look(position, day, elongation, **more):
    InspectionFactory(
        position=position,
        at=START + timedelta(days=day),
        elongation_percent=Decimal(str(elongation)),
        **more,
    )


def steady(position):
    """0.01 % a day, looked at every 50 days."""
    for day in (0, 50, 100):
        look(position, day, 0.2 + 0.01 * day)


def test_a_worked_example_by_hand(position):
    steady(position)
    told = wear_notices(NOW)[position.pk]
    # 0.2 + 0.01 d reaches 3.0 on day 280; from 1.8 % to 3 % are 120 days, less 50 between two looks.
    assert told.limit_on == date(2025, 1, 1) + timedelta(days=280)
    assert told.limit_between == (told.limit_on, told.limit_on)
    assert told.notice_days == told.least_notice_days == 70
    assert (told.readings, told.limit_percent) == (3, 3.0)


def test_an_order_counts_back_from_the_earliest_date_over_lead_time_and_planning(position):
    for day, seen in ((0, 0.2), (50, 0.6), (100, 1.2)):
        look(position, day, seen)
    told = wear_notices(NOW)[position.pk]
    assert told.limit_between[0] < told.limit_on
    assert told.order_by(30, planning_days=7) == told.limit_between[0] - timedelta(days=37)


def test_later_looks_are_not_seen(position):
    steady(position)
    look(position, 150, 2.9)
    then = START + timedelta(days=120)
    assert wear_notices(then)[position.pk].readings == 3
    assert wear_notices(START - timedelta(days=1)) == {}


def test_the_chain_speaks_for_every_sprocket_that_it_runs_over(position):
    steady(position)
    found = wear_notices(NOW)
    other = position.drive.positions.exclude(pk=position.pk).get()
    assert found[other.pk].limit_on == found[position.pk].limit_on
    assert found[other.pk].position_id == other.pk


def test_hours_a_year_change_the_slope_in_hours_and_not_the_date(position):
    steady(position)
    day_and_night = wear_notices(NOW)[position.pk]
    type(position.drive).objects.update(hours_per_year=2000)
    told = wear_notices(NOW)[position.pk]
    assert (told.limit_on, told.notice_days) == (day_and_night.limit_on, day_and_night.notice_days)
    assert "at 2,000 hours a year" in told.basis


def test_unknown_hours_a_year_are_said_and_need_no_guess(position):
    steady(position)
    type(position.drive).objects.update(hours_per_year=None)
    told = wear_notices(NOW)[position.pk]
    assert told.notice_days == 70
    assert "yearly hours are not recorded" in told.basis


def test_a_meter_is_believed_before_the_calendar(position):
    for day, hours, seen in ((0, 0, 0.2), (50, 1000, 0.7), (90, 2000, 1.2)):
        look(position, day, seen, running_hours=hours)
    told = wear_notices(NOW)[position.pk]
    # 0.0005 % an hour: 3,600 h more, at 2,000 h in 90 days.
    assert told.limit_on == date(2025, 1, 1) + timedelta(days=90 + 162)
    assert "by the meter" in told.basis


def test_a_meter_that_ran_backwards_gives_way_to_the_calendar_and_says_so(position):
    for day, hours in ((0, 900), (50, 100), (100, 300)):
        look(position, day, 0.2 + 0.01 * day, running_hours=hours)
    told = wear_notices(NOW)[position.pk]
    assert told.notice_days == 70
    assert "the meter ran backwards" in told.basis


def test_a_new_chain_begins_anew_and_borrows_the_slope_of_those_before(position):
    steady(position)
    look(position, 200, 0.1)
    told = wear_notices(NOW)[position.pk]
    assert told.readings == 1
    assert told.limit_on == date(2025, 1, 1) + timedelta(days=200 + 290)
    assert "3 readings of 1 chain of this drive" in told.basis


def test_a_note_of_a_new_chain_counts_where_the_reading_is_that_of_one(position):
    look(position, 0, 0.1)
    look(position, 50, 0.2, note="New chain fitted")
    steady_from = wear_notices(NOW)[position.pk]
    look(position, 60, 1.9, note="new chain wanted")
    look(position, 70, 2.0)
    assert steady_from.readings == 1
    assert wear_notices(NOW)[position.pk].readings == 3


def test_fixed_centres_halve_the_limit(position):
    steady(position)
    type(position.drive).objects.update(fixed_centres=True)
    told = wear_notices(NOW)[position.pk]
    assert told.limit_percent == 1.5
    assert told.notice_days == pytest.approx(10)


@pytest.mark.parametrize(
    ("seen", "sentence"),
    [([0.2, 0.7], "a line needs 3"), ([0.5, 0.5, 0.5], "it does not grow")],
)
def test_what_foretells_nothing_says_why(position, seen, sentence):
    for place, value in enumerate(seen):
        look(position, 50 * place, value)
    told = wear_notices(NOW)[position.pk]
    assert told.notice_days is None
    assert told.order_by(30, planning_days=7) is None
    assert sentence in told.basis


def test_without_a_tooth_count_there_is_no_limit(position):
    steady(position)
    type(position).objects.update(teeth=None)
    assert "Without a tooth count" in wear_notices(NOW)[position.pk].basis


def test_a_limit_already_passed_is_said(position):
    steady(position)
    look(position, 150, 3.1)
    told = wear_notices(NOW)[position.pk]
    assert told.is_passed
    assert told.limit_on == date(2025, 1, 1) + timedelta(days=150)
    assert "limit passed" in told.basis


def test_a_chain_that_hardly_grows_has_a_date_all_the_same(position):
    for day, seen in ((0, 0.1), (400, 0.1), (800, 0.11)):
        look(position, day, seen)
    told = wear_notices(datetime(2030, 1, 1, tzinfo=UTC))[position.pk]
    assert told.limit_between is None or told.limit_between[0].year > 2100


def test_the_number_of_queries_does_not_depend_on_the_drives(position, django_assert_num_queries):
    steady(position)
    for _ in range(4):
        steady(PositionFactory(drive=DriveFactory()))
    with django_assert_num_queries(3):
        assert len(wear_notices(NOW)) == 6
