"""How long units lasted, and how old those in service are."""

from decimal import Decimal

import pytest

from drives.lessons.unit_lives import take_ends_together, unit_lives
from tests.drives.demand.built_pools import life
from tests.drives.demand.demand_records import day, ran, sprocket
from tests.factories import DriveFactory, PositionFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def position():
    return PositionFactory(drive=DriveFactory(hours_per_year=4380))


def only(until=1000.0, **more):
    (life,) = unit_lives(day(until), **more)
    return life


def test_without_a_meter_hours_are_calendar_time_times_the_drives_hours_a_year_and_it_says_so(position):
    ran(position, sprocket(), 0, 100)
    # 100 days of 24 h, half of the 8,760 hours of a year.
    assert (only().hours, only().basis) == (1200.0, "calendar")


def test_hours_of_a_meter_win(position):
    ran(position, sprocket(), 0, 100, running_hours=Decimal("777.5"), age_basis="meter")
    assert (only().hours, only().basis) == (777.5, "meter")


def test_hours_given_without_a_basis_are_those_of_a_meter(position):
    ran(position, sprocket(), 0, 100, running_hours=Decimal("777.5"))
    assert only().basis == "meter"


def test_without_hours_per_year_none_are_given():
    ran(PositionFactory(drive=DriveFactory(hours_per_year=None)), sprocket(), 0, 100)
    assert (only().hours, only().basis) == (None, "")


def test_a_unit_in_service_ages_to_the_moment_asked_for(position):
    ran(position, sprocket(), 0)
    assert (only(100).hours, only(100).is_running, only(200).hours) == (1200.0, True, 2400.0)


def test_an_end_after_the_moment_is_not_known(position):
    ran(position, sprocket(), 0, 100, mechanism="wear", work_order="WO-1", running_hours=Decimal(9))
    life = only(50)
    assert (life.is_running, life.ended_by, life.mechanism, life.work_order) == (True, "", "", "")
    assert (life.hours, life.removed_at) == (600.0, None)


def test_a_unit_fitted_after_the_moment_is_not_seen(position):
    ran(position, sprocket(), 10)
    assert unit_lives(day(9)) == ()


def test_ages_may_be_for_a_later_moment_than_the_records(position):
    ran(position, sprocket(), 0, 90)
    life = only(100, known_until=day(80))
    assert (life.is_running, life.hours) == (True, 1200.0)


@pytest.mark.parametrize(
    ("ended_by", "mechanism", "is_observed", "is_worn_out"),
    [
        ("failure", "wear", True, True),
        ("failure", "fatigue", True, True),
        ("failure", "corrosion", True, True),
        ("failure", "overload", True, False),
        ("failure", "", True, False),
        ("limit_reached", "wear", True, True),
        ("limit_reached", "", True, True),
        ("limit_reached", "unknown", True, True),
        ("limit_reached", "misalignment", True, False),
        ("preventive", "wear", False, False),
        ("opportunity", "wear", False, False),
        ("unknown", "", False, False),
    ],
)
def test_its_end_and_mechanism_say_what_was_observed(position, ended_by, mechanism, is_observed, is_worn_out):
    ran(position, sprocket(), 0, 100, ended_by, mechanism=mechanism)
    assert (only().is_observed, only().is_worn_out) == (is_observed, is_worn_out)


def test_a_unit_for_a_limited_time_is_marked(position):
    ran(
        position, sprocket(), 0, temporary_until=day(30).date(), approved_by="Ines", inspect_by=day(20).date()
    )
    assert only().is_temporary


def test_one_query_is_enough_and_the_order_of_recording_makes_no_difference(
    position, django_assert_num_queries
):
    ran(position, sprocket(), 200)
    ran(position, sprocket(), 0, 100)
    ran(position, sprocket(), 100, 200)
    with django_assert_num_queries(1):
        found = unit_lives(day(300))
    assert [life.installed_at for life in found] == [day(0), day(100), day(200)]


def test_where_no_end_names_a_mechanism_all_ends_are_taken_together():
    unnamed = (life(1, 900.0, "failure", mechanism=""), life(1, 800.0, "failure", mechanism="unknown"))
    assert [one.is_worn_out for one in take_ends_together(unnamed)] == [True, True]


def test_one_end_that_names_its_mechanism_keeps_them_apart():
    lives = (life(1, 900.0, "failure", mechanism=""), life(1, 800.0, "failure", mechanism="overload"))
    assert [one.is_worn_out for one in take_ends_together(lives)] == [False, False]
