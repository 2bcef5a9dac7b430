from datetime import timedelta
from statistics import mean, stdev
from typing import Any

import pytest

from inventory.facts import fact
from inventory.models import Item, Storeroom
from inventory.stores.lead_times import LeadTime, LeadTimeBasis, emergency_hours, lead_times
from tests.factories import MORNING, ItemFactory, StoreroomFactory, SupplyOrderFactory

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
LATER = MORNING + 500 * DAY
DAYS = [19.5, 23.25, 30.0, 21.75]


@pytest.fixture
def item(db: None) -> Item:
    return ItemFactory(lead_time_days=14)


@pytest.fixture
def main(db: None) -> Storeroom:
    return StoreroomFactory()


def came(item: Item, room: Storeroom, days: float, start: int = 0, **more: Any) -> Any:
    ordered = MORNING + start * DAY
    values = {"status": "received", "received_quantity": 1, "received_at": ordered + days * DAY} | more
    return SupplyOrderFactory(item=item, storeroom=room, ordered_at=ordered, **values)


def asked(item: Item, room: Storeroom) -> LeadTime:
    found = lead_times(LATER).of(item.pk, room.pk)
    assert found is not None
    return found


def test_three_own_orders_give_mean_and_standard_deviation(item: Item, main: Storeroom) -> None:
    for n, days in enumerate(DAYS):
        came(item, main, days, start=n)
    found = asked(item, main)
    assert (found.basis, found.orders) == ("own", 4)
    assert found.mean_days == pytest.approx(mean(DAYS), rel=1e-12)
    assert found.sd_days == pytest.approx(stdev(DAYS), rel=1e-12)
    assert found.reasons == (fact("lead_time_from_orders_here", orders=4),)


def test_orders_here_count_before_orders_everywhere(item: Item, main: Storeroom) -> None:
    north = StoreroomFactory(code="NORTH")
    for days in (10, 10, 10):
        came(item, main, days)
    for days in (40, 40, 40):
        came(item, north, days)
    assert (asked(item, main).mean_days, asked(item, north).mean_days) == (10, 40)


def test_orders_everywhere_count_where_too_few_are_here(item: Item, main: Storeroom) -> None:
    north = StoreroomFactory(code="NORTH")
    came(item, main, 10)
    came(item, north, 20)
    came(item, north, 30)
    found = asked(item, main)
    assert (found.basis, found.orders, found.mean_days, found.sd_days) == ("own", 3, 20, 10)
    assert found.reasons == (fact("lead_time_from_orders_everywhere", orders=3, orders_here=1),)


def test_two_own_orders_leave_it_as_entered(item: Item, main: Storeroom) -> None:
    came(item, main, 20)
    came(item, main, 30)
    found = asked(item, main)
    assert (found.mean_days, found.sd_days, found.basis, found.orders) == (14, 0, "entered", 0)
    assert found.reasons == (fact("lead_time_entered", days=14, orders=2),)


def test_nothing_entered_is_borrowed_from_the_others_and_said_so(item: Item, main: Storeroom) -> None:
    unknown = ItemFactory(lead_time_days=None)
    came(unknown, main, 100)
    for days in (5, 7, 9):
        came(item, main, days)
    found = asked(unknown, main)
    assert (found.basis, found.orders, found.mean_days, found.sd_days) == ("borrowed", 3, 7, 2)
    assert found.reasons == (fact("lead_time_borrowed", orders=3),)


def test_where_nothing_is_known_nothing_is_said(item: Item, main: Storeroom) -> None:
    unknown = ItemFactory(lead_time_days=None)
    for days in (5, 7, 9):
        came(item, StoreroomFactory(code="NORTH"), days)
    assert lead_times(LATER).of(unknown.pk, main.pk) is None


@pytest.mark.parametrize(
    "other",
    [
        {"emergency": True},
        {"status": "cancelled"},
        {"status": "open", "quantity": 2},
        {"received_at": LATER + DAY},
        {"received_at": None},
    ],
)
def test_orders_that_were_not_received_regularly_are_left_out(
    item: Item, main: Storeroom, other: dict[str, Any]
) -> None:
    came(item, main, 20), came(item, main, 20), came(item, main, 3, **other)
    assert asked(item, main).basis == "entered"


def test_an_open_order_that_came_whole_counts(item: Item, main: Storeroom) -> None:
    for _ in range(3):
        came(item, main, 20, status="open")
    assert asked(item, main).basis == "own"


def test_the_sequence_of_the_records_changes_no_digit(main: Storeroom) -> None:
    days = [0.1, 1e3 / 3, 7.7, 365.2425, 1e-4, 23.456789]
    one, other = ItemFactory(), ItemFactory()
    for n, taken in enumerate(days):
        came(one, main, taken, start=n)
    for n, taken in reversed(list(enumerate(days))):
        came(other, main, taken, start=n)
    first, second = asked(one, main), asked(other, main)
    assert (first.mean_days, first.sd_days) == (second.mean_days, second.sd_days)


def test_orders_received_at_once_count_with_their_hours(item: Item, main: Storeroom) -> None:
    for days in (0, 0, 3):
        came(item, main, days)
    assert asked(item, main).mean_days == 1


def test_a_mean_of_nothing_is_taken_as_a_minute_and_said_so(item: Item, main: Storeroom) -> None:
    for _ in range(3):
        came(item, main, 0)
    found = asked(item, main)
    assert (found.mean_days, found.sd_days) == (1 / 1440, 0)
    assert found.reasons[1:] == (fact("lead_time_counted_as_a_minute"),)


def test_nineteen_of_twenty_deliveries_come_within_the_late_days() -> None:
    # Chi-squared with 8 degrees of freedom: 95 % lie below 15.507; mean 8, variance 16.
    varies = LeadTime(8.0, 4.0, LeadTimeBasis.OWN, 5)
    assert varies.late_days == pytest.approx(15.507, abs=5e-4)
    assert LeadTime(8.0, 0.0, LeadTimeBasis.ENTERED, 0).late_days == 8.0


def test_equal_lead_times_have_no_spread(item: Item, main: Storeroom) -> None:
    for _ in range(7):
        came(item, main, 0.1)
    assert asked(item, main).sd_days == 0


def test_lead_times_are_loaded_in_two_queries(
    item: Item, main: Storeroom, django_assert_num_queries: Any
) -> None:
    for _ in range(5):
        came(item, main, 5), came(ItemFactory(), main, 5)
    with django_assert_num_queries(2):
        found = lead_times(LATER)
        assert [found.of(one, main.pk) for one in (item.pk, item.pk + 1)]


def test_emergency_hours_are_the_middle_of_the_items_own(item: Item, main: Storeroom) -> None:
    for days in (1, 2, 9):
        came(item, main, days, emergency=True)
    came(ItemFactory(), main, 50, emergency=True)
    found = emergency_hours(LATER).of(item.pk, ordinary_days=98)
    assert found is not None
    assert (found.hours, found.orders, found.of_the_item) == (48, 3, True)
    assert found.reason == fact("emergency_orders_of_item", orders=3)


def test_emergency_hours_of_all_items_stand_in(
    item: Item, main: Storeroom, django_assert_num_queries: Any
) -> None:
    for days in (1, 2):
        came(ItemFactory(lead_time_days=14), main, days, emergency=True)
    came(item, main, 3)
    with django_assert_num_queries(1):
        found = emergency_hours(LATER).of(item.pk, ordinary_days=14)
    assert found is not None
    assert (found.hours, found.orders, found.of_the_item) == (36, 2, False)
    assert found.reason == fact("emergency_orders_of_all", orders=2)


def test_without_an_emergency_order_there_are_no_hours(item: Item, main: Storeroom) -> None:
    came(item, main, 3)
    came(item, main, 2, emergency=True, status="cancelled")
    assert emergency_hours(LATER).of(item.pk, ordinary_days=14) is None


@pytest.mark.parametrize("ordinary_days", [14.5, 98, None])
def test_what_is_made_to_order_borrows_no_emergency_hours(
    item: Item, main: Storeroom, ordinary_days: float | None
) -> None:
    came(ItemFactory(lead_time_days=14), main, 4, emergency=True)
    assert emergency_hours(LATER).of(item.pk, ordinary_days=ordinary_days) is None


def test_where_no_ordinary_time_is_entered_nothing_is_borrowed(item: Item, main: Storeroom) -> None:
    came(ItemFactory(lead_time_days=None), main, 4, emergency=True)
    assert emergency_hours(LATER).of(item.pk, ordinary_days=2) is None
