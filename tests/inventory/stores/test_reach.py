import pytest

from inventory.models import Storeroom
from inventory.stores.reach import StoreroomReach, storeroom_reach
from tests import factories as make


@pytest.mark.django_db
def test_a_storeroom_that_is_closed_longer_is_further_away(django_assert_num_queries):
    """The cabinet is shut for half of each day, 6 hours squared over 2 each time, without a call-out: 3 hours on average."""
    make.TransferTimeFactory(minutes=6)
    main, cabinet = Storeroom.objects.order_by("code")
    Storeroom.objects.filter(pk=cabinet.pk).update(call_out_minutes=None)
    for day in range(7):
        make.OpeningHoursFactory(storeroom=main, weekday=day, opens="00:00", closes="00:00")
        make.OpeningHoursFactory(storeroom=cabinet, weekday=day, opens="06:00", closes="18:00")
    make.TransferTimeFactory(from_storeroom=cabinet, to_storeroom=main, minutes=9)
    rooms = list(Storeroom.objects.all())
    with django_assert_num_queries(2):
        reach = storeroom_reach(rooms)
    assert reach.minutes == {(main.pk, cabinet.pk): 6, (cabinet.pk, main.pk): 9}
    assert reach.fetching_hours[main.pk, cabinet.pk] == pytest.approx(0.1)
    assert reach.fetching_hours[cabinet.pk, main.pk] == pytest.approx(0.15 + 3.0)


def test_hours_that_nobody_recorded_add_nothing():
    assert StoreroomReach({(1, 2): 30}, {2: 5.0}).fetching_hours == {(1, 2): 0.5}
