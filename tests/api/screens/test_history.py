"""History of a drive: newest first, failures marked, chain wear against its limit."""

from datetime import timedelta
from decimal import Decimal

import pytest

from api.screens.history import history_of
from drives.models import Position
from drives.service_record import history
from tests import factories as make
from tests.drives.past_units import record_past

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def test_what_happened_at_a_drive_is_told_newest_first_with_wear_against_its_limit() -> None:
    place = make.PositionFactory(tag="K1-DRV", teeth=19)
    item = make.ItemFactory(stock_number="SPR-1")
    record_past(
        place, item=item, installed_at=make.MORNING, removed_at=make.MORNING + 9 * DAY, ended_by="failure"
    )
    history.install(place, item=item, installed_at=make.MORNING + 9 * DAY)
    history.record_inspection(place, at=make.MORNING + 20 * DAY, elongation_percent=Decimal("1.50"))
    found = history_of(place.drive, list(Position.objects.all()), make.MORNING + 30 * DAY)
    told = [(event.what, event.is_failure) for event in found.events]
    assert [words.split(":")[0] for words, _ in told] == ["inspected", "fitted", "came off", "fitted"]
    assert [is_failure for _, is_failure in told] == [False, False, True, False]
    (reading,) = found.readings
    assert found.limit is not None
    assert reading.share == pytest.approx(1.5 / found.limit, abs=0.01)
